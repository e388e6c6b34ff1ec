# SPDX-License-Identifier: GPL-3.0-or-later
"""Options and settings of all tests.

``NETGRAPH_PROFILE``  ``ci`` (default) or ``deep``: how many random examples, and whether tests
                      marked `deep` run.
``NETGRAPH_TESTS``    ``full``: a skipped test is a failed test.
``NETGRAPH_BOARDS``   folder of the real boards; default ``../shared/boards`` beside the repository.
"""

from __future__ import annotations

import os
from collections.abc import Generator
from pathlib import Path

import hypothesis
import pytest

from tests import support

PROFILE = os.environ.get("NETGRAPH_PROFILE", "ci")
FULL = os.environ.get("NETGRAPH_TESTS") == "full"

hypothesis.settings.register_profile(
    "ci", deadline=None, derandomize=True, max_examples=100, print_blob=True
)
hypothesis.settings.register_profile(
    "deep",
    deadline=None,
    max_examples=2000,
    print_blob=True,
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
)
hypothesis.settings.load_profile(PROFILE)


class SkipIsFailure:
    """Turns each skip, of a test, a doctest or a whole file, into a failure with its reason."""

    @staticmethod
    def turn(report: pytest.TestReport | pytest.CollectReport) -> None:
        if report.skipped and not hasattr(report, "wasxfail"):
            reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
            report.outcome = "failed"
            report.longrepr = f"NETGRAPH_TESTS=full allows no skip; {reason}"

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_makereport(self) -> Generator[None, pytest.TestReport, pytest.TestReport]:
        report = yield
        self.turn(report)
        return report

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(
        self,
    ) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
        report = yield
        self.turn(report)
        return report


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update-golden",
        action="store_true",
        help="write the files in tests/golden anew; look at the difference before you commit it",
    )


def pytest_configure(config: pytest.Config) -> None:
    if FULL:
        # a plug-in of its own: this file's hooks would not see the doctests in netgraph/
        config.pluginmanager.register(SkipIsFailure(), "skip-is-failure")
    if hasattr(support, "SoftCheckWarning"):
        # these are to be read in the summary; all other warnings are errors
        config.addinivalue_line("filterwarnings", "default::tests.support.SoftCheckWarning")


def pytest_report_header() -> str:
    place = "found" if _boards().is_dir() else "not found"
    return f"netgraph: profile {PROFILE}, full {'yes' if FULL else 'no'}, real boards {place}"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave tests marked `deep` out of other profiles: not asked for is not a skip."""
    if PROFILE == "deep" or "deep" in str(config.getoption("markexpr")):
        return
    left_out = [item for item in items if item.get_closest_marker("deep")]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("deep")]


def _boards() -> Path:
    named = os.environ.get("NETGRAPH_BOARDS")
    return Path(named) if named else support.ROOT.parent / "shared" / "boards"


@pytest.fixture(scope="session")
def boards_dir() -> Path:
    """The folder of the real boards; skips where it is not."""
    if not _boards().is_dir():
        pytest.skip("no real boards here; NETGRAPH_BOARDS says where they lie")
    return _boards().resolve()


@pytest.fixture
def update_golden(request: pytest.FixtureRequest) -> bool:
    """Whether files in tests/golden are to be written anew."""
    return bool(request.config.getoption("--update-golden"))
