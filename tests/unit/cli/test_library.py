# SPDX-License-Identifier: GPL-3.0-or-later
"""The library answers the same as the command line, and its names load late."""

from __future__ import annotations

from pathlib import Path

import networkx as nx
import pytest

import netgraph as library
from netgraph.errors import NotesError, UnknownNameError
from netgraph.model import Board
from netgraph.roles.notes import BoardNotes, PartNote
from tests.support import PACKAGE
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import write_small_board


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return write_small_board(tmp_path)


def test_the_survey_says_what_the_commands_say(small: Path) -> None:
    answers = library.survey_board(small, short="VSYS")
    assert answers.lifts is not None
    assert answers.injection is not None
    lift = netgraph("lift", small, "--short", "VSYS", "--json").json()
    assert [row.as_json()["verdict"] for row in answers.lifts.rows] == [
        row["verdict"] for row in lift["parts"]
    ]
    inject = netgraph("inject", small, "VSYS", "--json").json()
    assert answers.injection.max_volts == inject["max_volts"]
    assert {one.part_id for one in answers.members or ()} == {
        row["ref"] for row in netgraph("rail", small, "VSYS", "--json").json()["parts"]
    }


def test_without_a_short_only_roles_and_rails_are_found(small: Path) -> None:
    answers = library.survey_board(library.read_board(small))
    assert answers.roles.role("C1") == "capacitor"
    assert answers.lifts is None


def test_a_loaded_board_is_a_plain_networkx_graph(small: Path) -> None:
    board = library.load(small)
    assert isinstance(board, Board)
    assert isinstance(board.graph, nx.MultiGraph)
    assert nx.has_path(board.graph, ("part", "J1"), ("part", "U3"))


def test_a_persons_word_on_what_is_fitted_enters_the_graph(small: Path) -> None:
    """FB1 is the only two-net part between VBUS_5V and VSYS; R9 is off in the file."""
    notes = BoardNotes({"FB1": PartNote(fitted=False), "R9": PartNote(fitted=True)})
    board = library.load(small, notes=notes)
    assert not board.net_graph.has_edge("VBUS_5V", "VSYS")
    assert board.net_graph.has_edge("VSYS", "+3V3")
    assert board.part("FB1").not_fitted_because == "board notes"


def test_notes_that_do_not_fit_and_unknown_names_are_refused(small: Path) -> None:
    with pytest.raises(NotesError, match="U99"):
        library.survey_board(small, notes=BoardNotes({"U99": PartNote(role="led")}))
    with pytest.raises(UnknownNameError, match="VSYS"):
        library.survey_board(small, short="VSYSS")
    with pytest.raises(UnknownNameError, match="recover-data"):
        library.survey_board(small, goal="recover")


def test_the_main_job_stays_one_page() -> None:
    """The house rule: under 150 lines, read from top to bottom."""
    text = (PACKAGE / "survey.py").read_text(encoding="utf-8")
    assert len(text.splitlines()) < 150
