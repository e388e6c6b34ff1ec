# SPDX-License-Identifier: GPL-3.0-or-later
"""The questions about one board; each answer is the command line's, field by field."""

from __future__ import annotations

from typing import Any

from netgraph.contract import answers, lift_answers, lift_forms, models
from netgraph.errors import BoardFileError, ServiceError, UsageError
from netgraph.plan.goals import goal_named
from netgraph.plan.inject import injection_plan
from netgraph.plan.isolation import isolate as find_cuts
from netgraph.plan.keep_list import find_keeps
from netgraph.plan.lift import lift_state, lift_table
from netgraph.plan.lift_set import judge_set
from netgraph.plan.lift_types import LiftState
from netgraph.plan.needs import needed_enables
from netgraph.plan.review import find_questions
from netgraph.plan.sites import path_sites
from netgraph.plan.split import find_splits
from netgraph.plan.storage_route import storage_route
from netgraph.plan.wiring import Wiring
from netgraph.rails import rail_members
from netgraph.rails.draw_order import Sizes, draw_rail_tree
from netgraph.service import forms
from netgraph.service.api import Table
from netgraph.service.drawing import side_columns
from netgraph.service.neighbourhood import near_net, near_part
from netgraph.service.search import find_names
from netgraph.service.workbench import Desk

Json = dict[str, Any]
QUESTIONS = Table("questions", [])


@QUESTIONS.question("", "show", answer=models.Show)
def show(desk: Desk) -> Json:
    """What is this board?"""
    return answers.show_fields(desk.board)


@QUESTIONS.question("/parts", "parts", answer=models.Parts)
def parts(desk: Desk) -> Json:
    """What is each part?"""
    return answers.parts_fields(desk.board, desk.roles)


@QUESTIONS.question("/pads", "pads", answer=models.Pads)
def pads(desk: Desk) -> Json:
    """Every pad."""
    return answers.pads_fields(desk.board)


@QUESTIONS.question("/rails", "rails", answer=models.Rails)
def rails(desk: Desk) -> Json:
    """Which rails, fed by what?"""
    return answers.rails_fields(desk.tree)


@QUESTIONS.question("/rail", "rail", query=forms.NetQuery, answer=models.RailAnswer)
def rail(desk: Desk, query: forms.NetQuery) -> Json:
    """Who sits on this rail?"""
    net = desk.board.known_as(query.net)
    members = rail_members(desk.board, desk.roles, desk.tree, net)
    return answers.rail_fields(desk.board, desk.roles, desk.tree, net, members)


@QUESTIONS.question("/lift", "lift", query=forms.LiftQuery, answer=lift_forms.Lift)
def lift(desk: Desk, query: forms.LiftQuery) -> Json:
    """What may come off?"""
    goal = goal_named(query.goal)
    short = desk.board.known_as(query.short)
    table = lift_table(
        desk.board,
        desk.roles,
        desk.tree,
        short,
        goal=goal,
        keep=desk.notes.keep_words(),
        whole_board=query.all,
    )
    keep = desk.notes.keep_words()
    together = (
        judge_set(desk.board, desk.roles, desk.tree, query.together, goal=goal, keep=keep)
        if query.together
        else None
    )
    return lift_answers.lift_fields(desk.board, table, together)


@QUESTIONS.question("/keep", "keep", query=forms.KeepQuery, answer=lift_forms.KeepAnswer)
def keep(desk: Desk, query: forms.KeepQuery) -> Json:
    """What must stay for the goal, and which way can the data leave?"""
    net = desk.tree.rails[0].net if desk.tree.rails else desk.board.nets[0].name
    state = _state(desk, query.goal, net)
    route = storage_route(state.wiring, state.keeps, query.storage)
    enables = needed_enables(state.logic.needs, desk.tree, state.keeps.rails)
    return lift_answers.keep_fields(state.keeps, route, enables)


def _state(desk: Desk, goal: str, net: str) -> LiftState:
    keep_words = desk.notes.keep_words()
    named = goal_named(goal)
    return lift_state(desk.board, desk.roles, desk.tree, net, goal=named, keep=keep_words)


@QUESTIONS.question("/isolate", "isolate", query=forms.IsolateQuery, answer=lift_forms.Isolate)
def isolate(desk: Desk, query: forms.IsolateQuery) -> Json:
    """Which parts off would part this branch from all that the goal needs?"""
    net = desk.board.known_as(query.net)
    return lift_answers.isolate_fields(find_cuts(_state(desk, query.goal, net), net))


@QUESTIONS.question("/split", "split", query=forms.NetQuery, answer=lift_forms.SplitAnswer)
def split(desk: Desk, query: forms.NetQuery) -> Json:
    """Which series part to open on one side, so that one reading halves the suspicion?"""
    net = desk.board.known_as(query.net)
    keeps = find_keeps(desk.board, desk.roles, desk.tree, keep=desk.notes.keep_words())
    guarded = frozenset(one.part_id for one in keeps.items if one.kind == "irreplaceable")
    wiring = Wiring(desk.board, desk.roles, desk.tree)
    return lift_answers.split_fields(net, find_splits(wiring, net, None, guarded))


@QUESTIONS.question("/inject", "inject", query=forms.InjectQuery, answer=models.Inject)
def inject(desk: Desk, query: forms.InjectQuery) -> Json:
    """Where, and up to what?"""
    board = desk.board
    net = board.known_as(query.net)
    if len(query.bridge_a) != len(query.bridge_b):
        raise UsageError("each bridge has two ends: bridge_a and bridge_b")
    ends = zip(query.bridge_a, query.bridge_b, strict=True)
    bridges = tuple((board.known_as(a), board.known_as(b)) for a, b in ends)
    return answers.inject_fields(injection_plan(board, desk.roles, desk.tree, net, bridges))


@QUESTIONS.question("/path", "path", query=forms.PathQuery, answer=models.Path)
def path(desk: Desk, query: forms.PathQuery) -> Json:
    """How could these two be joined?"""
    board = desk.board
    net_a = board.known_as(query.net_a)
    net_b = None if query.net_b is None else board.known_as(query.net_b)
    fault = ""
    try:
        sites = path_sites(board, desk.roles, net_a, net_b)
    except BoardFileError as error:
        # As on the command line: one damaged track must not hide parts and pads.
        sites = path_sites(board, desk.roles, net_a, net_b, use_copper=False)
        error.path = error.path or board.source.file_name
        fault = error.one_line()
    return answers.path_fields(net_a, net_b, sites, fault)


@QUESTIONS.question("/review", "review", query=forms.ReviewQuery, answer=models.Review)
def review(desk: Desk, query: forms.ReviewQuery) -> Json:
    """Which answers should a person confirm first?"""
    found = find_questions(desk.board, desk.roles, desk.tree, notes=desk.notes)
    return answers.review_fields(found[: query.limit], len(found))


# -- for the page ------------------------------------------------------------------------------


@QUESTIONS.question("/rails/drawing", "rails-drawing", answer=forms.TreeDrawing)
def rails_drawing(desk: Desk) -> Json:
    """The rail tree with places."""
    drawn = draw_rail_tree(desk.tree, sizes=Sizes())
    return {
        "nodes": [
            {
                "id": one.id,
                "nets": list(one.nets),
                "label": one.label,
                "x": round(one.x, 1),
                "y": round(one.y, 1),
                "apart": one.apart,
            }
            for one in drawn.nodes
        ],
        "edges": [
            {
                "start": one.start,
                "end": one.end,
                "feeders": list(one.feeders),
                "points": [[round(x, 1), round(y, 1)] for x, y in one.points],
                "against": one.against,
            }
            for one in drawn.edges
        ],
        "box": [Sizes().box_width, Sizes().box_height],
        "width": round(drawn.width, 1),
        "height": round(drawn.height, 1),
        "apart_y": None if drawn.apart_y is None else round(drawn.apart_y, 1),
        "crossings": drawn.crossings,
        "folded": drawn.folded,
    }


@QUESTIONS.question("/drawing", "drawing", query=forms.DrawingQuery, answer=forms.Drawing)
def drawing(desk: Desk, query: forms.DrawingQuery) -> Json:
    """One side of the board as columns."""
    return side_columns(desk.board, query.side, frozenset(desk.roles.fitted))


@QUESTIONS.question("/neighbourhood", "neighbourhood", query=forms.NearQuery, answer=forms.Near)
def neighbourhood(desk: Desk, query: forms.NearQuery) -> Json:
    """A net or a part and what it touches."""
    if (query.net is None) == (query.part is None):
        raise ServiceError("usage", 400, "name either a net or a part")
    if query.part is not None:
        return near_part(desk.board, desk.roles, desk.tree, query.part, query.limit)
    net = desk.board.known_as(query.net or "")
    return near_net(desk.board, desk.roles, desk.tree, net, query.limit)


@QUESTIONS.question("/search", "search", query=forms.SearchQuery, answer=forms.SearchAnswer)
def search(desk: Desk, query: forms.SearchQuery) -> Json:
    """Which parts and nets are meant?"""
    return find_names(desk.board, desk.roles, query.q, query.limit)
