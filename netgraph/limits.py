# SPDX-License-Identifier: GPL-3.0-or-later
"""One table of limits for untrusted input; each breach is an error that names the limit.

The figures are our own choice, far above what the real boards in the tests need: deepest nesting
seen 12, largest board file 3.9 MB, most pads 2 118 (measured on the seven test boards).
"""

from __future__ import annotations

MAX_FILE_BYTES = 256 * 1024 * 1024
MAX_DEPTH = 200
MAX_TOKEN_BYTES = 4 * 1024 * 1024
MAX_PARTS = 200_000
MAX_PADS = 2_000_000
MAX_NETS = 500_000
MAX_POLYGON_POINTS = 20_000_000
MAX_POLYGON_ARCS = 20_000
MAX_ARCS_OF_ALL_POLYGONS = 100_000
MAX_STRAY_BYTES = 200_000
MAX_LINES = 10_000_000
MAX_TEST_POINTS = 3_000_000
MAX_TREE_BYTES = 64 * 1024 * 1024
MAX_ESCAPES = 200_000
MAX_ASSEMBLY_BYTES = 128 * 1024
MAX_PARTS_OF_ONE_NAME = 64
MAX_CELLS = 2_000_000
MAX_TRACE_LINES = 20_000
MAX_ALIAS_LINE = 4_096
"""Signs on a line that gives a long name of a test list."""
MAX_PADS_APART = 50
MAX_COLUMNS = 1_000
MAX_RANGE = 1_000
MAX_NAMES_TOLD = 40
MAX_BOARDS_OF_ASSEMBLY = 64
MAX_PACKED_FILES = 80
MAX_PACKED_BYTES = 128 * 1024 * 1024
"""An assembly handed on with its board files: how many, and how large they are unpacked."""

MAX_COORDINATE_NM = 2**31 - 1
"""KiCad keeps lengths as 32-bit nanometres; beyond it a file can't be one of KiCad's."""

MAX_NAME_CHARS = 4096

MAX_CARDS = 20_000
"""Lines of bench cards in one file."""
MAX_CARDS_BYTES = 32 * 1024 * 1024
MAX_WEIGHTS_BYTES = 4 * 1024 * 1024

MAX_VOLTS = 1000.0
"""Above it no bench supply of this work is set, nor any limit in amperes."""

MAX_CIRCUIT_ROWS = 100_000
"""Branches and junctions of a board whose readings are predicted; the largest real board: 2 047."""

CHILD_MEMORY_BYTES = 1 << 30
CHILD_CPU_SECONDS = 60
CHILD_WALL_SECONDS = 120
CHILD_OPEN_FILES = 32
CHILD_ANSWER_BYTES = 200 * 1024 * 1024
"""What the process may use that reads a stranger's file."""

MAX_UPLOAD_BYTES = 64 * 1024 * 1024
MAX_BODY_BYTES = 1024 * 1024
"""A board file handed to the service; any other body."""

MIN_UPLOAD_BYTES_PER_SECOND = 10_000
UPLOAD_GRACE_SECONDS = 30
"""An upload that stays below this rate after the grace is cut off."""

MAX_PICTURE_BYTES = 32 * 1024 * 1024
MAX_PICTURE_PIXELS = 150_000_000
"""A photograph of a board: above the cameras that a bench has."""
MAX_TRACED_BYTES = 16 * 1024 * 1024
"""A photo board that is traced on the page: the whole is written at each step."""
MAX_UNDO_STEPS = 20_000
"""So many steps of a board that is traced on the page can be taken back."""

MAX_FILE_NAME_CHARS = 120
MAX_WAITING_JOBS = 10
MAX_TRIES_PER_MINUTE = 20
"""Wrong tokens or codes; more are not looked at."""

MAX_COPPER_CELLS = 120_000
MAX_COPPER_PIXELS = 40_000_000
"""Cells of one net's copper areas, and sub-pixels of one of its layers, for a resistance."""

MAX_RANKING_CELLS = 40_000
MAX_RANKING_PORTS = 400
"""The same where pads are only put in an order, and pads of a net for it."""

MAX_COPPER_STRIPS = 20_000
MAX_COPPER_TOUCHES = 400_000
"""Tracks (with chords of arcs) of one net whose resistance is asked, and touches between these,
pads and vias on one layer; the most tracks on a real board: 3 202.
"""

MAX_NEAR_CELLS = 2_000_000
MAX_NEAR_VISITS = 100_000_000
MAX_NEAR_PAIRS = 4_000_000
"""Shapes of copper in cells of a grid, shapes there compared, and those that come near."""
