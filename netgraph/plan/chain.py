# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof as a story, from the part that is off to what dies; and what drives enables."""

from __future__ import annotations

from collections.abc import Collection

from netgraph.plan.and_or import Node, Proof
from netgraph.plan.enables import Drive
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import name_list
from netgraph.reasons import Reason, reason


def chain_of(proof: Proof) -> tuple[Reason, ...]:
    """What happens, in order: each dead node after all that kills it.

    Nodes of no meaning to a person (one of several ways to a level) are left out.
    """
    steps = {one.node: one for one in proof.dead}
    told: dict[Node, None] = {}
    waiting: list[tuple[Node, bool]] = [(proof.target, False)]
    open_nodes: set[Node] = set()
    while waiting:
        node, done = waiting.pop()
        if done:
            told[node] = None
            continue
        if node in told or node in open_nodes or node not in steps:
            continue
        open_nodes.add(node)
        waiting.append((node, True))
        waiting.extend((one, False) for one in reversed(steps[node].because))
    off = {name for (kind, name), step in steps.items() if kind == "part" and not step.because}
    # That a chip which is off stops goes without saying, unless that is the end of the story.
    silent = {("load", name) for name in off} - {proof.target}
    texts = [_step(node) for node in told if node not in silent]
    return tuple(dict.fromkeys(one for one in texts if one is not None))


def _step(node: Node) -> Reason | None:
    kind, name = node
    chip, _, rest = name.partition(" ")
    if kind in ("part", "gone"):
        return reason("chain-off", part=name)
    if kind == "enable" and not rest:
        return reason("chain-noted", chip=chip)
    if kind == "enable":
        return reason("chain-enable", chip=chip, net=rest)
    if kind == "reset":
        return reason("chain-reset", chip=chip, net=rest)
    if kind == "aid":
        what, _, net = rest.partition(" ")
        return reason("chain-aid", chip=chip, kind=what, net=net)
    if kind == "feed":
        maker, _, made = name.rpartition("#")[0].partition(">")
        return reason("chain-feed", chip=maker, net=made)
    if kind == "rail":
        return reason("chain-rail", net=name)
    if kind == "load":
        return reason("chain-load", chip=name)
    return None


def story_without(
    logic: PowerLogic, part_id: str, chips: Collection[str], rails: Collection[str]
) -> tuple[Reason, ...]:
    """What happens to the goal when one part comes off; empty when nothing of it stops.

    The shortest story that ends at one of the chips, else at one of the rails.
    """
    lost = logic.lost_without(part_id)
    for kind, names in (("load", lost.parts & set(chips)), ("rail", lost.rails & set(rails))):
        found = [logic.proof((kind, name), (part_id,)) for name in sorted(names - {part_id})]
        proofs = [one for one in found if one is not None]
        if proofs:
            return chain_of(min(proofs, key=lambda one: (len(one.dead), one.target)))
    return ()


def drive_text(drive: Drive) -> Reason:
    """What holds an enable, in one sentence."""
    parts = name_list(one for way in drive.ways for one in way.parts)
    if drive.doubt is not None:
        return drive.doubt
    if drive.how == "noted":
        if not drive.also and not drive.first:
            return reason("enable-noted-free", part=drive.user)
        return reason(
            "enable-noted",
            part=drive.user,
            chips=name_list(drive.also) or "nothing else",
            rails=name_list(drive.first) or "no supply",
        )
    if drive.how == "power-good":
        held = parts or name_list(drive.rails) or "the chip alone"
        return reason(
            "enable-good", part=drive.user, net=drive.net, chips=name_list(drive.also), parts=held
        )
    if drive.chips:
        return reason("enable-driven", part=drive.user, net=drive.net, chips=name_list(drive.chips))
    if not parts:
        rails = name_list(drive.rails) or "ground"
        return reason("enable-tied", part=drive.user, net=drive.net, rails=rails)
    if not drive.rails:
        return reason("enable-low", part=drive.user, net=drive.net, parts=parts)
    return reason(
        "enable-pulled",
        part=drive.user,
        net=drive.net,
        parts=parts,
        rails=name_list(drive.rails),
    )


def drive_json(drive: Drive) -> dict[str, object]:
    """An enable as plain data: what it hangs on, and the sentence."""
    return {
        "part": drive.user,
        "pin": drive.pin,
        "net": drive.net,
        "how": drive.how,
        "needs_parts": list(drive.vital),
        "needs_nets": list(drive.rails),
        "timing": list(drive.timing),
        "why": drive_text(drive).as_json(),
    }
