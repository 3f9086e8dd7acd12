"""Five blunders of Marrow Fen made again at the well: named while the person still stands there, with what to do."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from tapedown.values.wells import PointHeight
from tapedown.work.expected.expecting import expected_on
from tapedown.work.networks import open_network
from tapedown.work.wells.history import history
from tests.web.browser.sheet_server import FenOffice
from tests.web.browser.sheet_steps import arrive, paired_with_round, read_chalk

pytestmark = pytest.mark.slow
UNLIKE = "Unlike this well."
FT = 0.3048
Pairs = list[tuple[str, str]]


def below_point_ft(office: FenOffice, code: str) -> float:
    """What the tape should find today below the measuring point: the sheet takes the day from the clock."""
    network = open_network(office.folder)
    with network.record:
        told = history(network, code)
        day = datetime.now(UTC).date().isoformat()
        level = expected_on(told, day, network.settings).level
        point: PointHeight | None = told.file.in_force("measuring point", day)
    assert level is not None
    assert point is not None
    return (level.middle_m + point.height_m) / FT


def pair(depth_ft: float, more: int = 2) -> tuple[str, str]:
    """A hold on a whole mark and its cut."""
    hold = math.ceil(depth_ft) + more
    return f"{hold:.2f}", f"{hold - depth_ft:.2f}"


def ten_more(depth_ft: float) -> Pairs:
    hold, cut = pair(depth_ft)
    return [(f"{float(hold) + 10:.2f}", cut)]


def swapped(depth_ft: float) -> Pairs:
    hold, cut = pair(depth_ft)
    return [(cut, hold)]


BLUNDERS: tuple[tuple[str, str, str, Callable[[float], Pairs]], ...] = (
    ("MF-01", "MF-01", "whole mark misread", ten_more),
    ("MF-12", "MF-12", "hold and cut swapped", swapped),
    ("MF-11", "MF-02", "wrong well", lambda depth: [pair(depth), pair(depth + 0.01, 3)]),
    ("MF-02", "MF-02", "one repeat misread", lambda depth: [pair(depth), pair(depth + 0.43, 3)]),
    ("MF-05", "MF-05", "feet for metres", lambda depth: [pair(depth * FT)]),
)
"""The well, the well truly read, what happened, the readings from the true depth below its measuring point."""


@pytest.mark.parametrize(("code", "read_at", "name", "pairs"), BLUNDERS, ids=[one[2] for one in BLUNDERS])
def test_a_blunder_is_explained_at_the_well_with_no_signal(
    phone: Any, office: FenOffice, code: str, read_at: str, name: str, pairs: Callable[[float], Pairs]
) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01", "MF-02", "MF-05", "MF-11", "MF-12"])
    context.set_offline(True)
    arrive(page, code)
    read_chalk(page, pairs(below_point_ft(office, read_at)))
    page.keyboard.press("Tab")
    told = page.locator(".told", has_text=UNLIKE)
    told.wait_for()
    assert name in told.inner_text()
    assert "Do now:" in told.inner_text()


def test_nothing_is_explained_before_the_first_reading_stands_nor_when_it_is_as_expected(
    phone: Any, office: FenOffice
) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    hold, cut = pair(below_point_ft(office, "MF-01"))
    arrive(page, "MF-01")
    page.get_by_role("button", name="+ chalked tape").click()
    page.locator("#set-1-repeat-0-hold").fill(f"{float(hold) + 10:.2f}")
    page.locator("#set-1-repeat-0-cut").type(cut)
    page.locator(".value").wait_for()
    page.locator("#set-1-repeat-0-hold").fill(hold)
    assert page.get_by_text(UNLIKE).count() == 0
    page.keyboard.press("Tab")
    page.get_by_text("Within the expected range").wait_for()
    page.wait_for_timeout(1500)
    assert page.get_by_text(UNLIKE).count() == 0
