# SPDX-License-Identifier: GPL-3.0-or-later
"""Generator of the invented sample board: netlist, footprints, placement, copper, file."""
