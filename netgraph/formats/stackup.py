# SPDX-License-Identifier: GPL-3.0-or-later
"""The stack-up of a KiCad board: layers top to bottom, with what is known of their thickness."""

from __future__ import annotations

from netgraph import limits
from netgraph.formats.sexpr import Tree, atom, child, number
from netgraph.model.copper import StackLayer, Stackup


def read_stackup(general: Tree | None, stackup: Tree | None) -> Stackup:
    """The stack-up from the nodes ``general`` and ``stackup``; either may be missing.

    A thickness that is no number is unknown. Where no copper layer has a thickness, the stack-up
    is marked as assumed.
    """
    layers = [
        StackLayer(
            atom(one) or "",
            atom(child(one, "type")) or "",
            _thickness(one),
            atom(child(one, "material")) or "",
        )
        for one in stackup or []
        if isinstance(one, list) and one and one[0] == "layer"
    ]
    known = any(layer.kind == "copper" and layer.thickness_nm for layer in layers)
    return Stackup(tuple(layers), _thickness(general or []), assumed=not known)


def _thickness(tree: Tree) -> int | None:
    text = atom(child(tree, "thickness"))
    try:
        value = None if text is None else number(text) * 1e6
    except ValueError:
        return None
    return None if value is None or abs(value) > limits.MAX_COORDINATE_NM else round(value)
