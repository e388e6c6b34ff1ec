# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences about the way of the data, sets of lifts, cuts and splits (room `plan`)."""

_ROUTE = {
    "route-card-first": (
        "take the card out of {cards} and image it first: it costs nothing and may be all there is"
    ),
    "route-in-circuit-first": (
        "the data lie in {parts}, soldered: let the board run, or read them in place; taking the "
        "chip off comes last"
    ),
    "route-find-first": "no part that stores data was found: name it in the board notes first",
    "chip-off-none": "nothing to read by itself was found",
    "chip-off-card": "the data lie on the card in {cards}, which any reader takes",
    "chip-off-plain": (
        "{parts} holds the data in the clear, as you say: read in circuit with the processor held "
        "in reset if that can be done, else off the board"
    ),
    "chip-off-keyed": (
        "the key to {parts} lies in the processor, as you say: off this board the data can't be "
        "read; the board has to run, or the paired set has to move together"
    ),
    "chip-off-unknown": (
        "a netlist doesn't tell whether {parts} is encrypted; find out what the device does before "
        "anything is taken off (most devices with a screen lock bind the key to the processor)"
    ),
    "chip-off-secure": (
        "{chip} may hold the key to {parts}: taken as bound to this board until you know better"
    ),
}

_SET = {
    "set-safe": (
        "{goal} lives without {parts} together; rails that stop: {lost}, none of them needed"
    ),
    "set-safe-with-wires": (
        "{goal} lives without {parts} together once wires take the place of those that carry a "
        "supply"
    ),
    "set-kills": "without {parts} the {kind} {name} is dead, which the goal needs",
}

_ISOLATE = {
    "cut-verify": (
        "then measure {near} and {far} to ground, one by one: the short stays on the side of the "
        "fault; if both still read low the cut is not complete"
    ),
    "cut-none-needed": "no supply path joins {net} to anything the goal needs",
    "cut-impossible": (
        "{net} is itself needed, so nothing can be cut between it and the goal: remove the fault"
    ),
    "cut-by-parts": "{parts} off (cost {cost}) separates {net} from {kept}",
    "cut-copper": (
        "no set of parts separates {net} from {kept}: the copper itself joins them, and a track or "
        "plane would have to be cut"
    ),
    "cut-back-feed": "{part} has pins on both sides and may still pass a junction's current",
    "cut-kept-on-side": "{part}, which the goal needs, stays on the side of the fault",
    "split-at": (
        "open {parts}: of the suspicion on {net} {share} % lie behind and the rest before; one "
        "reading on each side says which half"
    ),
    "split-nothing": (
        "no series part on {net} can be opened to halve it: inject and look for warmth, or lift by "
        "the list"
    ),
}

CUT_WORDS: dict[str, str] = {**_ROUTE, **_SET, **_ISOLATE}
