# SPDX-License-Identifier: GPL-3.0-or-later
"""May the board be powered now, and how: the gate between repair and the first boot.

`no`: a card says that power would do harm. `not-yet`: something is not done, read or known.
`yes`: nothing stands against it; still a limited supply, and off at once when told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from netgraph.advice.power_checks import high_voltage_checks, rail_checks
from netgraph.advice.power_types import Check, Plug, PowerGate, PowerVerdict
from netgraph.advice.triage import flex_connectors, open_triage
from netgraph.diagnosis.bench_state import NO_BENCH, BenchState
from netgraph.model import Board
from netgraph.plan import cautions
from netgraph.plan.backup import erase_cautions, find_backups
from netgraph.plan.goals import RECOVER_DATA, Goal
from netgraph.plan.keep_list import Keeps, KeepWord, find_keeps
from netgraph.plan.noted import note_cautions
from netgraph.plan.power_feed import (
    FIRST_LIMIT_AMPS,
    LEAK_AMPS,
    QUIET_AMPS,
    Feed,
    choose_feed,
)
from netgraph.plan.taken_off import risen_rails, stopped_rails
from netgraph.plan.wiring import Wiring, name_list
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role, Roles

PROTECTION: Final[frozenset[Role]] = frozenset({"fuse", "sense-resistor"})
CLAMPS: Final[frozenset[Role]] = frozenset({"tvs"})
LINK_PINS: Final = 3
WARM_K: Final = 15.0
"""Warmer than the room by this is too warm (bench practice 5)."""


def power_gate(
    board: Board,
    roles: Roles,
    tree: RailTree,
    *,
    goal: Goal = RECOVER_DATA,
    keep: Mapping[str, KeepWord] | None = None,
    bench: BenchState = NO_BENCH,
    feed: str | None = None,
) -> PowerGate:
    """Judge whether the board may be powered, by the netlist and by the cards so far.

    Parameters
    ----------
    bench
        What the cards say; without any nothing is done yet.
    feed
        The net to feed, when a person wants another one than the program chooses.

    Raises
    ------
    UnknownNameError
        There is no such net, or `keep` names no part of the board.
    """
    keeps = find_keeps(board, roles, tree, goal, keep)
    now = board.without(bench.lifted)
    wiring = Wiring(now, roles, tree)
    chosen = choose_feed(now, roles, tree, feed)
    kept = [item.part_id for item in keeps.items]
    plugs = _plugs(wiring, keeps, chosen)
    checks = (
        *rail_checks(wiring, keeps, chosen, bench),
        *high_voltage_checks(wiring, kept, chosen, bench),
    )
    refs = [one.ref for one in plugs]
    free = _may_be_plugged(keeps, bench, checks, refs)
    plugs = tuple(one for one in plugs if one.ref not in free)
    flexes = flex_connectors(wiring, [one for one in refs if one not in free])
    bypassed = _never_with_cell(wiring, bench)
    no = [one.why for one in checks if one.state in ("bridged", "low")]
    no += _refusals(bench, bypassed)
    no += [
        reason("power-not-held", net=rail, part=need.part_id)
        for rail, need in sorted(risen_rails(wiring).items())
    ]
    wait = [one.why for one in open_triage(bench, flexes) if one.why not in no]
    wait += _unknowns(wiring, keeps, chosen, bench)
    wait += [one.why for one in checks if one.state in ("compare", "leak")]
    wait += _unread(checks)
    verdict: PowerVerdict = "no" if no else "not-yet" if wait else "yes"
    because = (*no, *wait) or (reason("power-ready", goal=goal.name),)
    live = chosen is not None and chosen.volts is not None
    return PowerGate(
        verdict=verdict,
        goal=goal.name,
        because=tuple(because),
        feed=chosen,
        expected_before=(0.0, QUIET_AMPS) if live else None,
        expected_after=chosen.after_key_amps if chosen is not None else None,
        off_if=_off_if(chosen),
        clear_first=checks,
        plugs=plugs,
        never_with_cell=bypassed,
        warnings=_warnings(wiring, keeps, chosen, bench, keep),
        before_boot=BEFORE_BOOT,
        after=AFTER,
        cautions=_cautions(),
        cards=len(bench.cards),
    )


# -- what stands against it --------------------------------------------------------------------


def _refusals(bench: BenchState, bypassed: Sequence[Reason]) -> list[Reason]:
    found: list[Reason] = []
    if bench.swollen_line is not None:
        found.append(reason("triage-cell-swollen"))
    if bench.cell_connected and bypassed:
        found.append(reason("power-cell-unprotected"))
    return found


def _unknowns(
    wiring: Wiring,
    keeps: Keeps,
    feed: Feed | None,
    bench: BenchState,
) -> list[Reason]:
    """What is not known or not in place, each with what to do about it."""
    found: list[Reason] = []
    if keeps.unclear is not None:
        found.append(keeps.unclear)
    if feed is None:
        found.append(reason("power-no-entry"))
    elif feed.missing is not None:
        found.append(feed.missing)
        if feed.to_note:
            found.append(reason("power-to-note", nets=name_list(feed.to_note)))
    if feed is not None and feed.feed_class == "inner" and "feed" not in bench.waived:
        found.append(reason("power-inner", net=feed.net))
    if wiring.board.partial and "untraced" not in bench.waived:
        found.append(reason("power-untraced"))
    kept = keeps.by_part()
    gone = sorted(one for one in bench.lifted if one in kept)
    if gone:
        found.append(reason("power-kept-gone", parts=name_list(gone)))
    off = wiring.taken_off - set(gone)
    dead = stopped_rails(wiring, keeps.rails) if off else ()
    if dead:
        found.append(reason("power-fed-no-more", nets=name_list(dead), parts=name_list(off)))
    if bench.opened:
        found.append(reason("power-still-open", parts=name_list(bench.opened)))
    cut = sorted(set(bench.cuts) & set(keeps.rails))
    if cut:
        found.append(reason("power-cut", nets=name_list(cut)))
    if _draws_too_much(bench) and "draw" not in bench.waived:
        found.append(reason("power-leak-before", amps=bench.before_key_amps, least=LEAK_AMPS))
    return found


def _draws_too_much(bench: BenchState) -> bool:
    return bench.before_key_amps is not None and bench.before_key_amps > LEAK_AMPS


def _may_be_plugged(
    keeps: Keeps, bench: BenchState, checks: Sequence[Check], refs: Sequence[str]
) -> set[str]:
    """Connectors the goal needs that may be plugged by now: the board was seen to draw next to
    nothing before the key, and all high volts are proved clear of kept chips.
    """
    high = [one for one in checks if one.kind == "high-voltage"]
    quiet = bench.before_key_amps is not None and not _draws_too_much(bench)
    if not quiet or not all(one.passed for one in high):
        return set()
    kept = keeps.by_part()
    return {
        one for one in refs if one in kept and kept[one].function not in ("card", "power entry")
    }


def _unread(checks: Sequence[Check]) -> list[Reason]:
    """Readings not taken yet, in two sentences: supplies, and high volts."""
    rails = [one.net for one in checks if one.state == "open" and one.kind == "rail"]
    high = sorted({one.net for one in checks if one.state == "open" and one.kind != "rail"})
    found: list[Reason] = []
    if rails:
        found.append(reason("power-unread", nets=name_list(rails), count=len(rails)))
    if high:
        found.append(reason("power-high-unread", nets=name_list(high)))
    return found


def _never_with_cell(wiring: Wiring, bench: BenchState) -> tuple[Reason, ...]:
    """Protection that was bypassed or taken off: from then on never with a cell."""
    bypassed = [
        reason("power-bypassed", part=one, role=wiring.role(one))
        for one in sorted(bench.jumpered)
        if wiring.role(one) in PROTECTION | CLAMPS
    ]
    off = [
        reason("power-clamp-off", part=one)
        for one in sorted(bench.lifted)
        if wiring.role(one) in CLAMPS
    ]
    return (*bypassed, *off)


def _cautions() -> tuple[Reason, ...]:
    """Those of powering; the first step of injection is another thing than the volts of a cell."""
    return tuple(one for one in cautions.cautions_for("power") if one is not cautions.CURRENT)


def _storage_alone(keeps: Keeps, wiring: Wiring) -> bool:
    """Whether the goal leaves the processor unfed: storage is read in place."""
    held = [item.part_id for item in keeps.items if wiring.role(item.part_id) == "processor"]
    return bool(keeps.rails) and any(set(wiring.supplies(one)) - set(keeps.rails) for one in held)


# -- how -----------------------------------------------------------------------------------------


def _plugs(wiring: Wiring, keeps: Keeps, feed: Feed | None) -> tuple[Plug, ...]:
    """All connectors and slots but the one that is fed; each may come back later or not at all.

    Rows of pins that may carry a link between two supplies are left alone.
    """
    kept = keeps.by_part()
    found: list[Plug] = []
    for part in wiring.board.parts:
        one = part.id
        if one not in wiring.fitted or wiring.role(one) not in ("connector", "slot"):
            continue
        live = wiring.live_nets(one)
        if (feed is not None and one == feed.ref) or not live or wiring.watched_nets(one):
            continue
        few = len(wiring.pads_of[one]) <= LINK_PINS and not wiring.board.partial
        if few and sum(map(wiring.is_power, live)) > 1:
            # A row of two or three pins between two supplies: what sits on it is a link.
            continue
        function = kept[one].function if one in kept else ""
        if function == "card" or wiring.role(one) == "slot":
            why = reason("plug-card", part=one)
        elif function == "unlocking by screen":
            why = reason("plug-screen", part=one)
        elif function == "port to the host":
            why = reason("plug-host", part=one)
        elif function == "power entry":
            why = reason("plug-entry", part=one)
        elif one in kept:
            why = reason("plug-later", part=one)
        else:
            why = reason("plug-not-needed", part=one)
        found.append(Plug(one, why))
    return tuple(found)


def _off_if(feed: Feed | None) -> tuple[Reason, ...]:
    found = [
        reason("off-surge", amps=FIRST_LIMIT_AMPS),
        reason("off-before-key", amps=LEAK_AMPS),
        reason("off-warm", kelvin=WARM_K),
        reason("off-smoke"),
        reason("off-over-nominal"),
    ]
    if feed is not None and feed.after_key_amps is not None and feed.limit_amps is not None:
        low, high = feed.after_key_amps
        found.append(reason("off-limit", amps=feed.limit_amps))
        found.append(reason("off-stuck", low=round(low / 10, 3), high=round(high / 10, 3)))
    found.append(reason("off-loop"))
    return tuple(found)


def _warnings(
    wiring: Wiring,
    keeps: Keeps,
    feed: Feed | None,
    bench: BenchState,
    keep: Mapping[str, KeepWord] | None,
) -> tuple[Reason, ...]:
    found = [*erase_cautions(wiring, find_backups(wiring)), *note_cautions(wiring, keep)]
    if feed is not None:
        found += [one.why for one in feed.cell_lines]
        if feed.other_entries:
            found.append(reason("power-other-entries", nets=name_list(feed.other_entries)))
    if _storage_alone(keeps, wiring):
        found.append(reason("power-hold-reset"))
    if bench.looping:
        found.append(reason("power-loop"))
    if keeps.unfed:
        found.append(reason("power-unfed", nets=name_list(keeps.unfed)))
    for what, why in sorted(bench.waived.items()):
        found.append(reason("power-waived", what=what, why=why))
    return tuple(found)


BEFORE_BOOT: Final = (
    reason("boot-ready"),
    reason("boot-list"),
    reason("boot-quiet"),
    reason("boot-code"),
)
AFTER: Final = (
    reason("done-copy"),
    reason("done-stop"),
    reason("done-hand-over"),
)
