# SPDX-License-Identifier: GPL-3.0-or-later
"""The data folder outlives versions, crashes, and a second process."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from netgraph.errors import DataFolderError
from netgraph.service.data_folder import LAYOUT, layout_of, open_data_folder
from netgraph.service.health import check_folder
from netgraph.service.store import BoardStore
from tests.service.client import LARK, SMALL, Bench, bench
from tests.unit.cli.run import netgraph

FIXTURE = Path(__file__).parent / "layout-1"
"""A data folder as layout 1 had it, with one board and one note; never written anew."""


def test_the_fixture_of_layout_1_is_read_with_its_note(tmp_path: Path) -> None:
    shutil.copytree(FIXTURE, tmp_path / "data")
    b = bench(tmp_path / "data")
    (row,) = b.answer("/boards")["boards"]
    assert row["file"] == "small.kicad_pcb"
    assert row["notes"] is True
    parts = b.answer(f"/boards/{row['sha256']}/notes")["parts"]
    assert [(one["ref"], one["why"]) for one in parts] == [("U3", "read off the chip")]
    assert b.answer(f"/boards/{row['sha256']}/rails")["rails"]
    b.close()


def test_a_newer_layout_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    root = tmp_path / "data"
    root.mkdir()
    (root / "layout.json").write_text(json.dumps({"layout": LAYOUT + 1}))
    with pytest.raises(DataFolderError, match=f"layout {LAYOUT + 1}"):
        open_data_folder(root)
    assert [one.name for one in root.iterdir()] == ["layout.json"]


def test_an_older_layout_is_backed_up_and_brought_up_step_by_step(tmp_path: Path) -> None:
    """Layout 1 is the first, so the steps are the test's own: two of them, in order."""
    root = tmp_path / "data"
    shutil.copytree(FIXTURE, root)
    done = []

    def to_two(folder: Path) -> None:
        done.append(2)
        (folder / "boards").rename(folder / "hoard")

    def to_three(folder: Path) -> None:
        done.append(3)
        (folder / "hoard").rename(folder / "boards")

    open_data_folder(root, layout=LAYOUT + 2, steps={1: to_two, 2: to_three})
    assert done == [2, 3]
    assert layout_of(root) == LAYOUT + 2
    backup = root / "backups" / "layout-1"
    for path in FIXTURE.rglob("*"):
        if path.is_file():
            kept = backup / path.relative_to(FIXTURE)
            assert kept.read_bytes() == path.read_bytes(), path.name
    assert layout_of(backup) == 1


def test_a_folder_with_other_things_is_not_taken(tmp_path: Path) -> None:
    (tmp_path / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(DataFolderError, match="other things"):
        open_data_folder(tmp_path)


def test_a_damaged_layout_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "layout.json").write_text("{")
    with pytest.raises(DataFolderError, match="damaged"):
        open_data_folder(tmp_path)


# -- doctor --------------------------------------------------------------------------------------


def test_doctor_finds_one_flipped_bit_damaged_notes_and_what_was_cut_off(tmp_path: Path) -> None:
    root = tmp_path / "data"
    shutil.copytree(FIXTURE, root)
    assert netgraph("doctor", "--data", root).status == 0
    (home,) = (root / "boards").iterdir()
    data = bytearray((home / "file").read_bytes())
    data[len(data) // 2] ^= 1
    (home / "file").write_bytes(bytes(data))
    (home / "notes.toml").write_text("[parts")
    (root / "incoming" / "x").mkdir(parents=True)
    found = netgraph("doctor", "--data", root, "--json")
    assert found.status == 1
    told = json.loads(found.out)
    assert [one["code"] for one in told["findings"]] == ["hash", "notes", "incoming"]
    assert told["sound"] is False


def test_doctor_changes_nothing_and_takes_a_missing_folder_for_sound(tmp_path: Path) -> None:
    assert check_folder(tmp_path / "none").sound
    assert not (tmp_path / "none").exists()


# -- crashes and a second process ----------------------------------------------------------------


def test_killed_in_the_middle_of_an_upload_nothing_half_stored_is_shown(tmp_path: Path) -> None:
    """The service is killed (SIGKILL) while it takes, reads or keeps a file; five moments."""
    root = tmp_path / "data"
    data = LARK.read_bytes()
    sha = hashlib.sha256(data).hexdigest()
    for moment in (0.0, 0.05, 0.2, 0.3, 0.4):
        server = subprocess.Popen(
            [
                *(sys.executable, "-m", "netgraph", "serve", "--port", "0", "--no-open"),
                *("--data", str(root), "--token-file", str(tmp_path / "token")),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "XDG_RUNTIME_DIR": ""},
        )
        assert server.stdout is not None
        link = server.stdout.readline()
        port = int(link.split("/")[2].rpartition(":")[2])
        token = (tmp_path / "token").read_text().strip()
        head = (
            f"POST /api/v1/boards?name=lark.kicad_pcb HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
            f"Authorization: Bearer {token}\r\nContent-Type: application/octet-stream\r\n"
            f"Content-Length: {len(data)}\r\n\r\n"
        )
        with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
            whole = moment > 0
            line.sendall(head.encode() + (data if whole else data[: len(data) // 2]))
            time.sleep(moment)
            server.send_signal(signal.SIGKILL)
            server.wait(10)
        server.stdout.close()
        b = bench(root)
        for row in b.answer("/boards")["boards"]:
            assert row["sha256"] == sha
            assert b.answer(f"/boards/{sha}/rails")["rails"]
            assert b.service.store.data(sha) == data
        # The next upload tidies up what was left behind.
        assert b.put_in(SMALL).status_code == 201
        assert list((root / "incoming").iterdir()) == []
        assert check_folder(root).findings == []
        for one in b.answer("/boards")["boards"]:
            b.client.delete(f"/api/v1/boards/{one['sha256']}", headers=b.headers)
        b.close()


_WRITER = """
import sys, json
from pathlib import Path
from dataclasses import replace
from netgraph.formats.reading import read_data
from netgraph.errors import ServiceError
from netgraph.roles.note_edits import with_part
from netgraph.roles.notes import PartNote
from netgraph.service.data_folder import open_data_folder
from netgraph.service.store import BoardStore
root, sha, ref, file = sys.argv[1:]
store = BoardStore(open_data_folder(Path(root)))
data = Path(file).read_bytes()
for n in range(20):
    # every writer puts its own boards in, forgets them, and adds to the shared notes
    own = data + b"\\n" * (ord(ref[-1]) * 100 + n)
    board = read_data(own, file_name="own.kicad_pcb")
    with store.spool() as place:
        row = store.keep(place, own, board)
    assert store.cached_board(row.sha256) is not None
    assert [one for one in store.rows() if one.sha256 == row.sha256]
    store.forget(row.sha256)
    board = store.cached_board(sha)
    while True:
        before = store.notes(sha)
        note = PartNote(why=f"{before.notes.part(ref).why}{n},")
        try:
            store.change_notes(sha, board, with_part(before.notes, ref, note), expected=before.tag)
            break
        except ServiceError as error:
            assert error.code == "match-stale"
"""


def test_two_processes_on_one_folder_lose_nothing(tmp_path: Path) -> None:
    """Each adds 20 times to one notes file and takes boards in and out: all additions are there."""
    root, file = tmp_path / "data", tmp_path / "small.kicad_pcb"
    file.write_bytes(SMALL)
    b = bench(root)
    sha = b.board(file)
    b.close()
    writers = [
        subprocess.Popen([sys.executable, "-c", _WRITER, str(root), sha, ref, str(file)])
        for ref in ("U1", "U2")
    ]
    assert [one.wait(120) for one in writers] == [0, 0]
    notes = BoardStore(open_data_folder(root)).notes(sha).notes
    whole = "".join(f"{n}," for n in range(20))
    assert {name: note.why for name, note in notes.parts.items()} == {"U1": whole, "U2": whole}
    assert check_folder(root).findings == []
    assert check_folder(root).boards == 1


def test_a_board_forgotten_by_another_process_is_gone_here_too(on_bench: Bench) -> None:
    sha = on_bench.board()
    on_bench.answer(f"/boards/{sha}/rails")
    BoardStore(on_bench.service.store.folder).forget(sha)
    assert on_bench.get(f"/boards/{sha}/rails").status_code == 404
