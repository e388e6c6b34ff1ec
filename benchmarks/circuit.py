# SPDX-License-Identifier: GPL-3.0-or-later
"""The circuit model on the largest real board: speed beside plain numpy and ngspice, and how right.

    python -m benchmarks.circuit
    python -m benchmarks.circuit --boards FOLDER --json

All times are processor time of this process, best of several runs; ngspice's is the wall time of
its own process, start included. Figures compare within one run on one machine.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import numpy as np  # noqa: E402 - the number of threads is read when numpy is loaded

from netgraph.assets import asset_path  # noqa: E402
from netgraph.circuit.batch import PortFault  # noqa: E402
from netgraph.circuit.cases import CaseReader, moved  # noqa: E402
from netgraph.circuit.draws import as_read, draw_scores, drawn_cases  # noqa: E402
from netgraph.circuit.elements import board_circuit  # noqa: E402
from netgraph.circuit.faults import parse_faults, place_faults, with_fault  # noqa: E402
from netgraph.circuit.instruments import (  # noqa: E402
    Instrument,
    apply,
    diode_mode,
    ohms_mode,
    supply,
    usb_meter,
)
from netgraph.circuit.lump import lump_circuit  # noqa: E402
from netgraph.circuit.network import GROUND, Circuit, Label  # noqa: E402
from netgraph.circuit.predict import predict_readings  # noqa: E402
from netgraph.circuit.questions import Question  # noqa: E402
from netgraph.circuit.solve import Source, System, slopes_at, solve_point  # noqa: E402
from netgraph.circuit.sweep import FaultSweep, LinearSweep  # noqa: E402
from netgraph.formats import read_board  # noqa: E402
from netgraph.model import Board  # noqa: E402
from netgraph.rails import find_rails  # noqa: E402
from netgraph.rails.tree import RailTree  # noqa: E402
from netgraph.roles import find_roles  # noqa: E402
from netgraph.roles.answer import Roles  # noqa: E402

FAULTS = 1000
FAULT = Label("", "fault", "fault", "")


def best(work: Callable[[], object], repeat: int = 7) -> float:
    """Least processor time of several runs, seconds."""
    times = []
    for _ in range(repeat):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


class Bench:
    """One board with its circuit."""

    def __init__(self, path: Path) -> None:
        self.board: Board = read_board(path)
        self.roles: Roles = find_roles(self.board)
        self.tree: RailTree = find_rails(self.board, self.roles)
        self.circuit: Circuit = board_circuit(self.board, self.roles, self.tree)
        self.rails = [node for rail in self.tree if (node := self.circuit.node(rail.net)) != GROUND]

    def random_faults(self, seed: int) -> PortFault:
        """Leaks between two rails or a rail and ground, 0.01 ohm to 1 Mohm."""
        random = np.random.default_rng(seed)
        a = random.choice(self.rails, FAULTS)
        b = random.choice([*self.rails, GROUND], FAULTS)
        b = np.where(a == b, GROUND, b)
        return PortFault(a, b, 10.0 ** random.uniform(-6, 2, FAULTS))

    def instruments(self) -> list[Instrument]:
        """Twenty readings: meter both ways and first injection at the rails with most pads."""
        by_pads = sorted(self.tree.rails, key=lambda rail: -len(self.board.pads_on_net(rail.net)))
        found: list[Instrument] = []
        for rail in by_pads:
            node = self.circuit.node(rail.net)
            found += [diode_mode(node), diode_mode(node, red="at"), ohms_mode(node)]
            found.append(supply(node, 0.3, 0.5))
        return found[:20]


def all_pairs(bench: Bench) -> dict[str, float]:
    """All net pairs, linear, beside bare numpy on systems of the same sizes."""
    circuit = bench.circuit
    entry = max(bench.tree.rails, key=lambda rail: len(bench.board.pads_on_net(rail.net))).net
    node = circuit.node(entry)
    point = solve_point(circuit, [Source(node, GROUND, 0.3 / 0.12, 1 / 0.12)])
    nodes = len(circuit.nodes)
    observe = bench.rails[-1]

    def ours() -> None:
        LinearSweep(point).all_pairs(1.0, observe)

    system = System(circuit, point.sources)
    dense = system.matrix(slopes_at(point)).toarray()
    pairs = nodes * (nodes - 1) // 2
    ports = np.random.default_rng(0).random((pairs, 2, 2)) + 2 * np.eye(2)
    right = np.ones((pairs, 2, 1))

    def numpy_inverse() -> None:
        np.linalg.solve(dense, np.eye(len(dense)))

    def numpy_ports() -> None:
        np.linalg.solve(ports, right)

    sweep = LinearSweep(point)
    random = np.random.default_rng(1)
    live = system.live
    worst = 0.0
    found = sweep.all_pairs(1.0, observe)
    linear = _linear(circuit, slopes_at(point))
    for _ in range(60):
        a, b = (int(one) for one in random.choice(live, 2, replace=False))
        alone = solve_point(linear.with_branches([(a, b, 1.0, FAULT)]), _norton(point))
        worst = max(worst, abs(float(found[a, b]) - alone.at(observe)))
    own = best(ours)
    return {
        "nets": nodes,
        "pairs": pairs,
        "ms": 1e3 * own,
        "numpy_inverse_ms": 1e3 * best(numpy_inverse),
        "numpy_pairs_2x2_ms": 1e3 * best(numpy_ports, 3),
        "worst_volts_against_refactoring": worst,
    }


def _linear(circuit: Circuit, slopes: np.ndarray) -> Circuit:
    """The circuit with its junctions as resistances of the slope at the sound point."""
    rows = [
        (int(a), int(b), float(1 / g), FAULT)
        for a, b, g in zip(circuit.anode, circuit.cathode, slopes, strict=True)
        if g > 1e-15
    ]
    return circuit._of_rows(list(range(len(circuit.a))), []).with_branches(rows)


def _norton(point: object) -> list[Source]:
    from netgraph.circuit.junction import junction_current
    from netgraph.circuit.solve import OperatingPoint

    assert isinstance(point, OperatingPoint)
    circuit = point.circuit
    at = np.nan_to_num(point.junction_volts)
    amps, slope = junction_current(at, circuit.saturation, circuit.scale_volts, circuit.series_ohm)
    rest = amps - slope * at
    sources = list(point.sources)
    islands = {name for island in circuit.islands for name in island}
    for a, b, one in zip(circuit.anode.tolist(), circuit.cathode.tolist(), rest, strict=True):
        if not any(k >= 0 and circuit.nodes[k] in islands for k in (a, b)):
            sources.append(Source(b, a, float(one)))
    return sources


def diode_sweep(bench: Bench) -> dict[str, float]:
    """A thousand faults under twenty readings, junctions followed."""
    per, prepare, unsettled = [], [], 0
    for number, instrument in enumerate(bench.instruments()):
        touched = [*bench.rails]
        begin = time.process_time()
        sweep = FaultSweep(bench.circuit, instrument, touched)
        prepare.append(time.process_time() - begin)
        faults = bench.random_faults(number)
        sweep.read([faults])
        per.append(best(lambda s=sweep, f=faults: s.read([f]), 3) / FAULTS)  # type: ignore[misc]
        unsettled += int(np.isnan(sweep.read([faults]).values).sum())
    return {
        "readings": len(per),
        "faults": FAULTS,
        "us_per_fault_and_reading": 1e6 * float(np.mean(per)),
        "us_worst_reading": 1e6 * max(per),
        "ms_prepare_a_reading": 1e3 * float(np.mean(prepare)),
        "without_answer": unsettled,
    }


def single_point(bench: Bench) -> dict[str, float]:
    """One sound operating point from cold; ngspice on the same circuit beside it."""
    times, theirs, apart = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for instrument in bench.instruments():
            found = apply(bench.circuit, [instrument])
            sources = list(found.point.sources)
            times.append(best(lambda s=sources: solve_point(bench.circuit, s), 5))  # type: ignore[misc]
            seconds, volts = _ngspice(bench.circuit, sources, Path(folder))
            if volts is not None:
                theirs.append(seconds)
                ours = found.point.volts
                seen = np.isfinite(ours) & np.isfinite(volts)
                size = np.maximum(np.abs(ours[seen]), 1e-3)
                apart.append(float((np.abs(ours - volts)[seen] / size).max()))
    return {
        "ms_mean": 1e3 * float(np.mean(times)),
        "ms_worst": 1e3 * max(times),
        "ngspice_ms_median": 1e3 * float(np.median(theirs)) if theirs else float("nan"),
        "ngspice_points": len(theirs),
        "points": len(times),
        "worst_difference_of_volts_or_1mV": max(apart, default=float("nan")),
    }


def _ngspice(
    circuit: Circuit, sources: list[Source], folder: Path
) -> tuple[float, np.ndarray | None]:
    """Wall seconds and volts; None where ngspice is missing or finds no point."""
    program = shutil.which("ngspice")
    if program is None:
        return float("nan"), None
    from tests.oracle.spice import CONTROL, deck, read_volts

    path = folder / "board.cir"
    path.write_text(deck(circuit, sources).replace(".op\n.end", CONTROL + ".end"), "ascii")
    begin = time.perf_counter()
    try:
        ran = subprocess.run(
            [program, "-b", str(path)],
            capture_output=True,
            text=True,
            timeout=60,
            cwd=folder,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return float("nan"), None
    seconds = time.perf_counter() - begin
    volts = read_volts(ran.stdout, len(circuit.nodes))
    return seconds, volts if np.isfinite(volts).any() else None


def reduction(bench: Bench) -> dict[str, float]:
    """How far the joined circuit's volts lie from the full one's, over faults and readings."""
    worst, nodes = 0.0, 0
    for number, instrument in enumerate(bench.instruments()):
        keep = [*bench.rails, instrument.a, instrument.b]
        lumped = lump_circuit(bench.circuit, keep)
        nodes = len(lumped.circuit.nodes)
        faults = bench.random_faults(number)
        for k in range(5):
            a, b = int(faults.a[k]), int(faults.b[k])
            ohm = 1 / float(faults.siemens[k])
            full = apply(bench.circuit.with_branches([(a, b, ohm, FAULT)]), [instrument])
            classes = np.append(lumped.class_of, -1)
            row = (int(classes[a]), int(classes[b]), ohm, FAULT)
            small = apply(lumped.circuit.with_branches([row]), [moved(instrument, lumped)])
            apart = np.abs(lumped.spread(small.point.volts) - full.point.volts)
            worst = max(worst, float(np.nanmax(apart)))
    return {"nodes": len(bench.circuit.nodes), "joined_nodes": nodes, "worst_volts": worst}


STUDY = {
    "sample": ["", "leak VSYS GND 12R", "leak 3V3 GND 800R", "part U4 VSYS 0.5R"],
    "teres_main_c": ["leak IPS GND 11R", "leak +3V3 GND 1R", "leak +1.5V +3V3 4k7"],
    "orangecrab_r021": ["", "leak P3.3V GND 50R"],
}


def intervals(folder: Path, boards: int = 2000) -> dict[str, float]:
    """Share of newly drawn boards whose readings lie in the 90 % intervals, without reduction."""
    shares, sure = [], 0
    for name, faults in STUDY.items():
        sample = asset_path("sample_boards/lark/lark.kicad_pcb")
        bench = Bench(sample if name == "sample" else folder / name / "board.kicad_pcb")
        for number, text in enumerate(faults):
            fault = parse_faults(text) if text else ()
            found = predict_readings(
                bench.board,
                bench.roles,
                bench.tree,
                fault,
                random=np.random.default_rng(100 + number),
            )
            grounds = frozenset(k for k, node in bench.circuit.node_of.items() if node == GROUND)
            placed = place_faults(fault, bench.board, bench.roles, grounds)
            circuit = with_fault(bench.circuit, placed)
            random = np.random.default_rng(number)
            for one in found.readings:
                instrument = _of(circuit, one.question)
                cases = drawn_cases(circuit, draw_scores(circuit, boards, random))
                values = as_read(
                    CaseReader(circuit, instrument).read(cases).values, instrument, random
                )
                if one.fault.low is None:
                    sure += 1
                    continue
                high = np.inf if one.fault.high is None else one.fault.high
                shares.append(float(((values >= one.fault.low) & (values <= high)).mean()))
    return {
        "readings": len(shares),
        "always_over_range": sure,
        "mean_share": float(np.mean(shares)),
        "least_share": min(shares),
        "largest_share": max(shares),
        "readings_within_87_to_93": sum(0.87 <= one <= 0.93 for one in shares),
    }


def _of(circuit: Circuit, one: Question) -> Instrument:
    node = circuit.node(one.at)
    if one.kind == "ohms":
        return ohms_mode(node, GROUND if one.to is None else circuit.node(one.to))
    if one.kind == "diode":
        return diode_mode(node, red=one.red)
    if one.usb:
        return usb_meter(node, volts=one.volts or 0.0, limit_amps=one.limit_amps or 0.0)
    return supply(node, one.volts or 0.0, one.limit_amps or 0.0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--boards", default=os.environ.get("NETGRAPH_BOARDS"))
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    root = Path(__file__).resolve().parent.parent
    folder = Path(given.boards) if given.boards else root.parent / "shared" / "boards"
    bench = Bench(folder / "teres_main_c" / "board.kicad_pcb")
    found = {
        "all net pairs, linear": all_pairs(bench),
        "faults with junctions": diode_sweep(bench),
        "one operating point": single_point(bench),
        "joined nodes": reduction(bench),
        "intervals": intervals(folder),
    }
    if given.json:
        print(json.dumps(found, indent=1))
        return
    for title, rows in found.items():
        print(title)
        for key, value in rows.items():
            print(f"  {key:36} {value:.6g}")


if __name__ == "__main__":
    main()
