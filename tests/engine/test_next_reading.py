"""What a well should show on a day, from the numbers of its expectation: against numpy's matrices and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.expected.next_reading import (
    NeighbourLevel,
    bottom_on,
    level_on,
    range_of,
    season_terms,
    with_neighbours,
)
from tapedown.engine.one_off.expected import expected_once
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedBottom, ExpectedLevel, Neighbour
from tapedown.values.settings import Settings
from tests.engine.at_the_well import in_plain

LAST = "2025-10-01"
ROOT = np.tril(np.random.default_rng(3).normal(0, 0.05, (6, 6))) + np.diag([0.1] * 6)
COVARIANCE = ROOT @ ROOT.T
MIDDLES = (0.12, 0.30, -0.20, 0.05, 0.04, -0.40)
LEVEL = ExpectedLevel(
    on=LAST,
    readings=24,
    set_aside=0,
    dry=0,
    centre_m=10.0,
    middles_m=MIDDLES,
    spreads_m2=tuple(float(COVARIANCE[row, column]) for row in range(6) for column in range(row + 1)),
    still_m2=0.25,
    forget_d=200.0,
    noise_m2=0.0009,
    dof=6.0,
    neighbours=(Neighbour("MF-04", 0.8, 7, 12), Neighbour("MF-09", 0.5, 7, 10)),
)
FEET = Settings("ft")
BOTTOM = ExpectedBottom("2026-05-14", 4, 24.95, day_number("2021-01-01"), 25.0, 0.003, 0.02, 0.001, 0.01, 7.0)


@pytest.mark.parametrize("away_d", [0, 40, -40, 365, 4000])
def test_a_level_is_the_weighted_sum_of_its_terms_with_their_covariance(away_d: int) -> None:
    number = day_number(LAST) + away_d
    found = level_on(LEVEL, date_text(number))
    turn = 2 * np.pi * number / 365.25
    kept = np.exp(-abs(away_d) / 200.0)
    weights = np.array([1.0, np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn), kept])
    assert found.middle_m == pytest.approx(10.0 + float(weights @ np.array(MIDDLES)))
    variance = float(weights @ COVARIANCE @ weights) + 0.25 * (1 - kept**2) + 0.0009
    assert found.scale_m == pytest.approx(variance**0.5)
    assert found.dof == 6.0


def test_a_well_never_read_has_no_last_day_to_be_away_from() -> None:
    found = level_on(LEVEL._replace(on=""), "2026-01-01")
    same_day = level_on(LEVEL._replace(on="2026-01-01"), "2026-01-01")
    assert found[:3] == same_day[:3]
    assert found.how == "no reading yet: between land surface and the bottom"


@given(st.integers(700000, 750000))
def test_the_terms_of_the_season_are_a_year_and_half_a_year_round(day: int) -> None:
    cosine, sine, cosine2, sine2 = season_terms(day)
    assert (cosine2, sine2) == pytest.approx((cosine**2 - sine**2, 2 * sine * cosine), abs=1e-9)
    assert season_terms(day + 1461) == pytest.approx((cosine, sine, cosine2, sine2), abs=1e-6)
    assert cosine == pytest.approx(math.cos(2 * math.pi * day / 365.25), abs=1e-9)
    assert cosine**2 + sine**2 == pytest.approx(1.0)


@given(st.floats(-5, 50), st.floats(0.01, 2), st.floats(1, 60))
def test_a_range_holds_nineteen_readings_in_twenty(middle_m: float, scale_m: float, dof: float) -> None:
    low, high, how = range_of(Predictive(middle_m, scale_m, dof, "four readings"))
    assert (low, high) == pytest.approx(stats.t.interval(0.95, dof, middle_m, scale_m), rel=1e-7, abs=1e-9)
    assert how == "four readings"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "read on 24 days, last on 2025-10-01; season"),
        ({"readings": 1}, "read once, on 2025-10-01; season"),
        ({"readings": 2}, "read on 2 days, last on 2025-10-01; season"),
        ({"set_aside": 2}, "read on 24 days, last on 2025-10-01; season; 2 of them far from the others count less"),
        (
            {"dry": 3},
            "read on 24 days, last on 2025-10-01; season; 3 of them dry, at least as deep as the tape reached",
        ),
        ({"middles_m": (0.12, 0.0, 0.0, 0.3, 0.3, 0.3)}, "read on 24 days, last on 2025-10-01"),
    ],
)
def test_what_a_level_rests_on_is_told_with_its_numbers(change: dict[str, object], words: str) -> None:
    assert level_on(LEVEL._replace(**change), "2026-01-01").how == words  # type: ignore[arg-type]


@pytest.mark.parametrize(("swing_m", "told"), [(0.199, False), (0.201, True)])
def test_a_season_is_told_of_once_its_swing_is_twice_its_uncertainty(swing_m: float, told: bool) -> None:
    """Cosine and sine each known to 0.06 and 0.08 m: 0.1 m together, so a swing of 0.2 m is the limit."""
    spreads = [9.0] * 21
    spreads[2], spreads[5] = 0.06**2, 0.08**2
    for middles in ((9.0, swing_m, 0.0, 9, 9, 9), (9.0, 0.0, -swing_m, 9, 9, 9)):
        found = level_on(LEVEL._replace(middles_m=middles, spreads_m2=tuple(spreads)), "2026-01-01")
        assert found.how.endswith("; season") is told


def neighbour(depth_m: float, day: str = "2026-01-01", code: str = "MF-04") -> NeighbourLevel:
    """Read at this depth where 8.0 m was expected, give or take 0.2 m."""
    return NeighbourLevel(code, day, depth_m, Predictive(8.0, 0.2, 5.0))


ALONE = Predictive(10.0, 0.5, 6.0, "by itself")


@pytest.mark.parametrize(("depth_m", "surprises"), [(8.1, 0.5), (7.8, -1.0), (8.6, 3.0), (9.5, 3.0), (1.0, -3.0)])
def test_a_neighbour_moves_the_middle_as_far_as_they_go_together(depth_m: float, surprises: float) -> None:
    """Conditional normal: r z scale and scale root(1 - r^2); with r = 0.8 the scale shrinks to three fifths."""
    found = with_neighbours(ALONE, LEVEL, "2026-01-01", [neighbour(depth_m)], FEET)
    assert found.middle_m == pytest.approx(10.0 + 0.8 * surprises * 0.5)
    assert found.scale_m == pytest.approx(0.3)
    assert found.dof == 6.0


def test_the_closest_neighbour_alone_speaks_and_only_if_it_was_read_in_time() -> None:
    both = [neighbour(8.2, code="MF-09"), neighbour(8.1, "2026-01-08")]
    assert with_neighbours(ALONE, LEVEL, "2026-01-01", both, FEET).middle_m == pytest.approx(10.0 + 0.8 * 0.5 * 0.5)
    late = [neighbour(8.2, code="MF-09"), neighbour(8.1, "2026-01-09")]
    assert with_neighbours(ALONE, LEVEL, "2026-01-01", late, FEET).middle_m == pytest.approx(10.0 + 0.5 * 1.0 * 0.5)
    early = [neighbour(8.1, "2025-12-24")]
    assert with_neighbours(ALONE, LEVEL, "2026-01-01", early, FEET) == ALONE
    assert with_neighbours(ALONE, LEVEL, "2026-01-01", [neighbour(8.1, code="MF-77")], FEET) == ALONE


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        (neighbour(8.3048, "2026-01-01T09:30"), "MF-04, read that day, lies 1.00 ft below what was expected there"),
        (neighbour(8.1, "2026-01-01"), "MF-04, read that day, lies 0.33 ft below what was expected there"),
        (neighbour(7.6952, "2025-12-30T09:30"),
         "MF-04, read on 2025-12-30, lies 1.00 ft above what was expected there"),
    ],
)  # fmt: skip
def test_a_neighbour_is_told_with_its_day_and_how_far_it_lies_off(seen: NeighbourLevel, words: str) -> None:
    found = with_neighbours(ALONE, LEVEL, "2026-01-01T08:00", [seen], FEET)
    assert found.how == f"by itself; {words}"


def test_a_bottom_comes_up_at_its_rate_and_is_the_less_sure_the_longer_ahead() -> None:
    """Five years of 365.25 days after the day both are known: 25.0 - 5 x 0.02 m, root(3^2 + 5^2 + 10^2) mm."""
    day = date_text(day_number("2021-01-01") + 1826)
    found = bottom_on(BOTTOM, day, FEET)
    years = 1826 / 365.25
    assert found.middle_m == pytest.approx(25.0 - 0.02 * years, abs=1e-12)
    assert found.scale_m == pytest.approx(math.hypot(0.003, 0.001 * years, 0.010), rel=1e-12)
    assert found.dof == 7.0
    undated = bottom_on(BOTTOM._replace(on=""), day, FEET)
    assert (undated.middle_m, undated.scale_m) == pytest.approx((25.0, math.hypot(0.003, 0.010)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "4 soundings, the last 81.86 ft on 2026-05-14; filling 0.066 ft a year"),
        ({"soundings": 1}, "one sounding, 81.86 ft on 2026-05-14; filling 0.066 ft a year"),
        ({"soundings": 0}, "never sounded: 81.86 ft at completion"),
        ({"since": "cleaned out in 2024"},
         "4 soundings, the last 81.86 ft on 2026-05-14; filling 0.066 ft a year; cleaned out in 2024"),
    ],
)  # fmt: skip
def test_what_a_bottom_rests_on_is_told_with_its_numbers(change: dict[str, object], words: str) -> None:
    assert bottom_on(BOTTOM._replace(**change), "2026-06-01", FEET).how == words  # type: ignore[arg-type]


def test_out_of_plain_data_comes_the_same_distribution() -> None:
    plain = in_plain(LEVEL, BOTTOM)
    other = in_plain(LEVEL._replace(centre_m=8.0, neighbours=()), None)
    asked = {"what": "level", "day": "2026-01-01", "length_unit": "ft", "expected": plain}
    alone = level_on(LEVEL, "2026-01-01")
    assert expected_once(asked) == alone
    seen = {"code": "MF-04", "day": "2025-12-30", "depth_m": 8.4, "expected": other}
    unknown = {
        "code": "MF-09",
        "day": "2026-01-01",
        "depth_m": 5.0,
        "expected": in_plain(None, None),
    }
    there = level_on(LEVEL._replace(centre_m=8.0), "2025-12-30")
    by_hand = with_neighbours(alone, LEVEL, "2026-01-01", [NeighbourLevel("MF-04", "2025-12-30", 8.4, there)], FEET)
    assert expected_once({**asked, "seen": [unknown, seen]}) == by_hand
    assert by_hand.middle_m != alone.middle_m
    assert expected_once({**asked, "what": "bottom"}) == bottom_on(BOTTOM, "2026-01-01", FEET)
    empty = {**asked, "expected": in_plain(None, None)}
    assert expected_once(empty) is None
    assert expected_once({**empty, "what": "bottom"}) is None
