# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a person's notes overrule what the board shows: said beside every plan built on them.

The person wins. But a slip of the keyboard can put the ground clip on a live supply or take the
processor for a spare part, so the plan says what it would have gone by.
"""

from __future__ import annotations

from collections.abc import Mapping

from netgraph.net_names import volts_in_name
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring, name_list
from netgraph.reasons import Reason, reason
from netgraph.roles.ground import is_ground_name
from netgraph.roles.notes import AGREE


def note_cautions(wiring: Wiring, keep: Mapping[str, str] | None = None) -> tuple[Reason, ...]:
    """Notes that a wrong key would explain as well: grounds that look like supplies, figures above
    the name's, and chips that may hold the data said to be of no use.

    Parameters
    ----------
    keep
        A person's words by part identity, as `find_keeps` takes them.
    """
    found: list[Reason] = []
    for name, role in sorted(wiring.roles.nets.items()):
        if role.source == "user" and role.kind == "ground" and not is_ground_name(name):
            signs = _signs_of_supply(wiring, name)
            if signs:
                found.append(reason("noted-ground", net=name, signs=signs))
        limit = wiring.volts_limit(name)
        told = volts_in_name(name) if role.volts_source == "user" else None
        said = role.nominal_volts
        if limit is not None:
            found.append(reason("noted-volts", net=name, said=said, named=limit))
        elif told is not None and said is not None and abs(said) > abs(told) * (1 + AGREE):
            found.append(reason("noted-volts-believed", net=name, said=said, named=told))
    for part_id, part in sorted(wiring.roles.parts.items()):
        if part.overruled in IRREPLACEABLE_ROLES and part.role not in IRREPLACEABLE_ROLES:
            found.append(
                reason("noted-role", part=part_id, said=part.role, role=str(part.overruled))
            )
        off = part_id not in wiring.fitted and wiring.board.part(part_id).fitted
        if off and part.role in IRREPLACEABLE_ROLES:
            found.append(reason("noted-not-fitted", part=part_id, role=part.role))
    for part_id, word in sorted((keep or {}).items()):
        part = wiring.part_role(part_id)
        if word == "no" and part.role in IRREPLACEABLE_ROLES:
            found.append(reason("noted-not-kept", part=part_id, role=part.role))
    return tuple(found)


def _signs_of_supply(wiring: Wiring, net: str) -> str:
    volts = volts_in_name(net)
    typed = {
        one
        for one in wiring.parts(net)
        for pad in wiring.pads_of[one]
        if pad.net == net and pad.pin_type.startswith("power_in") and not _grounds(pad.pin_name)
    }
    signs = [] if not volts else [f"its name says {volts:g} V"]
    if typed:
        signs.append(f"it is wired to supply pins of {name_list(typed)}")
    return " and ".join(signs)


def _grounds(pin_name: str) -> bool:
    """Whether a pin typed as a supply input is a ground pin by its name."""
    return is_ground_name(pin_name) or pin_name.upper().startswith(("VSS", "EP", "PAD"))
