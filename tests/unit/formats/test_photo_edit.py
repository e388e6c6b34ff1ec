# SPDX-License-Identifier: GPL-3.0-or-later
"""Steps of a photo board: what each changes, in its traced lines too, and that each is undone."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from netgraph.errors import BoardCheckError, BoardFileError, NetgraphError, UsageError
from netgraph.formats import photo_edit as edit
from netgraph.formats.photo_board import (
    PhotoBoard,
    PhotoPad,
    PhotoPart,
    Picture,
    ScalePoint,
    parse_photo_board,
    photo_board,
    write_photo_board,
)
from netgraph.formats.photo_lines import with_line, without_line
from netgraph.formats.photo_scale import fit_scale, points_of_distances, scale_doubts
from netgraph.formats.photo_undo import gone_back, way_back
from netgraph.model.board import Source

POINTS = (ScalePoint(0, 0, 0, 0), ScalePoint(100, 0, 10, 0), ScalePoint(0, 100, 0, 10))
START = PhotoBoard(
    "x",
    (Picture("top", "t.png", POINTS),),
    (
        PhotoPart("C1", pads=(PhotoPad("1", 10, 10), PhotoPad("2", 20, 10))),
        PhotoPart("U1", pads=(PhotoPad("A1", 50, 50),), x_px=60, y_px=60),
    ),
    ("C1.1 U1.A1 : VIN", "C1 = 10uF 0603", "C1.2 nc", "~ C1.1 L1.1 : VOUT", "U1.A1 is EN"),
)


@pytest.mark.parametrize(
    ("change", "traced"),
    [
        (
            lambda p: edit.with_part_named(p, "C1", "C22"),
            ("C22.1 U1.A1 : VIN", "C22 = 10uF 0603", "C22.2 nc", "~ C22.1 L1.1 : VOUT"),
        ),
        (lambda p: edit.with_part_named(p, "U1", "VIN"), ("C1.1 VIN.A1 : VIN",)),
        (lambda p: edit.with_pad_named(p, "U1", "A1", "7"), ("C1.1 U1.7 : VIN",)),
        (lambda p: edit.without_part(p, "C1"), ("U1.A1 : VIN", "~ L1.1 : VOUT", "U1.A1 is EN")),
        (lambda p: edit.without_pad(p, "C1", "2"), ("C1.1 U1.A1 : VIN", "C1 = 10uF 0603")),
        (
            lambda p: edit.without_pad(p, "U1", "A1"),
            ("C1.1 : VIN", "C1 = 10uF 0603", "C1.2 nc", "~ C1.1 L1.1 : VOUT"),
        ),
    ],
)
def test_traced_lines_follow_their_names(
    change: Callable[[PhotoBoard], PhotoBoard], traced: tuple[str, ...]
) -> None:
    after = change(START)
    assert after.traced[: len(traced)] == traced
    edit.checked_photo(after)


def test_a_net_that_bears_the_name_of_a_part_keeps_it() -> None:
    photo = with_line(START, "R1.1 R2.1 : C1")
    assert edit.with_part_named(photo, "C1", "C9").traced[-1] == "R1.1 R2.1 : C1"


def test_a_line_between_two_pads_goes_with_one_of_them() -> None:
    photo = with_line(START, "C1.1 R1.1")
    after = edit.without_pad(photo, "C1", "1")
    assert after.traced[-1] == "U1.A1 is EN"
    events = [one.code for one in edit.photo_events(photo, after)]
    assert events == ["photo-lines-gone"]


@pytest.mark.parametrize(
    "change",
    [
        lambda p: edit.with_part(p, "C 1"),
        lambda p: edit.with_part(p, ""),
        lambda p: edit.with_part(p, "~C1"),
        lambda p: edit.with_part(p, ":"),
        lambda p: edit.with_pad(p, "C1", PhotoPad("1.1", 0, 0)),
        lambda p: edit.with_pad(p, "C1", PhotoPad("3", 0, 0), side="bottom"),
        lambda p: edit.with_part_named(p, "C1", "U1"),
        lambda p: edit.with_part_named(p, "C1", "L1"),
        lambda p: edit.with_pad_named(p, "C1", "1", "2"),
        lambda p: edit.without_pad(p, "C1", "9"),
        lambda p: edit.without_part(p, "R1"),
        lambda p: with_line(p, "# words"),
        lambda p: with_line(p, "A.1 B.1\nC.1 D.1"),
        lambda p: without_line(p, 9, "x"),
        lambda p: edit.with_scale(p, "bottom", POINTS),
        lambda p: edit.with_scale(p, "top", POINTS[:2]),
        lambda p: edit.with_pad(p, "C1", PhotoPad("3", float("nan"), 1)),
        lambda p: edit.with_pad(p, "C1", PhotoPad("3", 1, 1, width_mm=float("inf"))),
        lambda p: edit.with_part(p, "C9", at=(float("inf"), 0)),
        lambda p: edit.with_part_moved(p, "C1", 1e300, 0),
        lambda p: edit.with_scale(p, "top", (*POINTS, ScalePoint(float("nan"), 0, 0, 0))),
    ],
)
def test_what_makes_no_sense_is_refused(change: Callable[[PhotoBoard], PhotoBoard]) -> None:
    with pytest.raises(UsageError):
        change(START)


SIZED = edit.with_picture(START, "top", "t.png", "", (100, 100))


@pytest.mark.parametrize(
    "change",
    [
        lambda p: edit.with_pad(p, "C1", PhotoPad("3", 100.5, 5)),
        lambda p: edit.with_pad(p, "C1", PhotoPad("3", 5, -1)),
        lambda p: edit.with_pad(p, "C7", PhotoPad("1", 5000, 5)),
        lambda p: edit.with_pad_moved(p, "C1", "1", 5, 101),
        lambda p: edit.with_part(p, "C1", at=(5, 101)),
        lambda p: edit.with_part(p, "C7", at=(-5, 10)),
        lambda p: edit.with_part_moved(p, "C1", 2, 10),  # its pad 1 would lie at -3
        lambda p: edit.with_scale(p, "top", [*POINTS[:2], ScalePoint(0, 101, 0, 10)]),
    ],
)
def test_no_place_is_taken_that_the_picture_does_not_show(
    change: Callable[[PhotoBoard], PhotoBoard],
) -> None:
    with pytest.raises(UsageError) as refused:
        change(SIZED)
    assert "does not lie on the picture of the top" in refused.value.message
    assert "100 by 100 pixels" in refused.value.hint
    change(START)  # its size is not known


def test_the_edges_of_a_picture_and_the_other_side_are_taken() -> None:
    edit.with_pad(SIZED, "C1", PhotoPad("3", 100, 0))
    edit.with_pad(SIZED, "C9", PhotoPad("1", 500, 0), side="bottom")  # no picture of the bottom


def test_pads_off_a_picture_in_a_file_are_named_in_every_answer() -> None:
    """Another, smaller picture was put in."""
    small = edit.with_picture(START, "top", "t.png", "", (15, 55))
    board = photo_board(small, Source("photo-board"))
    (why,) = [one for one in board.not_known if one.code == "pads-off-picture"]
    assert dict(why.params) == {"count": 3, "names": "C1.2, U1, U1.A1"}
    (why,) = [one for one in board.not_known if one.code == "points-off-picture"]
    assert dict(why.params) == {"names": "top 2, top 3"}
    assert parse_photo_board(write_photo_board(small).encode()) == small


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("width_px", 1.5, "pictures[0].width_px is 1.5"),
        ("height_px", -1, "pictures[0].height_px is -1"),
        ("width_px", "wide", "pictures[0].width_px is no number"),
    ],
)
def test_a_size_that_is_none_is_told(field: str, value: object, told: str) -> None:
    table = json.loads(write_photo_board(SIZED))
    table["pictures"][0][field] = value
    with pytest.raises(BoardFileError) as error:
        parse_photo_board(json.dumps(table).encode())
    assert error.value.message.startswith(told)


def test_a_pin_that_stands_twice_is_refused() -> None:
    table = json.loads(write_photo_board(START))
    table["parts"][0]["pads"][1]["pin"] = "1"
    with pytest.raises(BoardFileError) as error:
        parse_photo_board(json.dumps(table, indent=1).encode())
    assert error.value.message == "parts[0].pads hold pin '1' twice"


def test_a_contradiction_is_refused_by_the_check() -> None:
    with pytest.raises(BoardCheckError, match="joins nothing"):
        edit.checked_photo(with_line(START, "C1.2 R1.1"))
    with pytest.raises(BoardFileError):
        with_line(START, "C1 R1")


def test_an_assumed_line_of_a_photo_board_gives_way() -> None:
    """As in a hand trace: traced lines are read first, wherever they stand."""
    photo = PhotoBoard("x", traced=("~ C1.1 R1.1 : VOUT", "C1.1 nc"))
    board = photo_board(photo, Source("photo-board"))
    assert not board.has_net("VOUT") or len(board.parts_on_net["VOUT"]) < 2


def test_a_part_stands_where_it_was_set_else_amid_its_pads() -> None:
    board = edit.checked_photo(START)
    assert board is not None
    places = {part.ref: (part.x_nm, part.y_nm) for part in board.parts}
    assert places["C1"] == (1_500_000, 1_000_000)
    assert places["U1"] == (6_000_000, 6_000_000)


def test_a_part_without_any_place_makes_places_unknown() -> None:
    board = edit.checked_photo(edit.with_part(PhotoBoard("x", START.pictures), "C1"))
    assert board is not None
    assert "has_positions" not in board.capabilities
    assert any(one.code == "some-pad-places" for one in board.not_known)


def test_files_with_places_of_parts_come_back_as_they_were() -> None:
    assert parse_photo_board(write_photo_board(START).encode()) == START


@pytest.mark.parametrize(
    ("pads", "following"),
    [((), "1"), (("1",), "2"), (("1", "3", "2"), "4"), (("A9",), "A10"), (("K",), "K1")],
)
def test_the_next_pin(pads: tuple[str, ...], following: str) -> None:
    part = PhotoPart("U1", pads=tuple(PhotoPad(pin, 0, 0) for pin in pads))
    assert edit.next_pin(part) == following


# -- scale ---------------------------------------------------------------------------------------


def test_three_points_always_fit_and_a_fourth_tells() -> None:
    """Least squares over a square leave a quarter of one corner's error at each (closed form)."""
    assert fit_scale(POINTS).worst_mm == pytest.approx(0, abs=1e-9)
    four = (*POINTS, ScalePoint(100, 100, 10, 10.4))
    assert fit_scale(four).off_mm == pytest.approx((0.1,) * 4)
    assert [one.code for one in scale_doubts(fit_scale(POINTS), "top")] == ["photo-three-points"]
    assert "photo-mirrored" in [one.code for one in scale_doubts(fit_scale(POINTS), "bottom")]


@pytest.mark.parametrize("side", ["top", "bottom"])
def test_points_from_distances_have_these_distances(side: str) -> None:
    pixels = ((10.0, 20.0), (200.0, 40.0), (60.0, 300.0))
    points = points_of_distances(pixels, (19.0, 28.0, 27.0), side)  # type: ignore[arg-type]
    for (a, b), far in zip(((0, 1), (1, 2), (2, 0)), (19.0, 28.0, 27.0), strict=True):
        one, two = points[a], points[b]
        assert ((one.x_mm - two.x_mm) ** 2 + (one.y_mm - two.y_mm) ** 2) ** 0.5 == pytest.approx(
            far
        )
    assert fit_scale(points).mirrored == (side == "bottom")


@pytest.mark.parametrize("far", [(1.0, 1.0, 3.0), (1.0, 2.0, 3.0), (0.0, 1.0, 1.0)])
def test_distances_that_make_no_triangle_are_refused(far: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="no triangle"):
        points_of_distances(((0, 0), (1, 0), (0, 1)), far, "top")


# -- the way back --------------------------------------------------------------------------------


def test_a_step_costs_what_it_changes() -> None:
    """One pad more on a part of two thousand pads."""
    pads = tuple(PhotoPad(str(i), i, i) for i in range(2000))
    photo = PhotoBoard("x", parts=(PhotoPart("U1", pads=pads),))
    after = edit.with_pad(photo, "U1", PhotoPad("2000", 1, 1))
    now, before = (json.loads(write_photo_board(one)) for one in (after, photo))
    back = way_back(now, before)
    assert back is not None
    assert len(json.dumps(back)) < 200
    assert gone_back(now, back) == before


def test_a_way_back_that_does_not_fit_is_told() -> None:
    with pytest.raises(NetgraphError, match="does not fit"):
        gone_back({"a": 1}, {"in": {"b": {"was": 2}}})


@pytest.mark.parametrize("word", ["C1,C2", "C1;", '"C1"', "C1'", "'C1", "C:1", ":", "C1`"])
def test_a_designator_that_no_traced_line_can_say_is_refused(word: str) -> None:
    with pytest.raises(UsageError, match="is no designator"):
        edit.with_part(PhotoBoard("x"), word)
    with pytest.raises(BoardFileError):
        with_line(PhotoBoard("x"), f"{word} = 10k")


@pytest.mark.parametrize(
    ("key", "place"), [("ref", "parts[0].ref"), ("pin", "parts[0].pads[0].pin")]
)
def test_an_empty_word_in_a_photo_file_is_refused(key: str, place: str) -> None:
    table = {"ref": "C1", "pads": [{"pin": "1", "x_px": 1, "y_px": 1}]}
    (table if key == "ref" else table["pads"][0])[key] = " "  # type: ignore[index]
    text = json.dumps({"schema": "netgraph.photo-board/1", "parts": [table]})
    with pytest.raises(BoardFileError) as error:
        parse_photo_board(text.encode())
    assert error.value.message == f"{place} is empty"
