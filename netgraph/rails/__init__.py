# SPDX-License-Identifier: GPL-3.0-or-later
"""Feeder, rail, load: the topology of the supplies and the direction of power. No readings."""

from netgraph.rails.find import find_rails
from netgraph.rails.members import RailMember, rail_members
from netgraph.rails.tree import Feeder, Rail, RailTree, SeriesPart, SwitchNode

__all__ = [
    "Feeder",
    "Rail",
    "RailMember",
    "RailTree",
    "SeriesPart",
    "SwitchNode",
    "find_rails",
    "rail_members",
]
