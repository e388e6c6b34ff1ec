# SPDX-License-Identifier: GPL-3.0-or-later
"""Readings: bench cards and the state of the bench they tell of.

No costs, no HTTP, no SQL here; files are opened by ``netgraph.formats.reading``.
"""
