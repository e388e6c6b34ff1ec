# SPDX-License-Identifier: GPL-3.0-or-later
"""Measurements against other readers, run by hand; no part of the tests."""
