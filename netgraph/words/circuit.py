# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences of the `circuit` room."""

CIRCUIT_WORDS: dict[str, str] = {
    "circuit-not-modelled": "what these parts conduct at rest is not known, so they are left out "
    "({count}): {parts}",
    "circuit-direction-unsure": "what or which way these parts conduct is assumed, not read from "
    "the file ({count}): {parts}",
}
