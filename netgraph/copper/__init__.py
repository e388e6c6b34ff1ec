# SPDX-License-Identifier: GPL-3.0-or-later
"""Resistance of drawn copper between the pads of a net. Knows no roles, no readings."""
