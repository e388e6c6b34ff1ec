# SPDX-License-Identifier: GPL-3.0-or-later
"""From an open netlist to the next sensible step on a dead board, when only the data must live.

    import netgraph
    board = netgraph.load("board.kicad_pcb")
    answers = netgraph.survey_board(board, short="VSYS")

The names below are the whole library for most uses; each is loaded when it is first asked for, so
that ``import netgraph`` costs nothing. (``survey_board`` is ``survey`` of the module
``netgraph.survey``; a package can't hold a module and a function of one name.)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from netgraph._version import __version__

if TYPE_CHECKING:
    from netgraph.circuit.faults import parse_faults
    from netgraph.circuit.predict import predict_readings
    from netgraph.errors import NetgraphError
    from netgraph.formats import read_board, read_boards
    from netgraph.formats.writing import save_board, save_kicad_board
    from netgraph.model import Board, BoardBuilder
    from netgraph.model.compare import compare_boards
    from netgraph.model.merge import merge_boards
    from netgraph.plan.inject import injection_plan
    from netgraph.plan.lift import lift_table
    from netgraph.plan.sites import path_sites
    from netgraph.rails import find_rails, rail_members
    from netgraph.roles import find_roles
    from netgraph.survey import Survey, load, read_notes
    from netgraph.survey import survey as survey_board

__all__ = [
    "Board",
    "BoardBuilder",
    "NetgraphError",
    "Survey",
    "__version__",
    "compare_boards",
    "find_rails",
    "find_roles",
    "injection_plan",
    "lift_table",
    "load",
    "merge_boards",
    "parse_faults",
    "path_sites",
    "predict_readings",
    "rail_members",
    "read_board",
    "read_boards",
    "read_notes",
    "save_board",
    "save_kicad_board",
    "survey_board",
]

_HOME = {
    "Board": "netgraph.model:Board",
    "BoardBuilder": "netgraph.model:BoardBuilder",
    "NetgraphError": "netgraph.errors:NetgraphError",
    "Survey": "netgraph.survey:Survey",
    "compare_boards": "netgraph.model.compare:compare_boards",
    "find_rails": "netgraph.rails:find_rails",
    "find_roles": "netgraph.roles:find_roles",
    "injection_plan": "netgraph.plan.inject:injection_plan",
    "lift_table": "netgraph.plan.lift:lift_table",
    "load": "netgraph.survey:load",
    "merge_boards": "netgraph.model.merge:merge_boards",
    "parse_faults": "netgraph.circuit.faults:parse_faults",
    "predict_readings": "netgraph.circuit.predict:predict_readings",
    "path_sites": "netgraph.plan.sites:path_sites",
    "rail_members": "netgraph.rails:rail_members",
    "read_board": "netgraph.formats:read_board",
    "read_boards": "netgraph.formats:read_boards",
    "read_notes": "netgraph.survey:read_notes",
    "save_board": "netgraph.formats.writing:save_board",
    "save_kicad_board": "netgraph.formats.writing:save_kicad_board",
    "survey_board": "netgraph.survey:survey",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'netgraph' has no attribute {name!r}")
    module, _, attribute = _HOME[name].partition(":")
    value = getattr(import_module(module), attribute)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
