# SPDX-License-Identifier: GPL-3.0-or-later
"""An assembly put in with its board files: stored as one, every question answered as by hand."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest

from netgraph.formats.assembly_pack import pack_assembly
from tests.service.client import Bench, bench
from tests.unit.cli.bench_boards import write_assembly
from tests.unit.cli.run import netgraph

NAMES = ("device.assembly.toml", "small.kicad_pcb", "panel.trace")


def put_several(on: Bench, files: list[tuple[str, bytes]], **query: Any) -> Any:
    return on.client.post(
        "/api/v1/boards",
        query_string={"wait": 20, **query},
        data={"file": [(io.BytesIO(data), name) for name, data in files]},
        content_type="multipart/form-data",
        headers=on.headers,
    )


@pytest.fixture
def files(tmp_path: Path) -> list[tuple[str, bytes]]:
    write_assembly(tmp_path)
    return [(name, (tmp_path / name).read_bytes()) for name in NAMES]


def test_several_files_are_one_board_with_the_answers_of_the_command_line(
    on_bench: Bench, files: list[tuple[str, bytes]], tmp_path: Path
) -> None:
    response = put_several(on_bench, files)
    assert response.status_code == 201, response.data
    row = response.get_json()["board"]
    assert (row["file"], row["format"]) == ("device.assembly.toml", "assembly")
    path = tmp_path / NAMES[0]
    for address, query, words in (
        ("", {}, ("show",)),
        ("/rails", {}, ("rails",)),
        ("/rail", {"net": "MAIN/+3V3"}, ("rail", "MAIN/+3V3")),
        ("/lift", {"short": "MAIN/+3V3"}, ("lift", "--short", "MAIN/+3V3")),
        ("/inject", {"net": "MAIN/VSYS"}, ("inject", "MAIN/VSYS")),
        ("/keep", {}, ("keep",)),
        ("/review", {}, ("review",)),
    ):
        told = on_bench.answer(f"/boards/{row['sha256']}{address}", **query)
        wanted = netgraph(words[0], path, *words[1:], "--json").json()
        for one in (told, wanted):
            one.pop("sha256", None)
            one.pop("source", None)
            one["board"].pop("sha256", None) if isinstance(one.get("board"), dict) else None
        assert told == wanted, address
    # the same files in another order are the same board
    again = put_several(on_bench, files[::-1]).get_json()["board"]
    assert again["sha256"] == row["sha256"]


def test_a_net_is_found_and_asked_by_the_name_it_has_on_another_board(
    on_bench: Bench, tmp_path: Path
) -> None:
    """The answer bears the name that the whole device has for it."""
    (tmp_path / "a.trace").write_text("# netgraph trace 1\nJ1.1 C1.1 : VDD\nJ1.2 C2.1 : VIO\n")
    (tmp_path / "b.trace").write_text("# netgraph trace 1\nJ9.1 R9.1 R9.2 : LINK\n")
    (tmp_path / "d.toml").write_text(
        'schema = "netgraph.assembly/1"\n[boards]\nA = "a.trace"\nB = "b.trace"\n'
        '[[mates]]\na = "A/J1"\nb = "B/J9"\npins = { 1 = "1" }\n'
    )
    files = [(name, (tmp_path / name).read_bytes()) for name in ("d.toml", "a.trace", "b.trace")]
    at = f"/boards/{put_several(on_bench, files).get_json()['board']['sha256']}"
    for address, query in (
        ("/rail", {"net": "{}"}),
        ("/lift", {"short": "{}"}),
        ("/isolate", {"net": "{}"}),
        ("/split", {"net": "{}"}),
        ("/inject", {"net": "{}"}),
        ("/path", {"net_a": "{}", "net_b": "A/VIO"}),
        ("/neighbourhood", {"net": "{}"}),
    ):
        told, wanted = (
            on_bench.answer(f"{at}{address}", **{k: v.format(name) for k, v in query.items()})
            for name in ("B/LINK", "A/VDD")
        )
        assert told == wanted, address
    (hit,) = on_bench.answer(f"{at}/search", q="link")["found"]
    assert hit == {"kind": "net", "name": "A/VDD", "about": "also called B/LINK"}


def test_a_stored_assembly_is_read_again_without_its_cache(
    on_bench: Bench, files: list[tuple[str, bytes]]
) -> None:
    sha = put_several(on_bench, files).get_json()["board"]["sha256"]
    assert on_bench.service.intake.read_again(sha).has_part("PANEL/U9")


def test_a_zip_is_taken_like_any_file(on_bench: Bench, files: list[tuple[str, bytes]]) -> None:
    response = on_bench.put_in(pack_assembly(dict(files)), "device.zip")
    assert response.status_code == 201, response.data
    sha = response.get_json()["board"]["sha256"]
    refs = {one["ref"] for one in on_bench.answer(f"/boards/{sha}/rail", net="MAIN/+3V3")["parts"]}
    assert "PANEL/U9" in refs


def test_unplugged_is_another_board(on_bench: Bench, files: list[tuple[str, bytes]]) -> None:
    whole = put_several(on_bench, files).get_json()["board"]["sha256"]
    parted = put_several(on_bench, files, unplug="MAIN/C10").get_json()["board"]["sha256"]
    assert whole != parted
    answer = on_bench.answer(f"/boards/{parted}/rail", net="MAIN/+3V3")
    assert "PANEL/U9" not in {one["ref"] for one in answer["parts"]}
    assert "mates-open" in [one["code"] for one in answer["not_known"]]
    wrong = put_several(on_bench, files, unplug="MAIN/U1")
    assert (wrong.status_code, "mates with nothing" in wrong.get_json()["detail"]) == (400, True)
    alone = put_several(on_bench, files[1:2], unplug="MAIN/C10")
    assert (alone.status_code, alone.get_json()["code"]) == (400, "usage")


def test_what_is_no_assembly_is_refused_and_not_kept(
    on_bench: Bench, files: list[tuple[str, bytes]]
) -> None:
    for wrong, words in (
        (files[1:], "not one assembly file"),
        (files[:2], "joins 'panel.trace', which is not"),
        ([*files, files[1]], "two files of one name"),
        ([*files, ("../../panel.trace", b"")], "two files of one name"),
    ):
        response = put_several(on_bench, wrong)
        assert response.status_code == 422, response.data
        assert words in response.get_json()["detail"]
    assert on_bench.answer("/boards")["boards"] == []


def test_a_path_in_a_name_is_cut_off(tmp_path: Path, files: list[tuple[str, bytes]]) -> None:
    on = bench(tmp_path / "data")
    try:
        put = [(f"../../{name}", data) for name, data in files]
        response = put_several(on, put)
        assert response.status_code == 201, response.data
        assert response.get_json()["board"]["file"] == "device.assembly.toml"
    finally:
        on.close()
