# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a limited voltage may be put on a rail, and up to what.

One rule for the ceiling: the least nominal among the fed net and every net that comes alive with
it; no credit for junction drops; no figure at all when a nominal that counts is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import floor
from typing import Final, get_args

from netgraph.model import Board
from netgraph.plan import cautions
from netgraph.plan.backup import erase_cautions, find_backups
from netgraph.plan.conduction import BRIDGE, How, Powered, powered_nets
from netgraph.plan.inject_points import injection_points
from netgraph.plan.inject_types import AlsoPowered, Injection, Verdict
from netgraph.plan.model_check import with_model
from netgraph.plan.noted import note_cautions
from netgraph.plan.taken_off import risen_rails
from netgraph.plan.untraced import ceiling_doubt
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, NOT_CHIPS, Wiring, name_list
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import LIKELY, NetKind, Roles

# Figures by bench practice section 5 (common practice, no source).
FIRST_VOLTS: Final = 0.3
STOP_VOLTS: Final = 1.0
MAX_AMPS: Final = 0.5
TRACK_KELVIN: Final = 10
"""The narrowest track on the way may become so much warmer [ipc2221]."""
CAREFUL_WATTS, CAREFUL_SECONDS = 0.25, 2.0
PLAIN_WATTS, PLAIN_SECONDS = 1.0, 5.0

_NEVER_FED: Final[frozenset[NetKind]] = frozenset(
    {
        "ground",
        "switch-node",
        "signal",
        "clock",
        "reset",
        "enable",
        "bus",
        "chassis",
        "no-connect",
        "high-voltage",
    }
)


def injection_plan(
    board: Board,
    roles: Roles,
    tree: RailTree,
    net: str,
    bridges: Iterable[tuple[str, str]] = (),
    *,
    weights: Mapping[str, float] | None = None,
    by_copper: bool = True,
) -> Injection:
    """Where and up to what `net` may be fed from a bench supply, everything else off.

    Parameters
    ----------
    bridges
        Pairs of nets that a deposit may still join.
    weights
        Part -> how suspect it is, zero or more, for the order of the points; default: all alike.
    by_copper
        False: points in the order of access, without a look at the drawn copper.

    Raises
    ------
    UnknownNameError
        The board has no such net (also in `bridges`).
    """
    board.net(net)
    wiring = Wiring(board, roles, tree)
    if wiring.kind(net) == "ground":
        return _refused(net, reason("inject-ground", net=net), wiring)
    joined = tuple(bridges)
    powered = with_model(wiring, net, powered_nets(wiring, net, joined), joined)
    refusal = _refusal(wiring, net)
    if refusal is not None and refusal[0] == "no":
        return _refused(net, refusal[1], wiring, powered)
    ceiling, because, verdict = _ceiling(wiring, net, powered)
    why = because
    if refusal is not None:
        # Unsure what the net is: then its nominal is no ground to stand on either.
        verdict, why, ceiling = "unsure", refusal[1], None
        because = reason("ceiling-none", net=net)
    untraced = ceiling_doubt(board, [net, *powered])
    if ceiling is not None and untraced is not None:
        verdict, why, ceiling, because = "unsure", untraced, None, untraced
    risen = [need for rail, need in risen_rails(wiring).items() if rail in powered]
    if risen and ceiling is not None:
        off = reason("ceiling-not-held", part=risen[0].part_id, net=risen[0].rail or "", fed=net)
        verdict, why, ceiling, because = "unsure", off, None, off
    careful = _irreplaceable_reached(wiring, net, powered)
    own, _ = wiring.nominal(net)
    known = [abs(volts) for volts in _nominals(wiring, net, powered) if volts]
    lid = min([FIRST_VOLTS, *known]) if ceiling is None else ceiling
    stop = min(abs(own) / 2 if own else lid, STOP_VOLTS, lid)
    first = min(FIRST_VOLTS, lid, stop)
    # What is untraced may hold the data.
    watts = CAREFUL_WATTS if careful or board.partial else PLAIN_WATTS
    amps = min(MAX_AMPS, watts / first) if first > 0 else 0.0
    where = injection_points(wiring, net, weights, by_copper=by_copper)
    # Rounded down: a limit never gains by its rounding.
    narrow = floor(1000 * where.amps) / 1000 if where.amps < amps else None
    amps = amps if narrow is None else narrow
    warnings = _warnings(wiring, net, powered, careful, watts, amps)
    if narrow is not None:
        warnings.append(reason("inject-narrow", net=net, amps=narrow, kelvin=TRACK_KELVIN))
    if not where.points:
        warnings.append(reason("inject-no-point", net=net))
    return Injection(
        net=net,
        verdict=verdict,
        why=why,
        points=where.points,
        points_by=where.why,
        first_volts=first,
        stop_volts=stop,
        max_volts=ceiling,
        max_volts_because=because,
        max_amps=amps,
        max_watts=watts,
        max_seconds=CAREFUL_SECONDS if careful or board.partial else PLAIN_SECONDS,
        also_powered=_also(wiring, powered),
        fed_forward=_also(wiring, powered, forward=True),
        vetoes=_vetoes(wiring, net, powered),
        warnings=tuple(warnings),
        cautions=cautions.cautions_for("inject"),
        to_note=_to_note(wiring, net, powered) if ceiling is None else (),
    )


def _to_note(wiring: Wiring, net: str, powered: Mapping[str, Powered]) -> tuple[str, ...]:
    """Nets whose volts stand in the way of a ceiling, all at once; the fed one first."""
    counted = [net, *sorted(one.net for one in _counted(wiring, powered))]
    return tuple(one for one in counted if not wiring.nominal(one)[1])


def _refused(
    net: str, why: Reason, wiring: Wiring, powered: Mapping[str, Powered] | None = None
) -> Injection:
    reached = powered or {}
    vetoes = () if powered is None else _vetoes(wiring, net, powered)
    return Injection(
        net=net,
        verdict="no",
        why=why,
        points=(),
        first_volts=0.0,
        stop_volts=0.0,
        max_volts=None,
        max_volts_because=why,
        max_amps=0.0,
        max_watts=0.0,
        max_seconds=0.0,
        also_powered=_also(wiring, reached),
        fed_forward=_also(wiring, reached, forward=True),
        vetoes=(why, *vetoes),
        warnings=note_cautions(wiring),
        cautions=cautions.cautions_for("inject"),
    )


def _refusal(wiring: Wiring, net: str) -> tuple[Verdict, Reason] | None:
    """Why this net is not to be fed at all, or only with doubt."""
    kind, role = wiring.kind(net), wiring.net_role(net)
    nominal, _ = wiring.nominal(net)
    if kind == "high-voltage":
        return "no", reason("inject-high-voltage", net=net)
    if nominal is not None and nominal < 0:
        return "no", reason("inject-negative", net=net, volts=nominal)
    if kind in _NEVER_FED:
        sure = role.source == "user" or role.confidence >= LIKELY
        words = f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"
        if sure and net not in wiring.tree.by_net:
            return "no", reason("inject-not-a-rail", net=net, kind=words)
        return "unsure", reason("inject-kind-unsure", net=net, kind=words)
    if kind == "unknown":
        return "unsure", reason("inject-unknown-net", net=net)
    return None


def _counts(wiring: Wiring, one: Powered) -> bool:
    """Whether a net that came alive takes part in the ceiling."""
    return one.hard and net_counts(wiring, one.net)


def _counted(wiring: Wiring, powered: Mapping[str, Powered]) -> list[Powered]:
    """What came alive and takes part in the ceiling, in the order in which it was reached."""
    return [one for one in powered.values() if _counts(wiring, one)]


def net_counts(wiring: Wiring, net: str) -> bool:
    """Rails, references, high-voltage nets, nets with a typed supply pin of a part, and nets of
    unknown kind with a chip on them.
    """
    if wiring.is_power(net):
        return True
    kind = wiring.kind(net)
    for part_id in wiring.parts(net):
        if kind == "unknown" and wiring.role(part_id) not in NOT_CHIPS:
            return True
        # Some libraries type enables and resets as supply inputs; a known kind says more.
        if kind in ("unknown", "signal") and any(
            pad.net == net and pad.pin_type.startswith("power_in")
            for pad in wiring.pads_of[part_id]
        ):
            return True
    return False


def _nominals(wiring: Wiring, net: str, powered: Mapping[str, Powered]) -> list[float | None]:
    counted = [net, *(one.net for one in _counted(wiring, powered))]
    return [wiring.nominal(each)[0] for each in counted]


def _ceiling(
    wiring: Wiring, net: str, powered: Mapping[str, Powered]
) -> tuple[float | None, Reason, Verdict]:
    """The one rule: ceiling in volts or None, the sentence behind it, and the verdict."""
    least: tuple[float, str, str] | None = None
    doubtful: list[tuple[float, Reason]] = []
    for name, through in [
        (net, ""),
        *((one.net, one.through) for one in _counted(wiring, powered)),
    ]:
        volts, sure = wiring.nominal(name)
        way = _way(through)
        if volts is None and name == net:
            return None, reason("ceiling-own-unknown", net=net), "unsure"
        disputed = wiring.volts_limit(name)
        if disputed is not None:
            said = wiring.net_role(name).nominal_volts
            text = reason("ceiling-note-disputed", net=name, said=said, named=disputed)
            return None, text, "unsure"
        if volts is None:
            return None, reason("ceiling-unknown", net=name, fed=net, way=way), "unsure"
        if not sure and name == net:
            return None, reason("ceiling-own-doubtful", net=net, volts=volts), "unsure"
        if not sure:
            text = reason("ceiling-doubtful", net=name, fed=net, volts=volts, way=way)
            floor = wiring.least_volts(name)
            if floor is None:
                return None, text, "unsure"
            doubtful.append((floor, text))
            continue
        if volts <= 0:
            text = reason("ceiling-not-positive", net=name, fed=net, volts=volts, way=way)
            return None, text, "unsure"
        if least is None or volts < least[0]:
            least = (volts, name, way)
    if least is None:  # pragma: no cover - the fed net itself always counts
        return None, reason("ceiling-none", net=net), "unsure"
    volts, name, way = least
    for floor, text in doubtful:
        # Which of its two figures is right matters only if the lower one would be the least.
        if floor < volts:
            return None, text, "unsure"
    if name == net:
        return volts, reason("ceiling-own", net=net, volts=volts), "ok"
    return volts, reason("ceiling-other", net=name, fed=net, volts=volts, way=way), "ok"


def _way(through: str) -> str:
    if not through:
        return "the supply itself"
    return "a bridge still believed in" if through == BRIDGE else through


def _also(
    wiring: Wiring, powered: Mapping[str, Powered], *, forward: bool = False
) -> tuple[AlsoPowered, ...]:
    found = [
        AlsoPowered(
            one.net,
            one.through,
            one.from_net,
            one.how,
            _counts(wiring, one),
            wiring.nominal(one.net)[0],
        )
        for one in powered.values()
        if (one.how == "converter") is forward
    ]
    order = get_args(How)
    return tuple(sorted(found, key=lambda one: (not one.counts, order.index(one.how), one.net)))


def _irreplaceable_reached(wiring: Wiring, net: str, powered: Mapping[str, Powered]) -> list[str]:
    """Chips that may hold the data, or whose role is too unsure to rule it out, on these nets."""
    found: set[str] = set()
    partial = wiring.board.partial
    for name in [net, *powered]:
        for part_id in wiring.parts(name):
            large = len(wiring.pads_of[part_id]) >= 6 or (partial and wiring.is_chip(part_id))
            doubtful = not wiring.is_sure(part_id) and large
            if wiring.role(part_id) in IRREPLACEABLE_ROLES or doubtful:
                found.add(part_id)
    return sorted(found)


def _vetoes(wiring: Wiring, net: str, powered: Mapping[str, Powered]) -> tuple[Reason, ...]:
    high = [name for name in [net, *powered] if wiring.kind(name) == "high-voltage"]
    return (
        reason("veto-cell"),
        reason("veto-wet"),
        reason("veto-solvent"),
        *(reason("veto-high-voltage", net=name) for name in sorted(high)),
    )


def _warnings(
    wiring: Wiring,
    net: str,
    powered: Mapping[str, Powered],
    careful: list[str],
    watts: float,
    amps: float,
) -> list[Reason]:
    found: list[Reason] = []
    if careful:
        found.append(reason("inject-careful", net=net, chips=name_list(careful), watts=watts))
    found.append(reason("inject-watts", watts=watts, amps=amps, volts=round(watts / MAX_AMPS, 3)))
    counted = [one.net for one in _counted(wiring, powered)]
    if counted:
        found.append(reason("inject-back-feed", net=net, nets=name_list(counted)))
    found += erase_cautions(wiring, find_backups(wiring))
    found += note_cautions(wiring)
    if wiring.kind(net) == "reference":
        found.append(reason("inject-reference", net=net))
    return found
