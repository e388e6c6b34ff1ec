# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences of the `rails` room."""

RAIL_WORDS: dict[str, str] = {
    "boost": "coil {coil} runs from {net} to its switch node, and {out} lies behind it: a boost "
    "converter",
    "buck": "coil {coil} joins its switch node to this rail; it takes the power from {net}",
    "buck-boost": "coil {coil} lies between two switch nodes: the converter makes this rail from "
    "{net}, whether that has more or fewer volts",
    "inverting": "coil {coil} runs from its switch node to ground: the converter makes this "
    "negative rail from {net}",
    "charge-pump": "it pumps charge through capacitors between its own pins; it takes the power "
    "from {net}",
    "pin-in-out": "its output pin drives this rail, its input pin takes the power from {net}",
    "between-supplies": "it stands between {net} and this rail; no pin name tells the direction",
    "only-supply": "it is the only regulator on this rail",
    "power-path": "its power path makes this rail from {net}",
    "charges": "it charges the cell from {net}",
    "manager-output": "pin {pin} of the power manager is an output",
    "manager-pin": "pin {pin} of the power manager is on it",
    "manager-pins": "{count:pin|pins} of the power manager on it; it may as well be an input",
    "input-guessed": "its pins have no names, and {other} could be its input as well",
    "bypass-only": "nothing but this chip and its bypass capacitors is on it: an output of the "
    "chip's own regulator",
    "passes-on": "it passes the supply on from {net}",
    "diode": "it conducts from {net} to this rail",
    "transistor": "it switches the supply from {net}",
    "selects": "its cap may join this rail to {net}",
    "back-to-back": "together with {other}, in series with it, it switches the supply from {net}",
    "source-unsure": "how {net} itself is fed is not sure",
    "only-way": "no other part and no connector could feed it",
    "nothing-else": "its name says volts, and no part on the board could feed it",
    "rival-feeder": "{ref} could feed it as well",
    "stranger": "{ref} is on it too, and what that is for is not known: it may feed it",
    "volts-against": "the volts in the names {net} and {to} speak against it",
    "divider-top": "it is the upper resistor of a divider that makes this reference from {net}",
    "transformer": "its windings join {net} to this rail",
    "big-chip": "no better feeder was found, and {ref} is the only large chip on it",
    "bridge": "it rectifies the input to this rail",
    "entry-cell": "the cell or its connector {ref} is on it",
    "entry-connector": "connector {ref} brings this supply in",
    "entry-unfed": "nothing on the board feeds it, and connector {ref} is on it",
    "no-feeder": "nothing on the board is known to feed it",
    "user-entry": "a person said in the board notes that nothing on the board feeds it: power "
    "comes in here",
    "user-feeder": "a person named the feeder in the board notes",
}
