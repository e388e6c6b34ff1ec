# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards traced on photographs through the service: each address, two windows, crashes, answers."""

from __future__ import annotations

import errno
import json
from pathlib import Path
from typing import Any

import pytest

from netgraph import limits
from netgraph.service import traces
from netgraph.service.data_folder import open_data_folder
from netgraph.service.health import check_folder
from netgraph.service.store import BoardStore
from netgraph.service.traces import TraceStore
from tests.service.client import LARK, Bench, bench
from tests.service.photographs import SECRET, grey_jpeg, png, with_asides
from tests.unit.cli.run import netgraph

POINTS = [(0, 0, 0, 0), (60, 0, 30, 0), (0, 40, 0, 20)]
STEPS: list[dict[str, Any]] = [
    {
        "do": "scale",
        "side": "top",
        "points": [{"x_px": a, "y_px": b, "x_mm": c, "y_mm": d} for a, b, c, d in POINTS],
    },
    {"do": "part", "ref": "J1", "side": "top", "value": "DC jack", "at": {"x_px": 5, "y_px": 9}},
    {"do": "pad", "ref": "J1", "pin": "1", "x_px": 4, "y_px": 8, "side": "top", "through": True},
    {"do": "pad", "ref": "J1", "pin": "2", "x_px": 6, "y_px": 8, "side": "top"},
    {"do": "part", "ref": "C1", "value": "10uF", "package": "0603"},
    {"do": "pad", "ref": "C1", "pin": "1", "x_px": 20, "y_px": 10},
    {"do": "pad", "ref": "C1", "pin": "2", "x_px": 22, "y_px": 10},
    {"do": "part", "ref": "U1", "value": "LDO"},
    {"do": "pad", "ref": "U1", "pin": "1", "x_px": 40, "y_px": 10, "width_mm": 0.4},
    {"do": "pad", "ref": "U1", "pin": "2", "x_px": 44, "y_px": 10},
    {"do": "pad", "ref": "U1", "pin": "3", "x_px": 48, "y_px": 10},
    {"do": "line", "text": "J1.1 C1.1 U1.1 : VIN_5V"},
    {"do": "line", "text": "J1.2 C1.2 U1.2 : GND"},
    {"do": "line", "text": "U1.3 nc"},
]


class Tracer:
    """A window on a board that is traced."""

    def __init__(self, b: Bench, name: str = "bench one", **body: Any) -> None:
        self.b = b
        self.now = self.post("/traces", {"name": name, **body}).get_json()
        self.sha = self.now["board"]["sha256"]

    def post(self, path: str, body: Any) -> Any:
        return self.b.client.post(f"/api/v1{path}", json=body, headers=self.b.headers)

    def ask(self, step: dict[str, Any], revision: int | None = None) -> Any:
        body = {"revision": self.now["revision"] if revision is None else revision, "step": step}
        return self.post(f"/boards/{self.sha}/trace", body)

    def step(self, **step: Any) -> dict[str, Any]:
        response = self.ask(step)
        assert response.status_code == 200, response.data
        self.now = response.get_json()
        return dict(self.now)

    def undo(self, count: int = 1) -> dict[str, Any]:
        body = {"revision": self.now["revision"], "count": count}
        response = self.post(f"/boards/{self.sha}/trace/undo", body)
        assert response.status_code == 200, response.data
        self.now = response.get_json()
        return dict(self.now)

    def picture(self, data: bytes, side: str = "top", name: str = "top.png") -> Any:
        response = self.b.client.post(
            f"/api/v1/boards/{self.sha}/pictures/{side}",
            query_string={"revision": self.now["revision"], "name": name},
            data=data,
            content_type="application/octet-stream",
            headers=self.b.headers,
        )
        if response.status_code == 200:
            self.now = response.get_json()
        return response

    def file(self) -> bytes:
        return bytes(self.b.get(f"/boards/{self.sha}/trace/file").data)


def whole(b: Bench) -> Tracer:
    """A board of three parts and two nets, as in STEPS."""
    traced = Tracer(b)
    assert traced.picture(png()).status_code == 200
    for step in STEPS:
        traced.step(**step)
    return traced


def test_the_board_is_the_one_that_the_command_makes(on_bench: Bench, tmp_path: Path) -> None:
    traced = whole(on_bench)
    (tmp_path / "top.png").write_bytes(on_bench.get(f"/boards/{traced.sha}/pictures/top").data)
    file = tmp_path / "b.photo.json"
    netgraph("photo", "new", file, "--top", tmp_path / "top.png", "--name", "bench one")
    netgraph("photo", "scale", file, "top", *[n for point in POINTS for n in point])
    netgraph("photo", "part", file, "J1", "--value", "DC jack", "--at", 5, 9)
    netgraph("photo", "pad", file, "J1.1", 4, 8, "--through")
    netgraph("photo", "pad", file, "J1.2", 6, 8)
    netgraph("photo", "part", file, "C1", "--value", "10uF", "--package", "0603")
    netgraph("photo", "pad", file, "C1.1", 20, 10)
    netgraph("photo", "pad", file, "C1.2", 22, 10)
    netgraph("photo", "part", file, "U1", "--value", "LDO")
    netgraph("photo", "pad", file, "U1.1", 40, 10, "--size", 0.4, 0)
    netgraph("photo", "pad", file, "U1.2", 44, 10)
    netgraph("photo", "pad", file, "U1.3", 48, 10)
    lines = [step["text"] for step in STEPS if step["do"] == "line"]
    netgraph("photo", "trace", file, *lines)
    assert json.loads(file.read_text()) == json.loads(traced.file())


def test_it_answers_every_question_as_the_command_line_does(
    on_bench: Bench, tmp_path: Path
) -> None:
    traced = whole(on_bench)
    file = tmp_path / "bench one.photo.json"
    file.write_bytes(traced.file())
    for path, words, query in (
        ("", ["show"], {}),
        ("/rails", ["rails"], {}),
        ("/rail", ["rail", "VIN_5V"], {"net": "VIN_5V"}),
        ("/lift", ["lift", "--short", "VIN_5V"], {"short": "VIN_5V"}),
        ("/inject", ["inject", "VIN_5V"], {"net": "VIN_5V"}),
        ("/path", ["path", "VIN_5V", "GND"], {"net_a": "VIN_5V", "net_b": "GND"}),
        ("/keep", ["keep"], {}),
    ):
        told = on_bench.answer(f"/boards/{traced.sha}{path}", **query)
        said = netgraph(words[0], file, *words[1:], "--json").json()
        assert told == said, path
        assert told["partial"]
        assert any(one["code"] == "untraced" for one in told["not_known"])


def test_each_step_counts_up_and_can_be_taken_back(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    traced.picture(png())
    states = [traced.file()]
    for step in STEPS:
        before = traced.now["revision"]
        assert traced.step(**step)["revision"] == before + 1
        states.append(traced.file())
    assert traced.now["steps"] == len(STEPS) + 1
    for state in reversed(states[:-1]):
        traced.undo()
        assert traced.file() == state
    assert traced.undo()["undone"] == [{"do": "picture", "name": "top"}]
    assert traced.now["pictures"] == []
    refused = traced.post(f"/boards/{traced.sha}/trace/undo", {"revision": traced.now["revision"]})
    assert refused.status_code == 400


def test_several_steps_are_taken_back_at_once(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    empty = traced.file()
    for text in ("A1.1 B1.1 : X", "A1.2 B1.2 : Y", "A1.3 B1.3 : Z"):
        traced.step(do="line", text=text)
    undone = traced.undo(3)["undone"]
    assert [one["name"] for one in undone] == ["A1.3 B1.3 : Z", "A1.2 B1.2 : Y", "A1.1 B1.1 : X"]
    assert traced.file() == empty


def test_two_windows_do_not_overwrite_each_other(on_bench: Bench) -> None:
    one = whole(on_bench)
    old = one.now["revision"]
    one.step(do="line", text="C1.1 R7.1")
    late = one.ask({"do": "part-gone", "ref": "C1"}, old)
    assert late.status_code == 409
    assert late.get_json()["code"] == "revision-stale"
    assert "another window" in late.get_json()["detail"]
    undo = one.post(f"/boards/{one.sha}/trace/undo", {"revision": old})
    assert undo.status_code == 409
    now = on_bench.answer(f"/boards/{one.sha}/trace")
    assert now["traced"][-1] == "C1.1 R7.1"
    assert "C1" in [part["ref"] for part in now["parts"]]


def test_two_processes_see_each_others_steps(on_bench: Bench) -> None:
    traced = whole(on_bench)
    folder = open_data_folder(on_bench.service.store.folder.root)
    other = TraceStore(BoardStore(folder))
    from netgraph.formats.photo_lines import with_line

    other.change(
        traced.sha,
        traced.now["revision"],
        ("line", ""),
        lambda p: with_line(p, "C1.1 R9.1 : VIN_5V"),
    )
    parts = on_bench.answer(f"/boards/{traced.sha}/parts")["parts"]
    assert "R9" in [one["id"] for one in parts], "an answer is never that of an older state"
    assert traced.ask({"do": "line", "text": "C1.2 R9.2"}).status_code == 409


def test_nothing_is_lost_when_the_service_dies(tmp_path: Path) -> None:
    first = bench(tmp_path / "data")
    traced = whole(first)
    file, now = traced.file(), traced.now
    # No orderly end: a second service simply opens what lies on the disk.
    second = bench(tmp_path / "data")
    told = second.answer(f"/boards/{traced.sha}/trace")
    assert told == {**now, "events": [], "undone": []}
    assert second.get(f"/boards/{traced.sha}/trace/file").data == file
    assert second.get(f"/boards/{traced.sha}/pictures/top").data.startswith(b"\x89PNG")
    first.close()
    second.close()


@pytest.mark.parametrize("moment", ["trace.json", "about.json"])
def test_a_crash_in_the_middle_of_a_step_leaves_the_old_or_the_new_one(
    moment: str, on_bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    from netgraph.service import traces

    traced = whole(on_bench)
    real = traces.write_whole

    def dies(place: Path, data: bytes) -> None:
        if place.name == moment:
            raise OSError("power cut")
        real(place, data)

    monkeypatch.setattr(traces, "write_whole", dies)
    assert traced.ask({"do": "line", "text": "C1.1 R7.1"}).status_code == 500
    monkeypatch.setattr(traces, "write_whole", real)
    now = on_bench.answer(f"/boards/{traced.sha}/trace")
    came = moment == "about.json"
    assert (now["traced"][-1] == "C1.1 R7.1") is came
    assert now["revision"] == traced.now["revision"] + came
    assert check_folder(on_bench.service.store.folder.root).sound


def test_what_cannot_be_kept_changes_nothing(on_bench: Bench) -> None:
    traced = whole(on_bench)
    before = traced.file()
    point = {"x_px": 1, "y_px": 1, "x_mm": 1, "y_mm": 1}
    for step, status in (
        ({"do": "line", "text": "C1.1 U1.3"}, 409),  # U1.3 joins nothing
        ({"do": "line", "text": "C1 U1"}, 422),
        ({"do": "line", "text": "# only words"}, 400),
        ({"do": "line", "text": "A.1 B.1\nC.1 D.1"}, 400),
        ({"do": "scale", "side": "top", "points": [point, point, point]}, 400),
        ({"do": "scale", "side": "bottom", "points": []}, 400),
        ({"do": "part", "ref": "two words"}, 400),
        ({"do": "part", "ref": "#C1"}, 400),
        ({"do": "pad", "ref": "C1", "pin": "1.2", "x_px": 0, "y_px": 0}, 400),
        ({"do": "pad", "ref": "C1", "pin": "3", "x_px": 0, "y_px": 0, "side": "bottom"}, 400),
        ({"do": "pad-gone", "ref": "C1", "pin": "9"}, 400),
        ({"do": "part-named", "ref": "C1", "new": "U1"}, 400),
        ({"do": "line-gone", "number": 1, "text": "something else"}, 400),
        ({"do": "nothing"}, 400),
    ):
        response = traced.ask(step)
        assert response.status_code == status, (step, response.data)
    assert traced.file() == before
    assert on_bench.answer(f"/boards/{traced.sha}/trace")["revision"] == traced.now["revision"]


def test_named_rails_that_become_one_are_warned_of(on_bench: Bench) -> None:
    traced = whole(on_bench)
    traced.step(do="line", text="L1.1 L2.1 : VBAT")
    events = traced.step(do="line", text="L1.1 C1.1")["events"]
    assert any("VBAT" in one and "VIN_5V" in one for one in events)


def test_names_change_in_the_traced_lines_too(on_bench: Bench) -> None:
    traced = whole(on_bench)
    traced.step(do="part-named", ref="C1", new="C9")
    traced.step(do="pad-named", ref="U1", pin="1", new="VIN")
    assert traced.now["traced"] == ["J1.1 C9.1 U1.VIN : VIN_5V", "J1.2 C9.2 U1.2 : GND", "U1.3 nc"]
    traced.step(do="part-gone", ref="C9")
    assert traced.now["traced"] == ["J1.1 U1.VIN : VIN_5V", "J1.2 U1.2 : GND", "U1.3 nc"]
    gone = traced.step(do="pad-gone", ref="U1", pin="3")
    assert gone["traced"] == ["J1.1 U1.VIN : VIN_5V", "J1.2 U1.2 : GND"]
    assert any("nothing else: 1" in one for one in gone["events"])
    told = traced.step(do="line-gone", number=2, text="J1.2 U1.2 : GND")
    assert (told["traced"], told["events"]) == (["J1.1 U1.VIN : VIN_5V"], [])


def test_a_part_moves_with_its_pads(on_bench: Bench) -> None:
    traced = whole(on_bench)
    traced.step(do="part-moved", ref="J1", x_px=15, y_px=19)
    (part,) = [one for one in traced.now["parts"] if one["ref"] == "J1"]
    assert (part["x_px"], part["y_px"]) == (15, 19)
    assert [(one["x_px"], one["y_px"]) for one in part["pads"]] == [(14, 18), (16, 18)]


def test_distances_give_both_sides_one_frame(on_bench: Bench) -> None:
    """A triangle 3-4-5 seen on both sides; the bottom is seen mirrored. Closed form."""
    traced = Tracer(on_bench)
    traced.picture(png(), "top", "t.png")
    traced.picture(png(), "bottom", "b.png")
    far = {"do": "distances", "distances_mm": [40, 30, 50]}
    top = [{"x_px": x, "y_px": y} for x, y in ((10, 10), (50, 10), (50, 40))]
    bottom = [{"x_px": 60 - one["x_px"], "y_px": one["y_px"]} for one in top]
    traced.step(**far, side="top", pixels=top)
    traced.step(**far, side="bottom", pixels=bottom)
    places = [
        [(round(p["x_mm"], 6), round(p["y_mm"], 6)) for p in one["points"]]
        for one in traced.now["pictures"]
    ]
    assert places == [[(0, 0), (40, 0), (40, 30)]] * 2
    assert all(len(one["scale"]["warnings"]) == 1 for one in traced.now["pictures"])
    pad = {"do": "pad", "ref": "J1", "x_px": 30, "y_px": 20, "side": "top"}
    traced.step(**pad, pin="1", through=True)
    (part,) = traced.step(**pad, pin="2")["parts"]
    assert [one["across"] for one in part["pads"]] == [{"x_px": 30.0, "y_px": 20.0}, None]
    traced.step(do="pad-moved", ref="J1", pin="1", x_px=20, y_px=20)
    assert traced.now["parts"][0]["pads"][0]["across"] == {"x_px": 40.0, "y_px": 20.0}
    wrong = traced.ask({**far, "side": "bottom", "pixels": bottom, "distances_mm": [40, 35, 50]})
    assert wrong.status_code == 400
    assert "same three holes" in wrong.get_json()["detail"]


def test_the_residual_is_told_from_the_fourth_point_on(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    traced.picture(png())
    points = [(0, 0, 0, 0), (60, 0, 30, 0), (0, 40, 0, 20), (60, 40, 30, 20.4)]
    step = dict(STEPS[0])
    step["points"] = [{"x_px": a, "y_px": b, "x_mm": c, "y_mm": d} for a, b, c, d in points]
    traced.step(**step)
    # Least squares over a rectangle's corners: an error of one corner is left by a quarter at each.
    (picture,) = traced.now["pictures"]
    assert [one["off_mm"] for one in picture["points"]] == pytest.approx([0.1] * 4, abs=1e-6)


def test_a_mirrored_or_stretched_scale_is_doubted(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    traced.picture(png())
    step = dict(STEPS[0])
    points = [(0, 0, 0, 0), (60, 0, -30, 0), (0, 40, 0, 40)]
    step["points"] = [{"x_px": a, "y_px": b, "x_mm": c, "y_mm": d} for a, b, c, d in points]
    warnings = traced.step(**step)["pictures"][0]["scale"]["warnings"]
    assert any("turn the picture over" in one for one in warnings)
    assert any("aslant" in one for one in warnings)


# -- pictures --------------------------------------------------------------------------------------


def test_what_is_beside_a_picture_is_not_kept(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    for data, name in ((png(), "a.png"), (with_asides(grey_jpeg(), 6), "a.jpeg")):
        assert SECRET in data
        assert traced.picture(data, "top", name).status_code == 200
    folder = on_bench.service.store.folder.root
    kept = [path for path in folder.rglob("*") if path.is_file()]
    assert len(kept) > 3
    assert not [path for path in kept if SECRET in path.read_bytes()]
    shown = on_bench.get(f"/boards/{traced.sha}/pictures/top")
    assert shown.content_type == "image/jpeg"
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.headers["Cache-Control"] == "no-store"
    (picture,) = traced.now["pictures"]
    assert (picture["width_px"], picture["height_px"]) == (8, 16), "as it is seen, turned"


@pytest.mark.parametrize(
    ("data", "status"),
    [
        (b"", 422),
        (b"GIF89a" + bytes(40), 422),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", 422),
        (png()[:60], 422),
        (grey_jpeg()[:-2], 422),
        (png()[:45] + b"\x00" + png()[46:], 422),
    ],
)
def test_what_is_no_picture_is_refused(on_bench: Bench, data: bytes, status: int) -> None:
    traced = Tracer(on_bench)
    assert traced.picture(data).status_code == status
    assert on_bench.answer(f"/boards/{traced.sha}/trace")["pictures"] == []


def test_pictures_have_limits(on_bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    traced = Tracer(on_bench)
    monkeypatch.setattr(limits, "MAX_PICTURE_PIXELS", 100)
    told = traced.picture(png()).get_json()
    assert "MAX_PICTURE_PIXELS" in told["detail"]
    monkeypatch.setattr(limits, "MAX_PICTURE_BYTES", 100)
    assert traced.picture(png()).status_code == 413


def test_names_of_pictures_are_plain(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    traced.picture(png(), "top", "../../<img src=x>.PNG\x1b")
    traced.picture(grey_jpeg(), "bottom", "../../<img src=x>.png")
    files = [one["file"] for one in traced.now["pictures"]]
    assert files == ["<img src=x>.png", "<img src=x>.jpg"]
    home = on_bench.service.store.folder.traces / traced.sha
    names = {path.name for path in home.iterdir()}
    assert names == {
        "about.json",
        "trace.json",
        *(f"{p['sha256']}.picture" for p in traced.now["pictures"]),
    }


def test_both_sides_never_share_a_name(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    traced.picture(png(), "top", "photo.png")
    traced.picture(png(20, 20), "bottom", "photo.png")
    assert [one["file"] for one in traced.now["pictures"]] == ["photo.png", "bottom-photo.png"]


# -- going on, and beside the other boards ------------------------------------------------------


def test_a_photo_board_from_a_file_is_traced_on(on_bench: Bench) -> None:
    first = whole(on_bench)
    sha = on_bench.put_in(first.file(), "b.photo.json").get_json()["board"]["sha256"]
    second = Tracer(on_bench, "", from_board=sha)
    assert second.file() == first.file()
    (picture,) = second.now["pictures"]
    assert not picture["here"]
    assert on_bench.get(f"/boards/{second.sha}/pictures/top").status_code == 404
    told = second.picture(png(), "top", "top.png").get_json()
    assert told["pictures"][0]["here"]
    assert told["events"] == [], "the same picture, its asides taken off again"
    other = second.picture(png(30, 30), "top", "top.png").get_json()
    assert any("another picture" in one for one in other["events"])


def test_only_a_photo_board_is_traced_on(on_bench: Bench) -> None:
    sha = on_bench.board(LARK)
    for body, status in (({"from_board": sha}, 400), ({"from_board": "0" * 64}, 404)):
        response = on_bench.client.post("/api/v1/traces", json=body, headers=on_bench.headers)
        assert response.status_code == status
    for path in (
        f"/boards/{sha}/trace",
        f"/boards/{sha}/trace/file",
        f"/boards/{sha}/pictures/top",
    ):
        assert on_bench.get(path).status_code == 404


def test_it_stands_in_the_list_and_can_be_forgotten(on_bench: Bench) -> None:
    traced = whole(on_bench)
    lark = on_bench.board(LARK)
    rows = {one["sha256"]: one for one in on_bench.answer("/boards")["boards"]}
    assert rows[traced.sha]["traced"]
    assert not rows[lark]["traced"]
    assert (rows[traced.sha]["parts"], rows[traced.sha]["nets"]) == (3, 2)
    assert rows[traced.sha]["file"] == "bench one.photo.json"
    gone = on_bench.client.delete(f"/api/v1/boards/{traced.sha}", headers=on_bench.headers)
    assert gone.status_code == 204
    assert on_bench.get(f"/boards/{traced.sha}/trace").status_code == 404
    assert not list(on_bench.service.store.folder.traces.iterdir())


def test_a_board_without_a_part_says_so(on_bench: Bench) -> None:
    traced = Tracer(on_bench)
    response = on_bench.get(f"/boards/{traced.sha}/rails")
    assert response.status_code == 422
    assert response.get_json()["code"] == "file-empty"


def test_notes_stay_while_the_board_grows(on_bench: Bench) -> None:
    traced = whole(on_bench)
    body = {
        "parts": [{"ref": "C1", "role": "capacitor"}],
        "nets": [{"net": "VIN_5V", "nominal_volts": 5.0}],
    }
    assert on_bench.notes(traced.sha, body, **{"If-Match": "none"}).status_code == 200
    traced.step(do="line", text="C1.1 R9.1")
    assert on_bench.get(f"/boards/{traced.sha}/rails").status_code == 200
    traced.step(do="line", text="C1.1 R8.1")
    traced.undo()
    assert on_bench.get(f"/boards/{traced.sha}/rails").status_code == 200
    notes = on_bench.answer(f"/boards/{traced.sha}/notes")
    assert [one["ref"] for one in notes["parts"]] == ["C1"]
    told = traced.step(do="part-gone", ref="C1")
    assert any("notes on C1" in one for one in told["events"])
    assert on_bench.get(f"/boards/{traced.sha}/rails").status_code == 200
    notes = on_bench.answer(f"/boards/{traced.sha}/notes")
    assert (notes["parts"], len(notes["nets"])) == ([], 1)


def test_doctor_sees_a_damaged_traced_board(on_bench: Bench) -> None:
    traced = whole(on_bench)
    root = on_bench.service.store.folder.root
    assert check_folder(root).sound
    home = root / "traces" / traced.sha
    next(home.glob("*.picture")).write_bytes(b"other")
    (home / "trace.json").write_text("{")
    assert {one["code"] for one in check_folder(root).findings} == {"hash", "file"}
    assert on_bench.get(f"/boards/{traced.sha}/trace").status_code == 422


def test_writes_from_another_page_are_refused(on_bench: Bench) -> None:
    """The same rules of token, host and origin as for all addresses."""
    traced = whole(on_bench)
    on_bench.client.set_cookie(on_bench.door.cookie_name, on_bench.door.cookie, domain="127.0.0.1")
    host = on_bench.headers["Host"]
    paths = (
        "/traces",
        f"/boards/{traced.sha}/trace",
        f"/boards/{traced.sha}/trace/undo",
        f"/boards/{traced.sha}/pictures/top?revision=1",
    )
    for path in paths:
        foreign = {"Host": host, "Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"}
        told = on_bench.client.post(f"/api/v1{path}", json={}, headers=foreign)
        assert (told.status_code, told.get_json()["code"]) == (403, "origin-refused"), path
    fresh = on_bench.app.test_client()
    for path in ("trace", "trace/file", "pictures/top"):
        told = fresh.get(f"/api/v1/boards/{traced.sha}/{path}", headers={"Host": host})
        assert told.status_code == 401
        told = on_bench.client.get(
            f"/api/v1/boards/{traced.sha}/{path}", headers={"Host": "evil.example:8017"}
        )
        assert told.status_code == 421


def test_a_disk_that_is_full_while_a_step_is_written_is_told_and_loses_nothing(
    on_bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    tracer = Tracer(on_bench)
    before = tracer.step(do="part", ref="C1")

    def full(place: Path, data: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as there:
        there.setattr(traces, "write_whole", full)
        response = tracer.ask({"do": "part", "ref": "C2"})
    assert response.status_code == 507
    assert response.get_json()["code"] == "disk-full"
    assert tracer.ask({"do": "part", "ref": "C2"}, before["revision"]).status_code == 200
