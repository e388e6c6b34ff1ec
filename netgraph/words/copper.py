# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences of the copper room: what the resistance of drawn copper can and can't say."""

COPPER_WORDS: dict[str, str] = {
    "copper-no-format": (
        "the board's file holds no copper, so resistances on {net} are not known; a KiCad board "
        "file has it"
    ),
    "copper-unfilled": (
        "a zone of {net} is not filled in the file, so the resistance is not known; fill all zones "
        "and save the board in KiCad"
    ),
    "copper-none": "no copper of {net} is drawn in the file, so the resistance is not known",
    "copper-too-large": (
        "the copper of {net} ({mm2} mm2) is too large for the limits of this program; the "
        "resistance is not computed"
    ),
    "copper-unreadable": (
        "the drawn copper can't be read ({error}), so no resistance of {net} is known"
    ),
    "copper-many-pads": (
        "{net} has more than {most} pads, so its copper is not looked at for the order of points"
    ),
    "copper-no-suspect": (
        "no part that could be the short is on {net}, so no resistance can be weighted"
    ),
    "points-by-copper": (
        "the pad with the least copper between it and the {suspects} suspect parts on {net} comes "
        "first, each as suspect as its weight says"
    ),
    "points-by-copper-pieces": (
        "the copper of {net} is drawn in {pieces} pieces: pads on the piece with most of the "
        "{suspects} suspect parts come first, and of these the one with the least copper between "
        "it and them"
    ),
    "points-by-access": "points of {net} by access alone, as asked",
    "points-none": "no pad of {net} is good to touch, so none is put in an order",
    "point-copper": (
        "{part} ({role}), {milliohms} milliohm of copper from the suspects in the mean"
    ),
    "inject-narrow": (
        "the narrowest track on {net} between these points and the suspects bears {amps} A if it "
        "may warm by {kelvin} K (IPC-2221): never set the current limit higher"
    ),
    "copper-apart": (
        "{a} and {b} lie on two pieces of copper: nothing drawn joins them, though both are on "
        "{net}"
    ),
    "copper-ohms": "{milliohms} milliohm of drawn copper between {a} and {b}, at 20 C",
    "copper-table": "{pairs} pairs of the {pads} pads on {net}, at 20 C",
    "copper-table-large": (
        "{net} has {pads} pads, more than {most}: ask for two of them, or from one to all others"
    ),
    "copper-thickness-assumed": (
        "35 um of copper assumed on the layers for which the file is silent ({layers}); real "
        "boards differ by 20 % and more"
    ),
    "copper-thickness-said": (
        "copper as thick as the file says; real boards differ by 20 %, outer layers by their "
        "plating"
    ),
    "copper-gaps-assumed": (
        "layers taken as evenly apart over the thickness of the board; it counts for vias only"
    ),
    "copper-plating-assumed": "walls of vias taken as 25 um; a filled or thin-walled via differs",
    "copper-drills-assumed": (
        "the file leaves the drill of {vias} vias open; half their land is taken"
    ),
}
