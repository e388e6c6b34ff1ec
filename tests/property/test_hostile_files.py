# SPDX-License-Identifier: GPL-3.0-or-later
"""Files made to fill the memory or to take for ever: done with in bounded time and room.

Each is read in a child process with two gigabytes of address space and a minute of processor
time, set by the system.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import pytest

HOSTILE = {
    "lines without end": ("ipc-d356", "b'P  UNITS CUST 0\\n' + b'\\n' * 60 * M"),
    "records of three signs": ("ipc-d356", "b'317\\n' * 4 * M + b'999\\n'"),
    "many records": (
        "ipc-d356",
        "b'P  UNITS CUST 0\\n' + b'327A                 R1    -1          A01X+000000Y+000000\\n'"
        " * M + b'999\\n'",
    ),
    "one cut designator on many nets": (
        "ipc-d356",
        "b'P  UNITS CUST 0\\n' + b''.join(b'327N%-16dABCDEF-1          A01X%+07dY+000000\\n'"
        " % (i, i) for i in range(20000)) + b'999\\n'",
    ),
    "a long line": ("ipc-d356", "b'P  UNITS ' + b'X' * 60 * M + b'\\n999\\n'"),
    "brackets": ("kicad-netlist", "b'(export ' + b'(' * 10 * M"),
    "brackets in pairs": ("kicad-netlist", "b'(export (version D) ' + b'(a b)' * 2 * M + b')'"),
    "a string of 60 MB": ("kicad-netlist", "b'(export (version D) (a \"' + b'(' * 60 * M"),
    "quotes": ("kicad-netlist", "b'(export (version D) ' + b'\"' * 10 * M + b')'"),
    "escapes": ("kicad-netlist", "b'(export (a \"' + b'\\\\\\\\' * 20 * M"),
    "XML elements": (
        "kicad-netlist",
        "b'<export version=\"E\"><nets>' + b'<net/>' * M + b'</nets></export>'",
    ),
    "XML text": ("kicad-netlist", "b'<export version=\"E\">' + b'&amp;' * 4 * M + b'</export>'"),
    "ranges in a cell": (
        "csv",
        "b'Ref,Value\\n\"' + b' '.join(b'A%dB1-A%dB999' % (i, i) for i in range(6000)) + b'\",x'",
    ),
    "ranges of letters": (
        "csv",
        "b'Ref,Value\\n\"' + b' '.join(b'%s1-%s999' % (b'A' * i, b'A' * i) for i in range(1, 350))"
        " + b'\",x'",
    ),
    "columns times parts": (
        "csv",
        "b'Ref,Value' + b''.join(b',c%d' % i for i in range(900)) + b'\\n\"' + "
        "b' '.join(b'R%d' % i for i in range(15000)) + b'\",' + b'x,' * 900",
    ),
    "many rows": ("csv", "b'ref,pin,net\\n' + b'R1,1,A\\n' * (M // 2)"),
    "an open quote": ("csv", "b'ref,pin,net\\n\"' + b'R1,1,A\\n' * 4 * M"),
    "lines of a trace": ("hand-trace", "b'C1.1 : A\\n' * M"),
    "pads on a line": (
        "hand-trace",
        "b' '.join(b'C%d.1' % i for i in range(M // 4)) + b' : A\\n'",
    ),
    "pads apart": ("hand-trace", "b' '.join(b'C%d.1' % i for i in range(9999)) + b' apart\\n'"),
    "renames": ("hand-trace", "b''.join(b'U%d named U%d\\n' % (i, i + 1) for i in range(19000))"),
    "claims": (
        "hand-trace",
        "b''.join(b'U1.1 C%d.1 apart\\n' % i for i in range(4000)) + "
        "b''.join(b'U1.1 R%d.1\\n' % i for i in range(4000))",
    ),
    "nested JSON": ("board-json", 'b\'{"schema":"netgraph.board/1","nets":\' + b\'[\' * 10 * M'),
    "a number of many digits": (
        "board-json",
        "b'{\"schema\":\"netgraph.board/1\",\"nets\":' + b'9' * 4 * M + b'}'",
    ),
    "many parts": (
        "photo-board",
        'b\'{"schema":"netgraph.photo-board/1","parts":[\' + '
        "b','.join(b'{\"ref\":\"R%d\"}' % i for i in range(210000)) + b']}'",
    ),
    "dotted keys": (
        "assembly",
        "b'schema = \"netgraph.assembly/1\"\\n' + b'a.' * 60000 + b'b = 1'",
    ),
    "TOML brackets": ("assembly", "b'schema = \"netgraph.assembly/1\"\\nx = ' + b'[' * 60000"),
}

CHILD = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, ({memory}, {memory}))
resource.setrlimit(resource.RLIMIT_CPU, ({seconds}, {seconds}))
sys.path.insert(0, {root!r})
from netgraph.errors import NetgraphError
from netgraph.formats.reading import readers
M = 1 << 20
data = {code}
(reader,) = [one for one in readers(plugins=False) if one.name == {name!r}]
try:
    board = reader.read(data, file_name="x", sha256="")
    board.copper
    print("read")
except NetgraphError as error:
    assert len(error.one_line()) < 2000
    print(error.code)
"""


@pytest.mark.parametrize("title", HOSTILE)
def test_a_hostile_file_is_done_with_in_bounded_time_and_memory(title: str) -> None:
    if not hasattr(resource, "RLIMIT_AS"):
        pytest.skip("no limits of memory on this system")
    name, code = HOSTILE[title]
    root = str(Path(__file__).resolve().parents[2])
    child = CHILD.format(memory=2 << 30, seconds=60, root=root, code=code, name=name)
    done = subprocess.run([sys.executable, "-c", child], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-800:]
    assert done.stdout.strip() in (
        "read",
        "file-truncated",
        "file-malformed",
        "file-empty",
        "limit-exceeded",
        "name-invalid",
        "number-invalid",
        "no-nets",
        "board-contradictory",
        "file-unreadable",
    )
