"""The bottom: nearly constant, only shallower with time, new after a leap that is borne out or has a reason."""

from __future__ import annotations

import pytest

from tapedown.analysis.expected_bottom import Depth, Reason, completed_bottom, expected_bottom
from tapedown.engine.expected.next_reading import Range, bottom_on, range_of
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedBottom
from tapedown.values.settings import Settings
from tapedown.values.units import FOOT_M

START = day_number("2015-05-01")


def years(number: float) -> int:
    return START + round(365.25 * number)


def sounded(*rows: tuple[float, float], reasons: tuple[Reason, ...] = (), u_ft: float = 0.02) -> ExpectedBottom:
    """From (years since the start, depth in feet)."""
    found = expected_bottom([Depth(years(y), ft * FOOT_M, u_ft * FOOT_M) for y, ft in rows], reasons)
    assert found is not None
    return found


def feet(expected: ExpectedBottom, at_years: float) -> Range:
    found = range_of(bottom_on(expected, date_text(years(at_years)), Settings("ft")))
    return Range(found.low_m / FOOT_M, found.high_m / FOOT_M, found.how)


def test_a_bottom_that_stood_still_is_expected_there() -> None:
    found = feet(sounded(*((float(y), 82.0) for y in range(8))), 8.5)
    assert 81.8 < found.low_m < 82.0 < found.high_m < 82.1


def test_the_range_is_no_narrower_than_a_soundings_own_uncertainty() -> None:
    fine, coarse = (feet(sounded(*((float(y), 82.0) for y in range(8)), u_ft=u), 8.0) for u in (0.02, 0.5))
    assert coarse.high_m - coarse.low_m > 2 * 1.96 * 0.5
    assert coarse.high_m - coarse.low_m > 5 * (fine.high_m - fine.low_m)


@pytest.mark.parametrize(("scatter_ft", "factor2"), [(0.0, 1.0), (0.01, 1.0), (0.06, None)])
def test_soundings_that_scatter_more_than_foretold_are_trusted_less(scatter_ft: float, factor2: float | None) -> None:
    """Worked by hand: 82 ft with + - - + the same, so no trend; each good to (0.02^2 + 0.03^2)^1/2 ft. What is
    foretold counts as six soundings, so the variance grows by (6 + 4 s^2 / 0.0013) / 9, never shrinks.
    """
    signs = (1, -1, -1, 1)
    found = sounded(*((float(y), 82.0 + sign * scatter_ft) for y, sign in enumerate(signs)))
    each_ft2 = 0.02**2 + 0.03**2
    grown = factor2 if factor2 is not None else (6 + 4 * scatter_ft**2 / each_ft2) / 9
    assert found.depth_m == pytest.approx(82.0 * FOOT_M)
    assert found.u_depth_m == pytest.approx((grown * each_ft2 / 4) ** 0.5 * FOOT_M, rel=1e-3)
    assert found.dof == pytest.approx(1 / (1 / 10 + 1 / 9))


def test_a_well_that_fills_goes_on_filling() -> None:
    found = feet(sounded(*((float(y), 82.0 - 0.6 * y) for y in range(6))), 7.0)
    assert found.low_m < 82.0 - 0.6 * 7 < found.high_m
    assert "filling 0.59" in found.how


def test_a_bottom_that_went_down_a_little_is_not_expected_to_go_on() -> None:
    found = sounded(*((float(y), 82.0 + 0.02 * y) for y in range(6)))
    assert found.rate_m_yr >= 0
    assert bottom_on(found, date_text(years(20.0)), Settings("ft")).middle_m <= found.depth_m


def test_after_one_sounding_it_may_have_come_up_more_than_gone_down() -> None:
    found = feet(sounded((0.0, 82.0)), 5.0)
    assert 82.0 - found.low_m > found.high_m - 82.0 > 0


def test_one_sounding_apart_does_not_move_what_is_expected() -> None:
    rows = ((0.0, 82.0), (2.0, 81.9), (4.0, 81.8))
    for apart in (72.0, 91.0):  # hung up; a foot mark misread
        found = feet(sounded(*rows, (6.0, apart)), 7.0)
        assert found.low_m < 81.7 < found.high_m
        assert "no other bears it out" in found.how


def test_a_leap_borne_out_by_the_next_sounding_is_believed() -> None:
    found = feet(sounded((0.0, 82.0), (2.0, 81.9), (4.0, 81.8), (6.0, 85.0), (8.0, 84.95)), 8.5)
    assert 84.0 < found.low_m < 84.95 < found.high_m
    assert "borne out by the next sounding" in found.how


def test_a_leap_with_a_reason_on_record_is_believed_at_once() -> None:
    rows = ((0.0, 82.0), (2.0, 81.9), (4.0, 81.8), (6.0, 85.0))
    deepened = Reason(years(5.0), "construction of 2020-05-01")
    assert feet(sounded(*rows), 6.1).high_m < 85.0
    found = feet(sounded(*rows, reasons=(deepened,)), 6.1)
    assert found.low_m < 85.0 < found.high_m
    assert "construction of 2020-05-01" in found.how


def test_a_well_never_sounded_is_expected_near_its_depth_at_completion_or_above() -> None:
    found = feet(completed_bottom(82.0 * FOOT_M, "2015-05-01"), 10.0)
    assert found.low_m < 80.0 < 82.0 < found.high_m
    assert "never sounded: 82.00 ft at completion" in found.how


def test_without_soundings_there_is_nothing_to_fit() -> None:
    assert expected_bottom([]) is None


@pytest.mark.parametrize("gap", [1.0, 5.0, 20.0])
def test_the_range_widens_with_time(gap: float) -> None:
    expected = sounded((0.0, 82.0), (1.0, 82.0), (2.0, 81.98))
    near, far = feet(expected, 2.0), feet(expected, 2.0 + gap)
    assert far.high_m - far.low_m > near.high_m - near.low_m
