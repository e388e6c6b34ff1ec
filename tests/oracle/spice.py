# SPDX-License-Identifier: GPL-3.0-or-later
"""A circuit as a file for ngspice, and the volts that ngspice finds.

Junctions are written as Shockley's law itself (current sources of an expression, a resistor in
series), since ngspice's own diode replaces the law by a cubic below -3 n kT/q and has its own kT/q.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from netgraph.circuit.junction import FloatArray
from netgraph.circuit.network import Circuit
from netgraph.circuit.solve import Source

OPTIONS = ".options reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-20 itl1=2000 itl2=2000"


def ngspice() -> str:
    """The program's path; skips where it is not installed."""
    found = shutil.which("ngspice")
    if found is None:
        pytest.skip("ngspice is not installed (Debian package ngspice)")
    return found


def deck(
    circuit: Circuit,
    sources: Sequence[Source],
    *,
    own_diodes: bool = False,
    guess: FloatArray | None = None,
) -> str:
    """The circuit as text; node k is ``n<k>``.

    Parameters
    ----------
    own_diodes
        Use ngspice's diode; only where every junction conducts.
    guess
        Volts to begin with; ngspice iterates to its own tolerances from there.
    """

    def name(node: int) -> str:
        return "0" if node < 0 else f"n{node}"

    lines = ["netgraph", ".options temp=26.85 tnom=26.85", OPTIONS]
    for k, (a, b, g) in enumerate(
        zip(circuit.a.tolist(), circuit.b.tolist(), circuit.siemens.tolist(), strict=True)
    ):
        lines.append(f"R{k} {name(a)} {name(b)} {1 / g!r}")
    rows = zip(
        circuit.anode.tolist(),
        circuit.cathode.tolist(),
        circuit.saturation.tolist(),
        circuit.scale_volts.tolist(),
        circuit.emission.tolist(),
        circuit.series_ohm.tolist(),
        strict=True,
    )
    for k, (a, c, saturation, scale, emission, ohm) in enumerate(rows):
        if own_diodes:
            lines.append(f"D{k} {name(a)} {name(c)} M{k}")
            lines.append(f".model M{k} D(IS={saturation!r} N={emission!r} RS={ohm!r})")
            continue
        inner = name(a)
        if ohm > 0:
            inner = f"m{k}"
            lines.append(f"RS{k} {name(a)} {inner} {ohm!r}")
        left = "0" if inner == "0" else f"V({inner})"
        right = "0" if c < 0 else f"V({name(c)})"
        lines.append(
            f"B{k} {inner} {name(c)} I={saturation!r}*(exp(min(({left}-{right})/{scale!r},300))-1)"
        )
        if guess is not None and ohm > 0:
            drop = _at(guess, a) - _at(guess, c)
            from netgraph.circuit.junction import junction_current

            column = [np.array([one]) for one in (drop, saturation, scale, ohm)]
            amps, _ = junction_current(column[0], column[1], column[2], column[3])
            lines.append(f".nodeset V({inner})={_at(guess, a) - float(amps[0]) * ohm!r}")
    for k, one in enumerate(sources):
        lines.append(f"I{k} {name(one.b)} {name(one.a)} {one.amps!r}")
        if one.siemens > 0:
            lines.append(f"RG{k} {name(one.a)} {name(one.b)} {1 / one.siemens!r}")
    if guess is not None:
        lines += [f".nodeset V(n{k})={float(v)!r}" for k, v in enumerate(guess) if np.isfinite(v)]
    return "\n".join([*lines, ".op", ".end", ""])


def _at(volts: FloatArray, node: int) -> float:
    return 0.0 if node < 0 else float(volts[node])


CONTROL = """.control
set numdgt=15
op
print all
quit
.endc
"""


def solve_with_ngspice(
    circuit: Circuit,
    sources: Sequence[Source],
    folder: Path,
    *,
    own_diodes: bool = False,
    guess: FloatArray | None = None,
) -> FloatArray | None:
    """Volts of all nodes by ngspice, nan where it names none; None where it finds no point.

    At its tightest tolerances it gives up on some boards: nodes that hang on gigaohms rest in
    their ninth digit at best.
    """
    text = deck(circuit, sources, own_diodes=own_diodes, guess=guess)
    path = folder / "board.cir"
    path.write_text(text.replace(".op\n.end", CONTROL + ".end"), encoding="ascii")
    ran = subprocess.run(
        [ngspice(), "-b", str(path)], capture_output=True, text=True, timeout=300, cwd=folder
    )
    volts = read_volts(ran.stdout, len(circuit.nodes))
    if not np.isfinite(volts).any():
        said = ran.stdout + ran.stderr
        # Anything else than a point that it does not find is a fault of the deck.
        assert "op simulation(s) aborted" in said, said[-2000:]
        return None
    return volts


def read_volts(printed: str, count: int) -> FloatArray:
    """Volts of the nodes as ngspice prints them; nan where it names none."""
    volts = np.full(count, np.nan)
    for node, value in re.findall(r"^n(\d+) = (\S+)$", printed, re.MULTILINE):
        volts[int(node)] = float(value)
    return volts
