# SPDX-License-Identifier: GPL-3.0-or-later
"""Where notes say something else than the file, both are shown; each case drawn by hand."""

from __future__ import annotations

import pytest

from netgraph.model import Board, BoardBuilder
from netgraph.roles.notes import BoardNotes, FeederNote, NetNote, PartNote
from netgraph.roles.notes_check import check_notes, find_conflicts


def a_board() -> Board:
    """U1 makes 3V3 from VIN, its pins typed; C1 hangs on it, R1 is marked as not fitted."""
    builder = BoardBuilder("conflicts")
    builder.capabilities = {"has_dnp", "has_pin_types"}
    u1 = builder.add_part("U1")
    builder.add_pad(u1, "1", "VIN", pin_type="power_in")
    builder.add_pad(u1, "2", "3V3", pin_type="power_out")
    builder.add_pad(u1, "3", "GND", pin_type="power_in")
    for ref, mark in (("C1", None), ("R1", "DNP")):
        part = builder.add_part(ref, not_fitted_because=mark)
        builder.add_pad(part, "1", "3V3")
        builder.add_pad(part, "2", "GND")
    return builder.freeze()


def keys(notes: BoardNotes) -> list[tuple[str, str, str]]:
    found = find_conflicts(a_board(), notes)
    assert all(one.why.text for one in found)
    return [(one.name, one.key, one.why.code) for one in found]


def of_part(name: str, note: PartNote) -> list[tuple[str, str, str]]:
    return keys(BoardNotes({name: note}))


def of_net(name: str, note: NetNote) -> list[tuple[str, str, str]]:
    return keys(BoardNotes(nets={name: note}))


def test_the_mark_of_the_file_against_a_persons_word() -> None:
    assert of_part("R1", PartNote(fitted=True)) == [("R1", "fitted", "file-not-fitted")]
    assert of_part("C1", PartNote(fitted=False)) == [("C1", "fitted", "file-fitted")]
    assert of_part("R1", PartNote(fitted=False)) == []
    assert of_part("C1", PartNote(fitted=True)) == []


def test_clear_letters_against_a_noted_role() -> None:
    assert of_part("C1", PartNote(role="storage")) == [("C1", "role", "file-letters")]
    assert of_part("C1", PartNote(role="capacitor")) == []
    assert of_part("U1", PartNote(role="storage")) == [], "U stands for any chip"


@pytest.mark.parametrize(("volts", "differs"), [(3.3, False), (3.4, False), (1.8, True), (-3.3, 1)])
def test_volts_in_the_name(volts: float, differs: bool) -> None:
    expected = [("3V3", "nominal_volts", "file-name-volts")] if differs else []
    assert of_net("3V3", NetNote(nominal_volts=volts)) == expected


def test_names_and_pins_against_a_noted_kind() -> None:
    assert of_net("GND", NetNote(kind="rail")) == [("GND", "kind", "file-name-ground")]
    assert of_net("GND", NetNote(nominal_volts=5)) == [("GND", "nominal_volts", "file-name-ground")]
    assert of_net("3V3", NetNote(kind="ground")) == [("3V3", "kind", "file-name-supply")]
    assert of_net("3V3", NetNote(kind="signal")) == [("3V3", "kind", "file-supply-pins")]
    assert of_net("3V3", NetNote(kind="rail")) == []
    assert of_net("GND", NetNote(kind="ground")) == []


def test_types_of_pins_against_a_noted_feeder() -> None:
    def fed(part: str, source: str | None) -> NetNote:
        return NetNote(feeders=(FeederNote(part, source),))

    assert of_net("3V3", fed("U1", "VIN")) == []
    assert [code for *_, code in of_net("VIN", fed("U1", "3V3"))] == [
        "file-feeder-input",
        "file-feeder-output",
    ]
    assert of_net("3V3", fed("R1", None)) == [("3V3", "feeders", "file-feeder-off")]


def test_a_conflict_is_no_misfit_and_unknown_names_are_no_conflict() -> None:
    board = a_board()
    notes = BoardNotes({"R1": PartNote(fitted=True)}, {"3V3": NetNote(nominal_volts=5.0)})
    assert check_notes(board, notes) == ()
    assert len(find_conflicts(board, notes)) == 2
    unknown = BoardNotes({"Z9": PartNote(fitted=True)}, {"ZZ": NetNote(feeders=(FeederNote("Y"),))})
    assert find_conflicts(board, unknown) == ()


def test_names_asked_about_must_be_there() -> None:
    notes = BoardNotes(asked=frozenset({("role", "U9"), ("volts", "3V4"), ("role", "U1")}))
    assert [one.code for one in check_notes(a_board(), notes)] == ["unknown-part", "unknown-net"]
