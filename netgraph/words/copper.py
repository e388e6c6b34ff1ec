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
}
