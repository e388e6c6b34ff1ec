# SPDX-License-Identifier: GPL-3.0-or-later
"""Gates and the ordered plan: plans of the board and readings of the bench, put together.

No HTTP, no SQL, no files and no clock here.
"""
