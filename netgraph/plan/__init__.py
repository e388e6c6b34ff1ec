# SPDX-License-Identifier: GPL-3.0-or-later
"""What to keep, what may come off, where to inject and up to what: decisions as pure functions.

Takes a board, roles and a rail tree; knows no readings and not where weights come from.
"""
