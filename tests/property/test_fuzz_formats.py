# SPDX-License-Identifier: GPL-3.0-or-later
"""Damaged and hostile files of every reader: a board or a proper error, nothing else.

Each reader has seeds of its own: files in ``tests/property/corpus/READER``. They are replayed,
and so are mutations of them, the same on every run. New ones, until the seconds are over:

    python -m tests.property.test_fuzz_formats 10

What it finds is printed as a file to be put into the corpus.
"""

from __future__ import annotations

import hashlib
import random
import sys
import time
from pathlib import Path

import pytest

from netgraph.errors import BoardCheckError, BoardFileError, NetgraphError
from netgraph.formats.reading import read_data, readers
from netgraph.model import Board

CORPUS = Path(__file__).resolve().parent / "corpus"
NAMES = [
    "assembly",
    "assembly-zip",
    "board-json",
    "csv",
    "graphml",
    "hand-trace",
    "ipc-d356",
    "kicad-board",
    "kicad-netlist",
    "photo-board",
]
NASTY = [
    b"\0", b"\xff", b"\xc3", b"\xef\xbb\xbf", b"\r", b"\n", b"\n\n", b"nan", b"inf", b"1e999", b"-",
    b"1_0", b"9" * 400, b'"', b"'", b"\\", b"(", b")", b"((", b"()", b"<", b">", b"</a>", b"<!--",
    b"<!DOCTYPE a>", b"&", b"&#0;", b"{", b"}", b"[", b"]", b"[[", b":", b",", b";", b"\t", b"|",
    b"=", b".", b"~", b"#", b"*", b" : ", b" apart", b" nc", b" named ", b"999", b"317", b"378",
    b"\n078", b"\n389", b"L01", b"X+999999", b"P  UNITS CUST 2\n", b"P  NNAMEA \n", b"C  ",
    b"null", b"true", b"{}", b"[]", b"-1", b"0", b"1e400", b"\xe2\x80\xae", b"\xed\xa0\x80",
    b"ref,pin,net\n", b"R1-R99999", b"=1+1", b"(node)", b"(net)", b"(comp (ref))", b"(version X)",
    b"<data key='d0'>", b"</node>", b"<key id='d0'/>", b"<edge/>",
]  # fmt: skip


def seeds(name: str) -> list[bytes]:
    """The files of one reader's corpus."""
    return [path.read_bytes() for path in sorted((CORPUS / name).iterdir())]


def mutated(data: bytes, chance: random.Random) -> bytes:
    """A few cuts, flips, insertions, copied and lost lines."""
    for _ in range(chance.randint(1, 4)):
        at = chance.randint(0, len(data))
        kind = chance.randint(0, 6)
        if kind == 0:
            data = data[:at]
        elif kind == 1 and at < len(data):
            data = data[:at] + bytes([data[at] ^ (1 << chance.randint(0, 7))]) + data[at + 1 :]
        elif kind in (2, 3):
            data = data[:at] + chance.choice(NASTY) + data[at:]
        elif kind == 4:
            end = min(len(data), at + chance.randint(1, 20))
            data = data[:at] + data[end:]
        else:
            begin, end = data.rfind(b"\n", 0, at) + 1, data.find(b"\n", at) + 1 or len(data)
            line = data[begin:end]
            data = data[:end] + line + data[end:] if kind == 5 else data[:begin] + data[end:]
    return data


def try_to_read(name: str, data: bytes) -> Board | None:
    """The board, or None for a proper error; any other exception passes."""
    for head in (data[:4096], data[:7]):
        for one in readers(plugins=False):
            assert 0.0 <= one.sniff(head) <= 1.0
    try:
        board = read_data(data, file_name="x", format=name, plugins=False)
        _ = (board.copper, board.fingerprint, board.graph, board.pads, board.nets_of_part)
        assert board.unclear_nets <= {net.name for net in board.nets}
        assert all(one.text for one in board.not_known)
    except (BoardFileError, BoardCheckError) as error:
        fault: NetgraphError = error
    else:
        return board
    assert "\n" not in fault.one_line()
    assert len(fault.one_line()) < 3000
    assert fault.exit_status in (3, 4)
    line = getattr(fault, "line", None)
    assert line is None or 1 <= line <= data.count(b"\n") + data.count(b"\r") + 2
    return None


def test_every_built_in_reader_has_a_corpus() -> None:
    assert sorted(one.name for one in readers(plugins=False)) == NAMES
    assert sorted(path.name for path in CORPUS.iterdir()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_the_corpus_is_read_or_refused(name: str) -> None:
    found = [try_to_read(name, data) for data in seeds(name)]
    # an assembly alone is refused; all others have at least one sound seed
    assert name == "assembly" or any(board is not None for board in found)


@pytest.mark.parametrize("name", NAMES)
def test_mutations_of_the_corpus_are_read_or_refused(name: str) -> None:
    chance = random.Random(name)
    files = seeds(name)
    for _ in range(400):
        try_to_read(name, mutated(chance.choice(files), chance))


def fuzz(name: str, seconds: float) -> int:
    """New inputs for one reader until the seconds are over; how many were tried."""
    chance = random.Random()
    files, tried = seeds(name), 0
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        data = mutated(chance.choice(files), chance)
        try:
            try_to_read(name, data)
        except BaseException:
            found = CORPUS / name / f"found-{hashlib.sha256(data).hexdigest()[:12]}"
            found.write_bytes(data)
            sys.stdout.write(f"{name}: a fault, kept as {found}\n")
            raise
        if len(data) < 4000 and chance.random() < 0.02:
            files.append(data)
        tried += 1
    return tried


if __name__ == "__main__":
    for one_name in NAMES:
        count = fuzz(one_name, float(sys.argv[1]) if len(sys.argv) > 1 else 10.0)
        sys.stdout.write(f"{one_name}: {count} inputs, no fault\n")
