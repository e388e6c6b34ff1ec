# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences of the `circuit` room."""

CIRCUIT_WORDS: dict[str, str] = {
    "circuit-not-modelled": "what these parts conduct at rest is not known, so they are left out "
    "({count}): {parts}",
    "circuit-direction-unsure": "what or which way these parts conduct is assumed, not read from "
    "the file ({count}): {parts}",
    "predict-card-skipped": "line {line}: a card of kind {kind} asks nothing that this model "
    "answers",
    "predict-no-supply": "a card of kind {kind} needs a supply that stands on the board at rest: a "
    "draw or inject card before it",
    "predict-needs-running": "a card of kind {kind} speaks of a running board; the model knows the "
    "board at rest only",
    "predict-no-answer": "no answer for {kind} at {at}: {why}",
}
