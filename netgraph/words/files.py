# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences about what a file leaves open; they go with every answer about its board."""

FILE_WORDS: dict[str, str] = {
    "untraced": (
        "only what was traced is known ({pads:pad|pads} on {nets:net|nets}); other parts may sit "
        "on any of these nets, and what is not listed is untraced, not absent"
    ),
    "template": (
        "this is a plain template of a {device}, no board: every part and net stands for what "
        "such a device usually has, until it is replaced by what is found"
    ),
    "assumed-pads": (
        "{count:pad is|pads are} assumed, not traced: an answer that rests on them is no surer "
        "than they are, whatever its figure says"
    ),
    "no-netlist": "the file holds no netlist: which pads are joined is not known",
    "no-sides": "on which side a part or its pads lie is not known",
    "pin-on-two-nets": (
        "the file has {pad} on {net_a} and on {net_b}: neither net is sure until the file is mended"
    ),
    "no-pad-places": "places of pads are not known: near places and distances can't be given",
    "some-pad-places": (
        "places are not known for {count:part|parts}, so distances and near places are not given: "
        "{names}"
    ),
    "pad-sizes-assumed": "sizes of pads were not measured: gaps between them are rough",
    "pads-off-picture": (
        "{count:pad or part is|pads or parts are} noted outside the picture of the side: another "
        "picture, or a slip; what is near there is not sure: {names}"
    ),
    "points-off-picture": (
        "points of known place lie outside the picture ({names}): another picture, or a slip; no "
        "place and no distance is sure"
    ),
    "names-cut": (
        "{count:net name|net names} may be cut at {width} characters; each may stand for several "
        "nets that differ before the cut: {names}"
    ),
    "parts-cut": (
        "{count:designator stands|designators stand} for several parts, cut at 6 characters; the "
        "parts were told apart by their places: {names}"
    ),
    "names-made": (
        "the file gives no name to {count:net|nets}; such a net is called after a pad on it"
    ),
    "net-of-which": (
        "net {net} of {file} may be {nets} of the files before it: their pads don't tell, so what "
        "only {file} has on it is kept apart; measure, and name the net alike in both files"
    ),
    "files-disagree": (
        "{file} and what was read before it differ in {count:thing|things}; the earlier file wins, "
        "and netgraph merge lists all"
    ),
    "apart-but-joined": (
        "{pads} were measured and are not joined, yet both are on {net} by the files: an open "
        "track, a slip, or another board's file; {net} is not sure until that is looked into"
    ),
    "joined-but-apart": (
        "{pads} were found to be joined, yet a file has them on {nets}: the fault itself, a slip, "
        "or another board's file; these nets are not sure until that is looked into"
    ),
    "alone-but-joined": (
        "{pads} was found to join nothing, yet a file has it on {net}: an open track, a slip, or "
        "another board's file; {net} is not sure until that is looked into"
    ),
    "files-differ-in-case": (
        "no part of {file} is one of those read before it, though some differ only in upper and "
        "lower case: write the designators alike"
    ),
    "files-share-nothing": (
        "{file} and what was read before it have no part in common: files of two boards, or "
        "other designators?"
    ),
    "files-of-two-boards": (
        "{file} says something else than what was read before it in {odd} of {all} nets and "
        "values that both tell: are they files of one board?"
    ),
    "boards-apart": (
        "the boards of the assembly are laid side by side; places are those of the assembly, "
        "distances from board to board mean nothing"
    ),
    "boards-copper": (
        "drawn copper is not joined: where it runs and what it resists is answered for one board "
        "at a time ({names})"
    ),
    "mates-open": "unplugged: {names}; what hangs behind is not joined in this answer",
    "nets-through-mates": (
        "{nets} of one board are one net here, joined by {pads}: a slip in the pins, a fault, or "
        "meant; check before power"
    ),
    "names-volts-differ": (
        "{net} and {other} are one net here, and their names say different volts: a slip in the "
        "pins, a fault, or files of two boards; the lower volts count, check before power"
    ),
    "mate-again": (
        "{where}: {part} mates with {count:part|parts} at once, all of it plugged in: {others}"
    ),
    "mate-pins-unknown": (
        "{where}: {names} not in the board's file, so nothing is joined there: a slip in the "
        "table, or not traced yet"
    ),
    "mate-of-one-board": "{where}: {a} and {b} are of one board and mate with each other",
    "pins-unmated": "{count:pin|pins} of {names} without a partner: nothing is joined there",
    "rails-joined": (
        "named nets are one net by what was traced: {names}; a fault joins nets too, and if this "
        "is the fault itself take that line back"
    ),
    "trace-rails-joined": (
        "{a} and {b} are one net now. If that is the fault itself, take the line back: a fault is "
        "no net"
    ),
    "trace-taken-in": (
        "another program saved {count:line|lines} in this file meanwhile; taken in, nothing is lost"
    ),
    "trace-gave-way": "the assumed line {line} gives way to what was found",
    "trace-pads-gave-way": (
        "of the assumed line {line} these pads give way to what was found: {pads}; the rest of it "
        "stays"
    ),
    "trace-line-gave-way": (
        "the assumed line {line} gives way to what was found, for it spoke of {pads}"
    ),
    "trace-changed": "{part} was {was} and is {now} now",
    "trace-case": (
        "{part} and {known} differ in upper and lower case only and count as two parts; take the "
        "line back if they are one"
    ),
    "photo-lines-gone": "traced lines that went with it, for they spoke of nothing else: {count}",
    "photo-lines-changed": "traced lines that spoke of it were changed",
    "photo-mirrored": (
        "the points turn the picture over, which a photograph of this side does not do: "
        "millimetres run right and down as seen from the top, for the bottom too"
    ),
    "photo-stretched": (
        "a pixel is {most} mm one way and {least} mm the other: the points are wrong, or the "
        "picture was taken aslant"
    ),
    "photo-three-points": "three points always fit; a fourth shows how well",
    "photo-other-picture": (
        "this is another picture of the {side} than the one noted before: look whether its "
        "points and pads still lie right"
    ),
    "photo-notes-gone": "notes on {names} were taken away: the board has no such names any more",
    "ceiling-not-held": (
        "{part} is off, which held {net} at its volts; {net} comes alive with {fed} and may rise "
        "as high: no figure is safe"
    ),
    "ceiling-untraced": (
        "only a part of this board is traced: what else comes alive is not known, so no ceiling"
    ),
    "ceiling-name-cut": (
        "{net} may stand for several nets, its name being cut or its pins told in two ways: no "
        "ceiling; merge a netlist with whole names, or measure"
    ),
    "lift-untraced": (
        "what else hangs on the nets of {part} is not traced and may need it: trace on along them, "
        "or, where you know that it is not needed, say so in a note"
    ),
    "lift-name-cut": (
        "{net} may be several nets, its name being cut or its pins told in two ways; what {part} "
        "does can't be told"
    ),
}
