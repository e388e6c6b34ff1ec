# SPDX-License-Identifier: GPL-3.0-or-later
"""The machine-readable contract: `answers` makes each JSON answer, `models` says its form.

`answers` needs no pydantic, so that a command answers fast; tests hold the two together.
"""
