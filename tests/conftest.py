"""How a run of the tests ends."""

from __future__ import annotations

import pytest

from tests.skipped import lines


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """One line for each kind of test that was not tried, and how to have it tried."""
    told = lines(str(report.longrepr[2]) for report in terminalreporter.stats.get("skipped", []))
    if told:
        terminalreporter.section("not tried")
    for line in told:
        terminalreporter.write_line(line)
