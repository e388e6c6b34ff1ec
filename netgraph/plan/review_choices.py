# SPDX-License-Identifier: GPL-3.0-or-later
"""The choices of a question: what a person may answer, each as the note it would set."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from netgraph.net_names import volts_in_name
from netgraph.plan.doubt import may_feed
from netgraph.plan.review_types import Choice
from netgraph.plan.wiring import SERIES_ROLES, Wiring
from netgraph.quantity import find_volts
from netgraph.rails.candidates import Candidate
from netgraph.rails.volts import CELL_VOLTS, USB_VOLTS
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import NetKind
from netgraph.roles.notes import BoardNotes, FeederNote, NetNote, PartNote
from netgraph.roles.notes_check import check_notes

MOST_ROLES: Final = 3
MOST_FEEDERS: Final = 6
"""Our own choice: more than that is no help; what is missing goes by `netgraph notes set`."""

GIVE_UP: Final = Choice(reason("choice-not-known"), gives_up=True)

_LIKELY_VOLTS: Final = (0.5, 30.0)
"""A figure in a marking outside of these is hardly an output in volts (our own choice)."""


def role_choices(wiring: Wiring, part_id: str) -> tuple[Choice, ...]:
    """The best roles, something else, not known."""
    judged = wiring.part_role(part_id)
    ranked = [judged.role, *(role for role, _ in judged.others)]
    best = [one for one in dict.fromkeys(ranked) if one != "unknown"][:MOST_ROLES]
    return (
        *(
            Choice(reason("choice-role", role=one.replace("-", " ")), part_note=PartNote(role=one))
            for one in best
        ),
        Choice(reason("choice-other-role"), typed="role"),
        GIVE_UP,
    )


def fitted_choices(part_id: str) -> tuple[Choice, ...]:
    """On the board, not on it, not known."""
    return (
        Choice(reason("choice-fitted", part=part_id), part_note=PartNote(fitted=True)),
        Choice(reason("choice-not-fitted", part=part_id), part_note=PartNote(fitted=False)),
        GIVE_UP,
    )


def kind_choices(wiring: Wiring, net: str) -> tuple[Choice, ...]:
    """The answer so far first, then what else a doubtful net often is."""
    texts: dict[NetKind, Reason] = {
        "rail": reason("choice-rail"),
        "reference": reason("choice-reference"),
        "signal": reason("choice-signal"),
        "ground": reason("choice-ground"),
    }
    now = wiring.net_role(net).kind
    ordered = sorted(texts, key=lambda kind: kind != now)
    return (
        *(Choice(texts[kind], net_note=NetNote(kind=kind)) for kind in ordered),
        Choice(reason("choice-other-kind"), typed="kind"),
        GIVE_UP,
    )


# -- feeders -----------------------------------------------------------------------------------


def feeder_choices(wiring: Wiring, net: str, candidates: list[Candidate]) -> tuple[Choice, ...]:
    """Who may feed a rail: the answer so far, candidates of the rail search, other parts on it.

    Parameters
    ----------
    candidates
        All that may feed this net, as ``rails.candidates`` finds them.
    """
    ways = dict.fromkeys(_ways(wiring, net, candidates))
    # A way whose input is not known is left out where the same part's input is known.
    told = {part_id for part_id, source in ways if source is not None}
    kept = [way for way in ways if way[1] is not None or way[0] not in told][:MOST_FEEDERS]
    several = tuple(
        FeederNote(one.part_id, one.from_net)
        for one in wiring.tree.by_net[net].feeders
        if _may_be_noted(wiring, one.part_id, one.from_net, net)
    )
    return (
        *([_as_now(several)] if len(several) > 1 else []),
        *(_feeder_choice(wiring, part_id, source) for part_id, source in kept),
        Choice(reason("choice-entry"), net_note=NetNote(feeders=())),
        GIVE_UP,
    )


def _as_now(several: tuple[FeederNote, ...]) -> Choice:
    said = " or ".join(f"{one.part_id} from {one.from_net or '?'}" for one in several)
    return Choice(reason("choice-feeders", feeders=said), net_note=NetNote(feeders=several))


def _feeder_choice(wiring: Wiring, part_id: str, source: str | None) -> Choice:
    role = wiring.role(part_id).replace("-", " ")
    label = (
        reason("choice-feeder-only", part=part_id, role=role)
        if source is None
        else reason("choice-feeder", part=part_id, role=role, net=source)
    )
    return Choice(label, net_note=NetNote(feeders=(FeederNote(part_id, source),)))


def _ways(
    wiring: Wiring, net: str, candidates: list[Candidate]
) -> Iterator[tuple[str, str | None]]:
    for feeder in wiring.tree.by_net[net].feeders:
        if _may_be_noted(wiring, feeder.part_id, feeder.from_net, net):
            yield feeder.part_id, feeder.from_net
    for one in sorted(candidates, key=lambda c: (-c.score, c.part, c.source)):
        part_id = wiring.board.parts[one.part].id
        source = wiring.board.nets[one.source].name if one.source >= 0 else None
        if _may_be_noted(wiring, part_id, source, net):
            yield part_id, source
    for part_id in wiring.parts(net):
        role = wiring.role(part_id)
        if role in ("connector", "slot", "battery") or not may_feed(wiring, part_id):
            continue
        others = [one for one in wiring.live_nets(part_id) if one != net and wiring.is_power(one)]
        for source in sorted(others):
            yield part_id, source


def _may_be_noted(wiring: Wiring, part_id: str, source: str | None, net: str) -> bool:
    """Whether notes may say this; a feeder must touch the net it takes from, if only by a coil."""
    if source == net:
        return False
    said = BoardNotes(nets={net: NetNote(feeders=(FeederNote(part_id, source),))})
    return not check_notes(wiring.board, said)


# -- volts -------------------------------------------------------------------------------------


def volts_choices(wiring: Wiring, net: str) -> tuple[Choice, ...]:
    """Figures that stand near the net, each with where it comes from; or a figure typed in."""
    figures: dict[float, Reason] = {}
    for volts, label in _figures(wiring, net):
        figures.setdefault(round(volts, 3), label)
    return (
        *(Choice(label, net_note=NetNote(nominal_volts=v)) for v, label in figures.items()),
        Choice(reason("choice-typed-volts"), typed="volts"),
        GIVE_UP,
    )


def _figures(wiring: Wiring, net: str) -> Iterator[tuple[float, Reason]]:
    rail = wiring.tree.by_net[net]
    if rail.nominal_volts is not None:
        yield rail.nominal_volts, reason("choice-volts-now", volts=rail.nominal_volts)
    named = volts_in_name(net)
    if named is not None:
        yield named, reason("choice-volts-name", volts=named)
    for feeder in rail.feeders:
        if feeder.kind in ("buck", "boost", "linear"):
            value = wiring.board.part(feeder.part_id).value
            for volts in find_volts(value):
                if _LIKELY_VOLTS[0] <= volts <= _LIKELY_VOLTS[1]:
                    yield volts, reason("choice-volts-marking", volts=volts, part=feeder.part_id)
        elif feeder.kind in ("filtered", "switched") and feeder.from_net is not None:
            yield from _of_neighbour(wiring, feeder.from_net, feeder.part_id)
    for part_id in wiring.parts(net):
        if wiring.role(part_id) in SERIES_ROLES and len(wiring.nets(part_id)) == 2:
            for other in wiring.live_nets(part_id):
                if other != net:
                    yield from _of_neighbour(wiring, other, part_id)
    if rail.kind == "entry":
        for part_id in wiring.parts(net):
            part = wiring.board.part(part_id)
            text = f"{part.ref} {part.value} {part.package}".upper()
            if wiring.role(part_id) == "connector" and "USB" in text:
                yield USB_VOLTS, reason("choice-volts-usb", volts=USB_VOLTS)
            if wiring.role(part_id) == "battery" or "BAT" in net.upper():
                yield CELL_VOLTS, reason("choice-volts-cell", volts=CELL_VOLTS)


def _of_neighbour(wiring: Wiring, net: str, part_id: str) -> Iterator[tuple[float, Reason]]:
    volts, _ = wiring.nominal(net)
    if volts is not None:
        yield volts, reason("choice-volts-neighbour", volts=volts, net=net, part=part_id)
