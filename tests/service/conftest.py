# SPDX-License-Identifier: GPL-3.0-or-later
"""A fresh service for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.service.client import Bench, bench


@pytest.fixture
def on_bench(tmp_path: Path) -> Iterator[Bench]:
    made = bench(tmp_path / "data")
    yield made
    made.close()
