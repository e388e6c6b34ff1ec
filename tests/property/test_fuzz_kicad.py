# SPDX-License-Identifier: GPL-3.0-or-later
"""Damaged and hostile files: a board or a ``BoardFileError``, nothing else, in bounded room.

Mutations are made of a small file and of real boards; the hostile set runs in a child process
with limits on memory and processor time set by the system.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netgraph.errors import BoardFileError
from netgraph.formats.kicad_board import read_kicad_board
from netgraph.formats.kicad_pads import PadReader
from netgraph.formats.kicad_write import write_kicad_board
from netgraph.model import Board
from tests.property.board_strategies import boards

NASTY = [
    b"(", b")", b'"', b"\\", b"\0", b"#", b"\n#", b"\xff", b"\xc3", b"\xef\xbb\xbf", b"nan",
    b"inf", b"1e999", b"-", b"1_0", b"9" * 400, b"()", b'""', b"((", b"(pad", b"(net 1)", b"(at)",
    b"(footprint)", b"(zone)", b"(via)", b"(segment)", b"(layers)", b"(pts)", b"(xy)", b"(arc)",
    b"(version 4)", b"(gr_arc)", b"(primitives ())", b"(property)", b"(attr)", b"(tags)",
    b"(layer)", b"(net_class)", b"(stackup (layer))", b"(filled_polygon)", b"(polygon)",
    b"(priority x)", b"(net_tie_pad_groups)", b"(jumper_pad_groups (()))", b"(general)",
]  # fmt: skip

REAL = ("pocketbeagle", "scalenode", "pico_ice_r2", "glasgow_c3", "hackrf_marzipan")


def try_to_read(data: bytes) -> Board | None:
    """The board with its copper, or None for a proper error; any other exception passes."""
    try:
        board = read_kicad_board(data)
        _ = board.copper
        _ = board.fingerprint
        _ = board.graph
    except BoardFileError as error:
        fault = error
    else:
        return board
    assert "\n" not in fault.one_line()
    assert fault.line is None or fault.line >= 1
    return None


@cache
def bytes_of(path: Path) -> bytes:
    return path.read_bytes()


@st.composite
def mutations(draw: st.DrawFn) -> list[tuple[str, float, bytes]]:
    kinds = st.sampled_from(["cut", "flip", "insert", "line", "copy", "swap"])
    one = st.tuples(kinds, st.floats(0, 1, exclude_max=True), st.sampled_from(NASTY))
    return draw(st.lists(one, min_size=1, max_size=4))


def mutated(data: bytes, steps: list[tuple[str, float, bytes]]) -> bytes:
    for kind, where, piece in steps:
        at = int(len(data) * where)
        if kind == "cut":
            data = data[:at]
        elif kind == "flip":
            data = data[:at] + bytes([(data[at] if at < len(data) else 0) ^ 0x11]) + data[at + 1 :]
        elif kind == "insert":
            data = data[:at] + piece + data[at:]
        elif kind == "swap":
            end = at
            while end < len(data) and data[end : end + 1] not in b" ()\n":
                end += 1
            data = data[:at] + piece + data[end:]
        else:
            begin, end = data.rfind(b"\n", 0, at) + 1, data.find(b"\n", at) + 1 or len(data)
            data = data[:end] + data[begin:] if kind == "copy" else data[:begin] + data[end:]
    return data


@settings(max_examples=300)
@given(boards(), mutations())
def test_a_damaged_small_file_is_read_or_refused(
    board: Board, steps: list[tuple[str, float, bytes]]
) -> None:
    try_to_read(mutated(write_kicad_board(board).encode(), steps))


@pytest.mark.parametrize("name", REAL)
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=mutations())
def test_a_damaged_real_file_is_read_or_refused(
    boards_dir: Path, name: str, steps: list[tuple[str, float, bytes]]
) -> None:
    data = bytes_of(boards_dir / name / "board.kicad_pcb")
    try_to_read(mutated(data, steps))


@pytest.mark.parametrize("name", REAL)
def test_a_real_file_that_was_cut_is_refused(boards_dir: Path, name: str) -> None:
    """Twenty cuts: a cut file is always refused, never a board with a part less."""
    data = bytes_of(boards_dir / name / "board.kicad_pcb").rstrip()
    for cut in random.Random(name).sample(range(1, len(data)), 20):
        assert try_to_read(data[:cut]) is None


@pytest.mark.parametrize("name", REAL)
def test_the_quick_pattern_and_the_slow_way_read_the_same_pads(
    boards_dir: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    data = bytes_of(boards_dir / name / "board.kicad_pcb")
    quick = read_kicad_board(data)
    monkeypatch.setattr(PadReader, "_usual", lambda *_: None)
    assert read_kicad_board(data).pads == quick.pads


@given(boards(), mutations())
def test_both_ways_give_the_same_board_or_the_same_fault(
    board: Board, steps: list[tuple[str, float, bytes]]
) -> None:
    data = mutated(write_kicad_board(board).encode(), steps)

    def outcome() -> object:
        try:
            found = read_kicad_board(data)
        except BoardFileError as error:
            return error.one_line()
        return found.parts, found.nets, found.pads, found.warnings

    quick = outcome()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(PadReader, "_usual", lambda *_: None)
        assert outcome() == quick


HEAD = (
    b'(kicad_pcb (version 20211014) (layers (0 F.Cu signal) (31 B.Cu signal)) (net 0 "") (net 1 A)'
)
PART = b"(footprint X (layer F.Cu) (at 0 0) (fp_text reference R1 (at 0 0)) "
PAD = b"(pad 1 smd rect (at 0 0) (size 1 1) (layers F.Cu) (net 1 A))"
M = 1 << 20

HOSTILE = {
    "a million open brackets": b"HEAD + b'(' * 10**6",
    "ten million brackets": b"b'(kicad_pcb ' + b'()' * 10**7 + b')'",
    "a name of 5 MB": b"HEAD.replace(b'net 1 A', b'net 1 ' + b'A' * 5 * M) + PART + PAD + b'))'",
    "a string of 30 MB": b"HEAD + b'(x \"' + b'(' * 30 * M + b'\") ' + PART + PAD + b'))'",
    "escapes": b"HEAD + b'(x \"' + b'\\\\\"' * 10 * M + b'\") ' + PART + PAD + b'))'",
    "comment lines in a string": b"HEAD + b'(x \"' + b'\\n#' * M + b'\") ' + PART + PAD + b'))'",
    "comment lines": b"HEAD + b'\\n# (\"' * M + b'\\n' + PART + PAD + b'))'",
    "stray quotes": b"HEAD + b'(x a\"b) ' * (M // 2) + PART + PAD + b'))'",
    "one footprint, many pads": b"HEAD + PART + PAD * 50000 + b'))'",
    "pads on two nets": b"HEAD + PART + PAD.replace(b'net 1 A', b'net B') * 50000 + PAD + b'))'",
    "many fields": b"HEAD + PART + b'(property a b)' * M + PAD + b'))'",
    "a zone of many points": b"HEAD + PART + PAD + b')(zone (net 1) (layer F.Cu) (polygon (pts ' + "
    b"b'(xy 1 1)' * M + b'))))'",
    "a zone of many arcs": b"HEAD + PART + PAD + b')(zone (net 1) (layer F.Cu) (polygon (pts ' + "
    b"b'(arc (start 0 0) (mid 1 1) (end 2 0))' * 20000 + b'))))'",
    "many nets": b"HEAD + b''.join(b'(net %d N%d)' % (i, i) for i in range(2, 600000)) + PART + "
    b"PAD + b'))'",
    "many parts": b"HEAD + (PART + PAD + b')') * 210000 + b')'",
    "blanks in a value": b"HEAD + PART + b'(fp_text value \"' + b' ' * M + b'x\")' + PAD + b'))'",
    "many blanks": b"HEAD + b' ' * 40 * M + PART + PAD + b'))'",
    "own property": b"HEAD + PART + b'(property netgraph.net_ties \"' + b'[' * M + b'\")' + PAD + "
    b"b'))'",
    "number of many digits": b"HEAD + PART + PAD.replace(b'(at 0', b'(at ' + b'9' * M) + b'))'",
    "priority": b"HEAD + PART + PAD + b')(zone (net 1) (layer F.Cu) (priority ' + b'9' * M + "
    b"b') (polygon (pts (xy 0 0)))))'",
    "wrong encoding": b"HEAD + b'(x \\xff\\xfe\\x80)' * M + PART + PAD + b'))'",
}  # fmt: skip

CHILD = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, ({memory}, {memory}))
resource.setrlimit(resource.RLIMIT_CPU, ({seconds}, {seconds}))
sys.path.insert(0, {root!r})
from netgraph.errors import BoardFileError
from netgraph.formats.kicad_board import read_kicad_board
from tests.property.test_fuzz_kicad import HEAD, M, PAD, PART
data = {code}
try:
    board = read_kicad_board(data)
    board.copper
    print("read")
except BoardFileError as error:
    assert len(error.one_line()) < 2000
    print(error.code)
"""


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_done_with_in_bounded_time_and_memory(name: str) -> None:
    """Two gigabytes of address space and a minute of processor time, set by the system."""
    if not hasattr(resource, "RLIMIT_AS"):
        pytest.skip("no limits of memory on this system")
    root = str(Path(__file__).resolve().parents[2])
    code = CHILD.format(memory=2 << 30, seconds=60, root=root, code=HOSTILE[name].decode())
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-800:]
    assert done.stdout.strip() in (
        "read",
        "file-truncated",
        "file-malformed",
        "limit-exceeded",
        "name-invalid",
        "number-invalid",
    )
