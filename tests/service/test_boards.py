# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards come in, are listed and forgotten; notes change only on the state they are based on."""

from __future__ import annotations

import io
import time
from pathlib import Path
from typing import Any

import pytest

from netgraph import limits
from netgraph.formats import isolated
from netgraph.formats.reading import read_board
from tests.service.client import LARK, SMALL, Bench, bench


def test_the_same_file_twice_is_one_board_by_its_hash(on_bench: Bench) -> None:
    first = on_bench.board(LARK)
    assert on_bench.board(LARK, "other.kicad_pcb") == first
    rows = on_bench.answer("/boards")["boards"]
    assert [(one["sha256"], one["file"]) for one in rows] == [(first, "lark.kicad_pcb")]
    assert rows[0]["parts"] == len(read_board(LARK).parts)


def test_a_form_upload_is_taken_too(on_bench: Bench) -> None:
    response = on_bench.client.post(
        "/api/v1/boards?wait=20",
        data={"file": (io.BytesIO(SMALL), "small.kicad_pcb")},
        headers=on_bench.headers,
    )
    assert response.status_code == 201
    assert response.get_json()["board"]["file"] == "small.kicad_pcb"


def test_a_broken_file_is_a_problem_with_its_place_and_is_not_kept(on_bench: Bench) -> None:
    response = on_bench.put_in(b'(kicad_pcb (version 20211014)\n  (net 0 "")\n  (net 1 "A"')
    problem = response.get_json()
    assert response.status_code == 422
    assert response.content_type == "application/problem+json"
    assert (problem["code"], problem["file"]) == ("file-truncated", "board.kicad_pcb")
    assert problem["line"] == 3
    assert problem["column"] > 0
    assert problem["expected"]
    assert on_bench.answer("/boards")["boards"] == []
    assert list(on_bench.service.store.folder.incoming.iterdir()) == []


def test_forgetting_takes_board_notes_and_cache_away(on_bench: Bench) -> None:
    sha = on_bench.board()
    on_bench.notes(sha, {"parts": [{"ref": "C34", "fitted": False}]}, **{"If-Match": '"none"'})
    gone = on_bench.client.delete(f"/api/v1/boards/{sha}", headers=on_bench.headers)
    assert gone.status_code == 204
    assert on_bench.get(f"/boards/{sha}/rails").status_code == 404
    root = on_bench.service.store.folder.root
    assert [path for path in root.rglob("*") if sha in path.as_posix()] == []


def test_the_list_goes_on_where_its_cursor_says(on_bench: Bench) -> None:
    for number in range(3):
        assert on_bench.put_in(SMALL + b"\n" * number).status_code == 201
    first = on_bench.answer("/boards", limit=2)
    rest = on_bench.answer("/boards", limit=2, cursor=first["next"])
    assert (len(first["boards"]), len(rest["boards"]), rest["next"]) == (2, 1, None)


def test_notes_are_changed_only_on_the_state_they_are_based_on(on_bench: Bench) -> None:
    """RFC 6585: 428 without If-Match; RFC 9110: 412 with a stale one."""
    sha = on_bench.board()
    body = {"parts": [{"ref": "U7", "role": "storage"}]}
    assert on_bench.notes(sha, body).status_code == 428
    tag = on_bench.get(f"/boards/{sha}/notes").headers["ETag"]
    done = on_bench.notes(sha, body, **{"If-Match": tag})
    assert done.status_code == 200
    assert done.headers["ETag"] != tag
    stale = on_bench.notes(sha, {"parts": []}, **{"If-Match": tag})
    assert (stale.status_code, stale.get_json()["code"]) == (412, "match-stale")
    parts = on_bench.answer(f"/boards/{sha}/notes")["parts"]
    assert [(one["ref"], one["role"]) for one in parts] == [("U7", "storage")]


def test_notes_that_do_not_fit_or_say_nonsense_are_refused(on_bench: Bench) -> None:
    sha = on_bench.board()
    match = {"If-Match": '"none"'}
    unknown = on_bench.notes(sha, {"parts": [{"ref": "U999", "role": "storage"}]}, **match)
    assert (unknown.status_code, unknown.get_json()["code"]) == (422, "notes-invalid")
    bad = on_bench.notes(sha, {"parts": [{"ref": "U7", "role": "toaster"}]}, **match)
    assert bad.status_code == 400
    assert bad.get_json()["errors"][0]["pointer"] == "/parts/0/role"
    assert on_bench.answer(f"/boards/{sha}/notes")["exists"] is False


def test_a_job_tells_how_far_it_is_and_stops_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The child is kept busy by a big file that never ends; stopping ends it."""
    b = bench(tmp_path / "data", workers=1)
    monkeypatch.setattr(isolated, "_START", "import time; time.sleep(60)")
    started = b.client.post(
        "/api/v1/boards", data=SMALL, content_type="application/octet-stream", headers=b.headers
    )
    assert started.status_code == 202
    job = started.get_json()["job"]["id"]
    deadline = time.monotonic() + 10
    while b.answer(f"/jobs/{job}")["state"] == "waiting" and time.monotonic() < deadline:
        time.sleep(0.02)
    assert b.answer(f"/jobs/{job}")["stage"] == "reading"
    stopped = b.client.delete(f"/api/v1/jobs/{job}", headers=b.headers).get_json()
    assert stopped["state"] == "stopped"
    assert b.answer("/boards")["boards"] == []
    b.close()


def test_too_many_waiting_jobs_are_turned_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    b = bench(tmp_path / "data", workers=1)
    monkeypatch.setattr(isolated, "_START", "import time; time.sleep(60)")
    monkeypatch.setattr(limits, "MAX_WAITING_JOBS", 2)

    def post() -> int:
        told: Any = b.client.post(
            "/api/v1/boards", data=SMALL, content_type="application/octet-stream", headers=b.headers
        )
        return int(told.status_code)

    statuses = [post() for _ in range(5)]
    assert statuses[:2] == [202, 202]
    assert statuses[-1] == 503
    b.close()


def test_search_finds_equal_names_before_beginnings_before_insides(on_bench: Bench) -> None:
    sha = on_bench.board()
    found = on_bench.answer(f"/boards/{sha}/search", q="c1", limit=100)["found"]
    names = [one["name"] for one in found]
    assert names[0] == "C1"
    assert names.index("C10") < names.index("C100") if "C100" in names else True
    assert all("c1" in name.lower() or "1" in name for name in names)


def test_a_neighbourhood_is_folded_to_its_limit_and_has_no_ground_node(on_bench: Bench) -> None:
    """Counted against the answer of `rail`, which lists everybody."""
    sha = on_bench.board()
    rail = on_bench.answer(f"/boards/{sha}/rail", net="VSYS")
    near = on_bench.answer(f"/boards/{sha}/neighbourhood", net="VSYS", limit=24)
    shown = [one for one in near["nodes"] if one["id"] != near["middle"]]
    assert len(shown) <= 24
    told = sum(len(one["names"]) if one["kind"] == "more" else 1 for one in shown)
    assert told == len(rail["parts"])
    part = on_bench.answer(f"/boards/{sha}/neighbourhood", part="U4")
    assert "GND" in part["grounds"]
    assert all(one["name"] != "GND" for one in part["nodes"])
    ids = [one["id"] for one in part["nodes"]]
    assert len(ids) == len(set(ids))


def test_the_drawing_has_each_pad_of_its_side_once(on_bench: Bench, boards_dir: Path) -> None:
    """Against pads.csv, made by KiCad's own module (shared boards, pico_ice_r2, MIT)."""
    import csv

    home = boards_dir / "pico_ice_r2"
    sha = on_bench.board(home / "board.kicad_pcb")
    with (home / "pads.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for side, layer in (("top", "F.Cu"), ("bottom", "B.Cu")):
        drawn = on_bench.answer(f"/boards/{sha}/drawing", side=side)
        pads = drawn["pads"]
        told = {
            (round(x, 2), round(y, 2), drawn["nets"][net] if net >= 0 else "")
            for x, y, net in zip(pads["x"], pads["y"], pads["net"], strict=True)
        }
        expected = {
            (round(float(row["x_mm"]), 2), round(float(row["y_mm"]), 2), row["net"])
            for row in rows
            if layer in row["copper_layers"] or "*.Cu" in row["copper_layers"]
        }
        assert expected - told == set(), side
