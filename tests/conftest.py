"""The end of a run: what was not tried."""

from __future__ import annotations

import pytest

from tests import skipped


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """One line for each kind of test that was skipped, in place of a line for each."""
    reports = terminalreporter.stats.get("skipped", [])
    reasons = [report.longrepr[2] for report in reports if isinstance(report.longrepr, tuple)]
    if reasons:
        terminalreporter.section("not tried")
    for line in skipped.lines(reasons):
        terminalreporter.write_line(line)
