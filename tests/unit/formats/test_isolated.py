# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading in a child gives the same board; whatever goes wrong there ends in one clear error."""

from __future__ import annotations

import io
import json
import time
from dataclasses import MISSING, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph import limits
from netgraph.errors import BoardFileError, UsageError
from netgraph.formats import isolated
from netgraph.formats.board_archive import ArchiveError, pack_board, unpack_board
from netgraph.formats.isolated import ReadingStoppedError, read_isolated
from netgraph.formats.reading import read_board, read_data
from netgraph.model import Board, BoardWarning, NetTie
from netgraph.reasons import reason
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import small_board_text

SMALL = small_board_text().encode()


def same_columns(a: Any, b: Any) -> bool:
    return all(
        np.array_equal(getattr(a, one.name), getattr(b, one.name))
        if isinstance(getattr(a, one.name), np.ndarray)
        else getattr(a, one.name) == getattr(b, one.name)
        for one in fields(a)
    )


def same_board(a: Board, b: Board) -> None:
    """Field by field; copper too."""
    for one in fields(Board):
        if one.name not in ("columns", "load_copper"):
            assert getattr(a, one.name) == getattr(b, one.name), one.name
    assert same_columns(a.columns, b.columns)
    for name in ("tracks", "arcs", "vias"):
        assert same_columns(getattr(a.copper, name), getattr(b.copper, name)), name
    assert len(a.copper.zones) == len(b.copper.zones)
    for one, other in zip(a.copper.zones, b.copper.zones, strict=True):
        assert one.name == other.name
        assert np.array_equal(one.outline, other.outline)
        assert [fill.layer for fill in one.fills] == [fill.layer for fill in other.fills]
        for p, q in zip(one.fills, other.fills, strict=True):
            assert np.array_equal(p.points, q.points)
    assert a.copper.custom_pads.keys() == b.copper.custom_pads.keys()
    assert a.copper.skipped == b.copper.skipped
    assert [one.kind for one in a.copper.outline] == [one.kind for one in b.copper.outline]
    assert a.fingerprint == b.fingerprint


@pytest.mark.parametrize(
    "name",
    [
        *("glasgow_c3", "hackrf_marzipan", "orangecrab_r021", "pico_ice_r2"),
        *("pocketbeagle", "scalenode", "teres_main_c"),
    ],
)
def test_a_real_board_is_the_same_whether_a_child_reads_it_or_not(
    name: str, boards_dir: Path
) -> None:
    path = boards_dir / name / "board.kicad_pcb"
    same_board(read_isolated(path.read_bytes(), file_name=path.name), read_board(path))


def test_a_fault_of_the_file_keeps_its_place_and_words() -> None:
    """Compared with reading in this process."""
    bad = b'(kicad_pcb (version 20211014)\n  (net 0 "")\n  (net 1 "A"'
    with pytest.raises(BoardFileError) as here:
        read_data(bad, file_name="bad.kicad_pcb")
    with pytest.raises(BoardFileError) as there:
        read_isolated(bad, file_name="bad.kicad_pcb")
    assert there.value.one_line() == here.value.one_line()
    assert there.value.code == here.value.code


def test_an_unknown_format_is_wrong_use_there_too() -> None:
    with pytest.raises(UsageError, match="no reader"):
        read_isolated(SMALL, file_name="a.kicad_pcb", format="papyrus")


def test_a_child_that_hangs_is_ended_by_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(isolated, "_START", "while True: pass")
    monkeypatch.setattr(limits, "CHILD_WALL_SECONDS", 0.3)
    with pytest.raises(BoardFileError, match="more time or memory"):
        read_isolated(SMALL, file_name="a.kicad_pcb")


def test_a_child_that_eats_memory_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """The real limits in a real child; its reader asks for three gigabytes."""
    hungry = isolated._START.replace(
        "child_main(told)",
        "import netgraph.formats.isolated as i;"
        "i.read_data = lambda *a, **k: bytearray(3 << 30); child_main(told)",
    )
    monkeypatch.setattr(isolated, "_START", hungry)
    with pytest.raises(BoardFileError, match="MiB of memory") as caught:
        read_isolated(SMALL, file_name="a.kicad_pcb")
    assert caught.value.code == "limit-exceeded"


def test_a_child_that_talks_too_much_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "CHILD_ANSWER_BYTES", 1 << 20)
    talk = "import sys\nwhile True: sys.stdout.buffer.write(b'x' * 65536)"
    monkeypatch.setattr(isolated, "_START", talk)
    with pytest.raises(BoardFileError, match="more time or memory"):
        read_isolated(SMALL, file_name="a.kicad_pcb")


def test_a_child_that_dies_is_a_fault_of_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(isolated, "_START", "raise SystemExit(3)")
    with pytest.raises(RuntimeError, match="status 3"):
        read_isolated(SMALL, file_name="a.kicad_pcb")


def test_the_reading_stops_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(isolated, "_START", "import time; time.sleep(60)")
    begun = time.monotonic()
    with pytest.raises(ReadingStoppedError):
        read_isolated(SMALL, file_name="a", stopped=lambda: time.monotonic() > begun + 0.1)


def test_the_command_line_reads_isolated_when_told(tmp_path: Path) -> None:
    board = tmp_path / "small.kicad_pcb"
    board.write_bytes(SMALL)
    plain = netgraph("rails", board, "--json")
    assert netgraph("rails", board, "--json", "--isolate").out == plain.out
    board.write_bytes(SMALL[:-20])
    plain = netgraph("show", board)
    assert plain.status == 3
    assert netgraph("show", board, "--isolate") == plain


# -- the archive ---------------------------------------------------------------------------------


def test_every_field_of_a_board_survives_the_archive() -> None:
    """Each field is set to something that is not its default; a new field must be added here."""
    plain = read_data(SMALL, file_name="small.kicad_pcb")
    full = replace(
        plain,
        not_known=(reason("letters", letters="C", meaning="capacitor"),),
        partial=True,
        unclear_nets=frozenset({"VSYS"}),
        apart=(((plain.parts[0].id, "1"), (plain.parts[1].id, "2")),),
        warnings=(BoardWarning("a", "b", 2, 3),),
        net_ties=(NetTie(plain.parts[0].id, ("1", "2")),),
    )
    for one in fields(Board):
        if one.default is not MISSING and one.name not in ("stackup", "copper_layers"):
            assert getattr(full, one.name) != one.default, f"{one.name} is not tested"
    same_board(unpack_board(pack_board(full)), full)


def test_an_archive_packed_again_is_the_same_bytes() -> None:
    packed = pack_board(read_data(SMALL, file_name="small.kicad_pcb"))
    assert pack_board(unpack_board(packed)) == packed


@given(st.binary(max_size=300))
def test_random_bytes_are_no_archive(data: bytes) -> None:
    with pytest.raises(ArchiveError):
        unpack_board(data)


PACKED = pack_board(read_data(SMALL, file_name="small.kicad_pcb"))


@given(st.integers(0, len(PACKED) - 1), st.integers(1, 255))
def test_a_changed_byte_gives_a_sound_board_or_an_error_and_never_runs_anything(
    place: int, change: int
) -> None:
    data = bytearray(PACKED)
    data[place] ^= change
    try:
        board = unpack_board(bytes(data))
    except ArchiveError:
        return
    columns = board.columns
    assert (columns.net < len(board.nets)).all()
    assert (columns.part < len(board.parts)).all()


def test_a_column_that_points_outside_is_refused() -> None:
    with np.load(io.BytesIO(PACKED)) as found:
        arrays = {name: found[name] for name in found.files}
    arrays["pad_net"] = arrays["pad_net"] + 1000
    out = io.BytesIO()
    np.savez(out, **arrays)
    with pytest.raises(ArchiveError, match="outside the board"):
        unpack_board(out.getvalue())


def test_a_pickle_in_an_archive_is_never_opened() -> None:
    out = io.BytesIO()
    np.savez(out, head=np.array([{"a": 1}], dtype=object))
    with pytest.raises(ArchiveError):
        unpack_board(out.getvalue())


def test_an_archive_of_another_version_is_refused() -> None:
    with np.load(io.BytesIO(PACKED)) as found:
        arrays = {name: found[name] for name in found.files}
    head = json.loads(arrays["head"].tobytes())
    head["archive"] += 1
    arrays["head"] = np.frombuffer(json.dumps(head).encode(), dtype=np.uint8)
    out = io.BytesIO()
    np.savez(out, **arrays)
    with pytest.raises(ArchiveError, match="an archive of version"):
        unpack_board(out.getvalue())
