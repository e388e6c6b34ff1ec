# SPDX-License-Identifier: GPL-3.0-or-later
"""``python -m benchmarks`` runs all benchmarks there are."""

from benchmarks.read_boards import main

if __name__ == "__main__":
    main()
