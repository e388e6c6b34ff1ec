# SPDX-License-Identifier: GPL-3.0-or-later
"""A hash of what is joined to what, by which board notes find their board again."""

from __future__ import annotations

import hashlib

from netgraph.model.board import Board


def netlist_fingerprint(board: Board) -> str:
    """SHA-256 over the sorted (reference, pin, net) triples of all connected pads.

    Independent of the file's name, of the order of parts and pads, of positions, values and
    footprints. A pin with several copper pads counts once; the file's own references are used,
    not identities, since identities of repeated references depend on the order.

    Returns
    -------
    str
        64 hex digits.
    """
    c = board.columns
    refs = [part.ref for part in board.parts]
    names = [net.name for net in board.nets]
    triples = {
        (refs[part], pin, names[net])
        for part, pin, net in zip(c.part.tolist(), c.pin, c.net.tolist(), strict=True)
        if net >= 0
    }
    digest = hashlib.sha256()
    for triple in sorted(triples):
        for text in triple:
            raw = text.encode("utf-8", "surrogatepass")
            digest.update(len(raw).to_bytes(4, "big"))
            digest.update(raw)
    return digest.hexdigest()
