# SPDX-License-Identifier: GPL-3.0-or-later
"""Assemblies as one ZIP: the same device as from the folder; hostile ZIPs end in one clear error.

The ZIPs are made by Python's zipfile, the second hand here.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from netgraph import limits
from netgraph.errors import BoardFileError, UsageError
from netgraph.formats import read_board
from netgraph.formats.assembly_pack import pack_assembly
from netgraph.formats.isolated import read_isolated_file
from netgraph.formats.reading import read_data
from tests.unit.cli.bench_boards import PANEL, TRACED, write_assembly
from tests.unit.cli.run import netgraph
from tests.unit.formats.test_isolated import same_board

TOML = (
    'schema = "netgraph.assembly/1"\n[boards]\nMAIN = "eleven.trace"\nPANEL = "panel.trace"\n'
    '[[mates]]\na = "MAIN/J1"\nb = "PANEL/J9"\n'
)
FILES = {"d.assembly.toml": TOML, "eleven.trace": TRACED, "panel.trace": PANEL}


def zipped(files: dict[str, str], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as packed:
        for name, text in files.items():
            packed.writestr(name, text)
    return out.getvalue()


@pytest.mark.parametrize("unplug", [(), ("MAIN/C10",)])
def test_folder_child_and_zip_give_one_device(tmp_path: Path, unplug: tuple[str, ...]) -> None:
    path = write_assembly(tmp_path)
    direct = read_board(path, unplug=unplug)
    same_board(read_isolated_file(path, unplug=unplug), direct)
    names = ("device.assembly.toml", "small.kicad_pcb", "panel.trace")
    packed = tmp_path / "device.zip"
    packed.write_bytes(pack_assembly({name: (tmp_path / name).read_bytes() for name in names}))
    again = read_board(packed, unplug=unplug)
    assert (again.parts, again.nets, again.pads) == (direct.parts, direct.nets, direct.pads)
    assert again.not_known == direct.not_known
    assert again.name == direct.name
    assert read_isolated_file(packed, unplug=unplug).parts == direct.parts


def test_the_command_line_reads_an_assembly_isolated(tmp_path: Path) -> None:
    path = write_assembly(tmp_path)
    words = ("rail", path, "MAIN/+3V3", "--unplug", "MAIN/C10", "--json")
    assert netgraph(*words, "--isolate").json() == netgraph(*words).json()
    (tmp_path / "panel.trace").write_text("# netgraph trace 1\nC1 C2 nonsense here\n")
    told = netgraph("show", path, "--isolate")
    assert (told.status, told.err) == (3, netgraph("show", path).err)


def test_the_same_files_give_the_same_bytes_and_an_open_mate_others() -> None:
    data = {name: text.encode() for name, text in FILES.items()}
    first = pack_assembly(data)
    assert pack_assembly(dict(reversed(data.items()))) == first
    assert pack_assembly(data, ["MAIN/J1"]) != first
    parted = read_data(pack_assembly(data, ["MAIN/J1"]), file_name="d.zip")
    assert "mates-open" in [one.code for one in parted.not_known]
    assert parted.parts == read_data(first, file_name="d.zip", unplug=("MAIN/J1",)).parts
    with pytest.raises(UsageError, match="mates with nothing"):
        read_data(first, file_name="d.zip", unplug=("MAIN/U1",))


def test_a_zip_with_folders_and_files_nobody_asked_for() -> None:
    files = {f"dev/{name}": text for name, text in FILES.items()}
    board = read_data(zipped(files | {"dev/photo.jpg": "x", "dev/sub/": ""}), file_name="d.zip")
    assert board.has_part("PANEL/U9")


@pytest.mark.parametrize(
    ("files", "code", "words"),
    [
        (FILES | {"../out.trace": PANEL}, "file-malformed", "leads elsewhere"),
        (FILES | {"/etc/x": PANEL}, "file-malformed", "leads elsewhere"),
        (FILES | {"a\\..\\b": PANEL}, "file-malformed", "leads elsewhere"),
        (FILES | {"C:/x": PANEL}, "file-malformed", "leads elsewhere"),
        (FILES | {"two.toml": TOML}, "format-unknown", "not one assembly file"),
        ({"panel.trace": PANEL}, "format-unknown", "not one assembly file"),
        (
            {"d.toml": TOML, "panel.trace": PANEL},
            "file-unreadable",
            "joins 'eleven.trace', which",
        ),
        (FILES | {"panel.trace": TOML[:40]}, "format-unknown", "not one assembly file"),
        ({f"f{i}": "" for i in range(limits.MAX_PACKED_FILES + 1)}, "limit-exceeded", "MAX_PACKED"),
        (FILES | {"panel.trace": "# netgraph trace 1\nC1 C2 nonsense\n"}, "file-malformed", "."),
    ],
)
def test_hostile_zips(files: dict[str, str], code: str, words: str) -> None:
    with pytest.raises(BoardFileError, match=words) as caught:
        read_data(zipped(files), file_name="d.zip")
    assert caught.value.code == code


def test_a_fault_in_a_packed_board_names_the_zip_and_the_file_in_it(tmp_path: Path) -> None:
    path = tmp_path / "device.zip"
    path.write_bytes(zipped(FILES | {"panel.trace": "# netgraph trace 1\nC1 C2 nonsense\n"}))
    told = netgraph("show", path)
    assert told.status == 3
    assert told.err.startswith(f"netgraph: {path / 'panel.trace'}:2:")
    assert netgraph("show", path, "--isolate").err == told.err


def test_a_zip_within_a_zip_is_refused() -> None:
    inner = zipped(FILES).decode("latin-1")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, text in (FILES | {"panel.trace": inner}).items():
            packed.writestr(name, text.encode("latin-1"))
    with pytest.raises(BoardFileError, match="assembly itself"):
        read_data(out.getvalue(), file_name="d.zip")


def test_a_zip_bomb_meets_the_limit_and_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MAX_PACKED_BYTES", 1 << 20)
    bomb = zipped(FILES | {"zeros": "\0" * (2 << 20)})
    assert len(bomb) < 10_000
    with pytest.raises(BoardFileError, match="MAX_PACKED_BYTES"):
        read_data(bomb, file_name="d.zip")
    # many small ones count together
    many = zipped(FILES | {f"z{i}": "\0" * 400_000 for i in range(3)})
    with pytest.raises(BoardFileError, match="MAX_PACKED_BYTES"):
        read_data(many, file_name="d.zip")


def test_sizes_that_lie_other_methods_and_passwords() -> None:
    lying = bytearray(zipped(FILES))
    end = lying.rindex(b"PK\x01\x02")
    lying[end + 24 : end + 28] = (1).to_bytes(4, "little")
    for data, words in (
        (bytes(lying), "no sound ZIP"),
        (zipped(FILES, zipfile.ZIP_LZMA), "method 14"),
        (zipped(FILES)[:-30], "no sound ZIP"),
        (b"PK\x03\x04", "no sound ZIP"),
    ):
        with pytest.raises(BoardFileError, match=words):
            read_data(data, file_name="d.zip")
    locked = bytearray(zipped(FILES))
    locked[locked.index(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(BoardFileError, match="encrypted"):
        read_data(bytes(locked), file_name="d.zip")
    twice = zipped(FILES).replace(b"eleven.trace", b"panell.trace")
    with pytest.raises(BoardFileError, match="not among its files"):
        read_data(twice, file_name="d.zip")


def test_names_that_lead_elsewhere_are_not_packed() -> None:
    for name in ("../x", "/x", "a/../x", "a\\x", "c:x", "", "a//b", "a\x00b"):
        with pytest.raises(BoardFileError, match="leads elsewhere"):
            pack_assembly({name: b""})
