# SPDX-License-Identifier: GPL-3.0-or-later
"""``python -m netgraph`` is the command `netgraph`."""

from netgraph.cli.main import run

if __name__ == "__main__":
    run()
