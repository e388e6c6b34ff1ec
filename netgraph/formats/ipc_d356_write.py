# SPDX-License-Identifier: GPL-3.0-or-later
"""Write a board as an IPC-D-356A test point list, with aliases for long names [ipc-d356]."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from netgraph.errors import WriterError
from netgraph.formats.losses import OPENNESS, count_losses
from netgraph.model.board import Board, Pad

_NM_PER_COUNT = 1000
_MOST = 999_999
_PLAIN = re.compile(r"[!-~](?:[ -~]{0,12}[!-~])?", re.ASCII)
_TAKEN = re.compile(r"N/C|(?:NNAME)?[0-9]{4,6}", re.IGNORECASE)
"""What no net may be called in the records: no net at all, and our own aliases."""


def write_ipc_d356(board: Board, *, dropped: Counter[str] | None = None) -> str:
    """The pads and vias of a board as text; micrometres, y turned to run upwards.

    Kept: pads with copper, their net, place, size, drill, angle (whole degrees) and side; vias.
    Net names that are longer than 14 characters or hold other than plain signs get an alias; the
    records carry it as a whole word (``NNAME0001``), which most readers know.
    Designators are cut at 6 characters and pins at 4, as the columns are.

    Parameters
    ----------
    dropped
        Counts what is left out or cut, by kind: ``designator-cut``, ``pin-cut``,
        ``pad-without-copper``, ``pad-without-designator``, ``inner-pad``, and the kinds of
        ``losses`` that no test point list holds.

    Raises
    ------
    WriterError
        The board has no places, is larger than a metre, or two cut designators would put one pin
        on two nets.
    """
    if "has_positions" not in board.capabilities:
        raise WriterError("the board has no places, a test point list is made of them")
    counts: Counter[str] = Counter() if dropped is None else dropped
    return _Writer(board, counts).text()


class _Writer:
    def __init__(self, board: Board, counts: Counter[str]) -> None:
        self.board = board
        self.counts = counts
        self.layers = max(2, len(board.copper_layers))
        self.aliases: dict[str, str] = {}
        for net in board.nets:
            if not _PLAIN.fullmatch(net.name) or _TAKEN.fullmatch(net.name):
                self.aliases[net.name] = f"NNAME{len(self.aliases) + 1:04d}"
        self.seen: dict[tuple[str, str], tuple[str | None, str]] = {}

    def text(self) -> str:
        board = self.board
        count_losses(
            board, self.counts, "value", "package", "field", "pin-name", "pin-type", "net-class",
            "not-fitted-mark", "part-without-pads", "net-without-pad", *OPENNESS,
        )  # fmt: skip
        records = [*self._vias(), *self._pads()]
        lines = [
            "C  IPC-D-356A, lengths in 0.001 mm",
            "P  JOB   netgraph",
            "P  CODE  00",
            "P  UNITS CUST 1",
            "P  VER   IPC-D-356A",
            *(f"P  {alias} {name}" for name, alias in self.aliases.items()),
            *records,
            "999",
        ]
        for name in self.aliases:
            if name != name.strip() or not name.isprintable():
                raise WriterError(f"net {name!r} can't stand in a test point list")
        self.counts += Counter()
        return "\n".join(lines) + "\n"

    def _vias(self) -> Iterator[str]:
        vias = self.board.copper.vias
        names = [net.name for net in self.board.nets]
        for (x, y), size, drill, net in zip(
            vias.at.tolist(), vias.size.tolist(), vias.drill.tolist(), vias.net.tolist(),
            strict=True,
        ):  # fmt: skip
            name = names[net] if net >= 0 else None
            yield self._record("317", name, "VIA", "", "M", drill, True, 0, x, y, size, 0, 0.0)

    def _pads(self) -> Iterator[str]:
        for pad in self.board.pads:
            if pad.copper_side == "none" and pad.kind != "hole":
                self.counts["pad-without-copper"] += 1
                continue
            if pad.copper_side == "inner":
                self.counts["inner-pad"] += 1
                continue
            ref, pin = pad.ref[:6].strip(), pad.pin[:4].strip()
            if not ref and pad.net is None:
                self.counts["pad-without-designator"] += 1
                continue
            if not ref or ref in ("VIA", "THRU") or not (ref + pin).isascii():
                raise WriterError(
                    f"designator {pad.ref!r}, pin {pad.pin!r} can't stand in a test point list"
                )
            self.counts["designator-cut"] += ref != pad.ref
            self.counts["pin-cut"] += pin != pad.pin
            yield self._pad(pad, ref, pin)

    def _pad(self, pad: Pad, ref: str, pin: str) -> str:
        before = self.seen.setdefault((ref, pin), (pad.net, pad.part_id))
        if before[0] != pad.net and before[1] != pad.part_id and len(ref) < 6:
            raise WriterError(
                f"{pad.part_id} and {before[1]} would be one part in a test point list"
            )
        code = {"smd": "327", "edge": "327", "through": "317", "hole": "367"}[pad.kind]
        plated = pad.kind != "hole"
        access = 0
        if code == "327":
            access = self.layers if pad.copper_side == "bottom" else 1
        drill = pad.drill_nm if code != "327" else 0
        round_pad = pad.width_nm == pad.height_nm
        height = 0 if round_pad else pad.height_nm
        return self._record(
            code, pad.net, ref, pin, " ", drill, plated, access, pad.x_nm, pad.y_nm,
            pad.width_nm, height, pad.angle_deg,
        )  # fmt: skip

    def _record(
        self, code: str, net: str | None, ref: str, pin: str, middle: str, drill_nm: int,
        plated: bool, access: int, x_nm: int, y_nm: int, width_nm: int, height_nm: int,
        angle_deg: float,
    ) -> str:  # fmt: skip
        name = "N/C" if net is None else self.aliases.get(net, net)
        x, y = round(x_nm / _NM_PER_COUNT), -round(y_nm / _NM_PER_COUNT)
        if max(abs(x), abs(y)) > _MOST:
            raise WriterError("a place is beyond a metre, more than the columns hold")
        width, height, drill = (
            min(max(round(one / _NM_PER_COUNT), 1 if one else 0), 9999)
            for one in (width_nm, height_nm, drill_nm)
        )
        hole = f"D{drill:04d}{'P' if plated else 'U'}" if drill or code == "317" else " " * 6
        dash = "-" if pin or ref != "VIA" else " "
        return (
            f"{code}{name:<14}   {ref:<6}{dash}{pin:<4}{middle}{hole}A{access:02d}"
            f"X{x:+07d}Y{y:+07d}X{width:04d}Y{height:04d}R{round(angle_deg) % 360:03d} S0"
        )
