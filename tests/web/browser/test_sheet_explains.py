"""Five blunders of Marrow Fen made again at the well: named while the person still stands there, with what to do."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.web.browser.sheet_server import FenOffice
from tests.web.browser.sheet_steps import arrive, paired_with_round, read_chalk

pytestmark = pytest.mark.slow
UNLIKE = "Unlike this well."


def read_electric(page: Any, values: list[str]) -> None:
    """A set by electric tape."""
    page.get_by_role("button", name="+ electric tape").click()
    for place, value in enumerate(values):
        if place:
            page.locator("#set-1-another").click()
        page.locator(f"#set-1-repeat-{place}-value").fill(value)


def sounded(page: Any, value: str, interval: str) -> None:
    """A set by weighted tape."""
    page.get_by_text("Another method").click()
    page.get_by_role("button", name="+ weighted tape").click()
    page.get_by_label("weight interval").first.fill(interval)
    page.locator("#set-1-repeat-0-value").fill(value)


BLUNDERS: tuple[tuple[str, str, Callable[[Any], None]], ...] = (
    ("MF-01", "whole mark misread", lambda page: read_chalk(page, [("34.00", "1.50")])),
    ("MF-12", "hold and cut swapped", lambda page: read_chalk(page, [("1.20", "100.00")])),
    ("MF-11", "wrong well", lambda page: read_chalk(page, [("16.00", "2.30"), ("17.00", "3.31")])),
    ("MF-10", "one repeat misread", lambda page: read_chalk(page, [("16.00", "2.30"), ("17.00", "3.70")])),
    ("MF-05", "feet for metres", lambda page: read_chalk(page, [("9.00", "1.00")])),
)


@pytest.mark.parametrize(("code", "name", "read"), BLUNDERS, ids=[name for _, name, _ in BLUNDERS])
def test_a_blunder_is_explained_at_the_well_with_no_signal(
    phone: Any, office: FenOffice, code: str, name: str, read: Callable[[Any], None]
) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01", "MF-05", "MF-10", "MF-11", "MF-12"])
    context.set_offline(True)
    arrive(page, code)
    read(page)
    page.keyboard.press("Tab")
    told = page.locator(".told", has_text=UNLIKE)
    told.wait_for()
    assert name in told.inner_text()
    assert "Do now:" in told.inner_text()


def test_nothing_is_explained_before_the_first_reading_stands_nor_when_it_is_as_expected(
    phone: Any, office: FenOffice
) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    page.get_by_role("button", name="+ chalked tape").click()
    page.locator("#set-1-repeat-0-hold").fill("34.00")
    page.locator("#set-1-repeat-0-cut").type("1.50")
    page.locator(".value").wait_for()
    assert page.get_by_text(UNLIKE).count() == 0
    page.locator("#set-1-repeat-0-hold").fill("24.00")
    page.keyboard.press("Tab")
    page.get_by_text("Within the expected range").wait_for()
    page.wait_for_timeout(1500)
    assert page.get_by_text(UNLIKE).count() == 0
