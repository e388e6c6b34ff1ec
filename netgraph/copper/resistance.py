# SPDX-License-Identifier: GPL-3.0-or-later
"""Resistance of drawn copper between two pads, from one pad to all, or over a whole net."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite
from typing import Final

import numpy as np

from netgraph import limits
from netgraph.copper.net_copper import CopperUnknown, NetCopper, net_copper
from netgraph.copper.ports import Ports, ports_of
from netgraph.errors import UnknownNameError, UsageError
from netgraph.model import Board, Pad
from netgraph.reasons import Reason, reason

COARSER: Final = 2.0
"""A second mesh with cells so much larger tells how far the first one can be trusted."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two pads by their index and the ohms between them."""

    a: int
    b: int
    ohms: float


@dataclass(frozen=True, slots=True)
class Resistance:
    """What the drawn copper of a net says about resistance.

    `a` and `b` are the pads asked, None where a whole net or all pads from one were asked. `pairs`
    are sorted by ohms. `mesh_ohms` is what the answer between two pads changes by with cells twice
    as large: an estimate of its error, 0 where no area takes part, None where it was not asked.
    `amps` is what the narrowest track between two pads may carry. `islands` are the pads of each
    piece of copper, the largest first. `copper` is None where nothing is known; `why` says why.
    """

    net: str
    a: int | None
    b: int | None
    why: Reason
    ohms: float | None
    mesh_ohms: float | None
    amps: float | None
    pairs: tuple[Pair, ...]
    islands: tuple[tuple[int, ...], ...]
    copper: NetCopper | None
    remarks: tuple[Reason, ...]


def pad_named(board: Board, name: str) -> Pad:
    """The pad ``REF.PIN``; the largest where a pin has several.

    Raises
    ------
    UnknownNameError
        No such part or pad; the error lists near names.
    """
    ref, dot, pin = name.rpartition(".")
    if not dot:
        ref = name
    part = board.part(ref)
    pads = [board.pad(one) for one in board.pad_range(part)]
    here = [one for one in pads if one.pin == pin] if dot else []
    if not here:
        known = dict.fromkeys(f"{ref}.{one.pin}" for one in pads)
        raise UnknownNameError("pad", name, tuple(known)[:8])
    return max(here, key=lambda one: (one.width_nm * one.height_nm, -one.index))


def resistance_between(board: Board, a: str, b: str) -> Resistance:
    """Resistance of drawn copper between two pads ``REF.PIN``, parts taken as absent.

    Raises
    ------
    UnknownNameError
        No such pad.
    UsageError
        The pads are the same, or on different nets.
    """
    one, two = pad_named(board, a), pad_named(board, b)
    if one.index == two.index:
        raise UsageError(f"{a} and {b} are one pad", hint="name two pads of one net")
    for name, pad in ((a, one), (b, two)):
        if pad.net is None:
            raise UsageError(f"{name} is on no net", hint="name two pads of one net")
    if one.net is None or one.net != two.net:
        raise UsageError(
            f"{a} is on {one.net}, {b} on {two.net}",
            hint="copper joins pads of one net; for places where two nets meet: netgraph path",
        )
    net = one.net
    copper = net_copper(board, net)
    if isinstance(copper, CopperUnknown):
        return _unknown(net, one.index, two.index, copper.why)
    ports = ports_of(copper)
    i, j = copper.pads.index(one.index), copper.pads.index(two.index)
    islands, remarks = _islands(ports), _remarks(board, copper)
    if ports.island[i] != ports.island[j]:
        why = reason("copper-apart", a=a, b=b, net=net)
        return Resistance(
            net, one.index, two.index, why, None, None, None, (), islands, copper, remarks
        )
    ohms = ports.ohms(i, j)
    amps = ports.amps_between(i, [j])
    why = reason("copper-ohms", a=a, b=b, milliohms=float(f"{1e3 * ohms:.3g}"))
    return Resistance(
        net,
        one.index,
        two.index,
        why,
        ohms,
        _mesh_error(board, copper, i, j, ohms),
        amps if isfinite(amps) else None,
        (Pair(one.index, two.index, ohms),),
        islands,
        copper,
        remarks,
    )


def net_resistances(board: Board, net: str, origin: Pad | None = None) -> Resistance:
    """Resistances between all pads of a net, or from one pad `origin` to all others.

    Pairs of pads on different pieces of copper are left out; `islands` tells of them.

    Raises
    ------
    UnknownNameError
        The board has no such net.
    """
    first = None if origin is None else origin.index
    pads = len(board.pads_on_net(net))
    if origin is None and pads > limits.MAX_RANKING_PORTS:
        why = reason("copper-table-large", net=net, pads=pads, most=limits.MAX_RANKING_PORTS)
        return _unknown(net, None, None, why)
    copper = net_copper(board, net, max_cells=limits.MAX_RANKING_CELLS)
    if isinstance(copper, CopperUnknown):
        return _unknown(net, first, None, copper.why)
    ports = ports_of(copper)
    pairs: list[Pair] = []
    if origin is None:
        table = ports.matrix()
        rows, columns = np.triu_indices(len(table), 1)
        for i, j in zip(rows.tolist(), columns.tolist(), strict=True):
            if table[i, j] < inf:
                pairs.append(Pair(copper.pads[i], copper.pads[j], float(table[i, j])))
    else:
        i = copper.pads.index(origin.index)
        for j, pad in enumerate(copper.pads):
            if j != i and (ohms := ports.ohms(i, j)) < inf:
                pairs.append(Pair(origin.index, pad, ohms))
    pairs.sort(key=lambda pair: (pair.ohms, pair.a, pair.b))
    why = reason("copper-table", net=net, pairs=len(pairs), pads=len(copper.pads))
    return Resistance(
        net,
        first,
        None,
        why,
        None,
        None,
        None,
        tuple(pairs),
        _islands(ports),
        copper,
        _remarks(board, copper),
    )


def _unknown(net: str, a: int | None, b: int | None, why: Reason) -> Resistance:
    return Resistance(net, a, b, why, None, None, None, (), (), None, ())


def _mesh_error(board: Board, copper: NetCopper, i: int, j: int, ohms: float) -> float | None:
    """How far the answer moves with larger cells; None where these can't tell."""
    if not copper.cells:
        return 0.0
    coarse = net_copper(board, copper.net, cell_nm=COARSER * copper.cell_nm)
    if isinstance(coarse, CopperUnknown):
        return None
    again = ports_of(coarse).ohms(i, j)
    return abs(again - ohms) if isfinite(again) else None


def _islands(ports: Ports) -> tuple[tuple[int, ...], ...]:
    found: dict[int, list[int]] = {}
    for port, island in enumerate(ports.island.tolist()):
        found.setdefault(island, []).append(ports.copper.pads[port])
    return tuple(sorted((tuple(one) for one in found.values()), key=lambda one: (-len(one), one)))


def _remarks(board: Board, copper: NetCopper) -> tuple[Reason, ...]:
    """What was assumed, and what the model leaves out."""
    found = []
    sheets = copper.sheets
    if sheets.assumed:
        found.append(reason("copper-thickness-assumed", layers=sheets.assumed))
    else:
        found.append(reason("copper-thickness-said"))
    if sheets.gaps_assumed and len(board.copper_layers) > 1:
        found.append(reason("copper-gaps-assumed"))
    found.append(reason("copper-plating-assumed"))
    if copper.open_lands:
        found.append(reason("copper-drills-assumed", vias=copper.open_lands))
    return tuple(found)
