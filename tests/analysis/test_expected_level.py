"""What a well should show: honest with few readings and many, unmoved by blunders, wider the longer nobody looked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from tapedown.analysis.co_moving import Surprises, neighbours
from tapedown.analysis.expected_level import expected_level, unread_level
from tapedown.engine.expected.next_reading import NeighbourLevel, Range, level_on, range_of, with_neighbours
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedLevel
from tapedown.values.settings import Settings
from tapedown.values.units import FOOT_M

Array = NDArray[np.float64]
START = day_number("2010-01-05")


def fit(days: Sequence[int], depths_m: Sequence[float] | Array, u_m: float = 0.0) -> ExpectedLevel:
    return expected_level(days, [float(m) for m in depths_m], u_m=u_m).expected


def on(level: ExpectedLevel, day: int) -> Predictive:
    return level_on(level, date_text(day))


def truth(rng: np.random.Generator, days: Sequence[int] | NDArray[np.int64]) -> Array:
    """Levels of a well that wanders, swings with the year and is read with noise; each well is one of its own."""
    years = np.asarray(days) / 365.25
    drift, swing, noise = rng.lognormal(-1.0, 0.5), rng.lognormal(-2.5, 0.5), rng.lognormal(-3.5, 0.5)
    wander = np.cumsum(rng.normal(0, drift * np.sqrt(np.diff(years, prepend=years[0]))))
    return np.asarray(15 + wander + swing * np.cos(2 * np.pi * years) + rng.normal(0, noise, len(years)))


def monthly(years: int) -> list[int]:
    return [START + round(30.4 * month) for month in range(12 * years)]


def seasonal(days: Sequence[int]) -> list[float]:
    """Deep in summer, shallow in winter, as like itself as a hand can read it."""
    rng = np.random.default_rng(12)
    return [10 - float(np.cos(2 * np.pi * d / 365.25)) + float(rng.normal(0, 0.01)) for d in days]


@pytest.mark.parametrize("count", [1, 3, 10, 60])
def test_nineteen_in_twenty_readings_of_made_up_wells_fall_inside(count: int) -> None:
    rng = np.random.default_rng(count)
    inside = 0
    for _ in range(300):
        days = START + np.cumsum(rng.integers(5, 150, count + 1))
        depths = truth(rng, days)
        found = range_of(on(fit([int(d) for d in days[:-1]], depths[:-1]), int(days[-1])))
        inside += found.low_m <= depths[-1] <= found.high_m
    assert 0.91 <= inside / 300 <= 1.0


def test_three_thousand_readings_go_through_the_same_sum() -> None:
    rng = np.random.default_rng(3000)
    days = START + np.sort(rng.choice(20_000, 3001, replace=False))
    depths = truth(rng, days)
    found = range_of(on(fit([int(d) for d in days[:-1]], depths[:-1]), int(days[-1])))
    assert found.low_m < depths[-1] < found.high_m
    assert "read on 3000 days" in found.how


def test_one_reading_gives_a_wide_range_about_it_and_says_so() -> None:
    found = range_of(on(fit([START], [10.0]), START + 90))
    assert found.low_m < 10.0 - 2 * FOOT_M
    assert found.high_m > 10.0 + 2 * FOOT_M
    assert "read once, on 2010-01-05" in found.how


def test_more_readings_narrow_the_range() -> None:
    days = monthly(10)
    widths = [on(fit(days[:n], seasonal(days[:n])), days[n]).half_width_m(0.95) for n in (1, 3, 12, 100)]
    assert widths == sorted(widths, reverse=True)


def test_a_well_never_read_may_stand_anywhere_above_its_bottom() -> None:
    found = range_of(level_on(unread_level(25.0), "2026-05-14"))
    assert (found.low_m, found.high_m) == pytest.approx((0.0, 25.0), abs=1e-6)
    assert "no reading yet" in found.how
    shallow = range_of(level_on(unread_level(0.5), "2026-05-14"))
    assert (shallow.low_m, shallow.high_m) == pytest.approx((0.0, 1.0), abs=1e-6)  # no well is shallower than 1 m


def test_no_reading_is_refused_by_the_fit() -> None:
    with pytest.raises(ValueError, match="at least one reading"):
        expected_level([], [])


@pytest.mark.parametrize("place", [5, 30, 58, 59])
def test_one_past_blunder_of_ten_feet_does_not_move_the_middle_by_more_than_the_scale(place: int) -> None:
    days = monthly(5)
    clean = seasonal(days)
    spoilt = [m + (10 * FOOT_M if i == place else 0.0) for i, m in enumerate(clean)]
    before, after = (on(fit(days, depths), days[-1] + 30) for depths in (clean, spoilt))
    limit_m = after.scale_m if place >= 58 else before.scale_m  # of the newest nobody can say yet which it is
    assert abs(after.middle_m - before.middle_m) < limit_m
    assert fit(days, spoilt).set_aside >= 1
    assert "far from the others" in after.how


def test_a_spell_of_pumping_does_not_stay_in_the_middle() -> None:
    days = monthly(6)
    clean = seasonal(days)
    pumped = [m + (6.0 if 40 <= i < 43 else 0.0) for i, m in enumerate(clean)]
    before, after = (on(fit(days, depths), days[-1] + 30) for depths in (clean, pumped))
    assert abs(after.middle_m - before.middle_m) < after.scale_m
    assert after.scale_m < 1.0


def test_a_change_borne_out_by_later_readings_is_followed() -> None:
    days = monthly(5)
    dropped = [m + (3.0 if i >= 50 else 0.0) for i, m in enumerate(seasonal(days))]
    found = range_of(on(fit(days, dropped), days[-1] + 30))
    assert found.low_m < seasonal([days[-1] + 30])[0] + 3.0 < found.high_m
    assert found.low_m > seasonal([days[-1] + 30])[0] + 1.5


def test_the_range_leaps_with_a_season_the_record_supports() -> None:
    days = monthly(6)
    level = fit(days, seasonal(days))
    winter, summer = range_of(level_on(level, "2016-01-10")), range_of(level_on(level, "2016-07-05"))
    assert winter.high_m < summer.low_m
    assert "season" in summer.how


def test_a_record_without_a_season_is_not_given_one() -> None:
    days, rng = monthly(6), np.random.default_rng(6)
    level = fit(days, 10 + rng.normal(0, 0.05, len(days)))
    middles = [level_on(level, f"2016-{month:02d}-10").middle_m for month in range(1, 13)]
    assert max(middles) - min(middles) < 0.06
    assert "season" not in level_on(level, "2016-07-10").how


def test_the_range_widens_the_longer_nobody_looked() -> None:
    days = monthly(6)
    level = fit(days, truth(np.random.default_rng(8), days))
    scales = [on(level, days[-1] + 365 * years).scale_m for years in (0, 1, 3, 10, 30)]
    assert scales == sorted(scales)
    assert scales[-1] > 3 * scales[0]


def test_several_readings_of_a_day_count_as_their_median() -> None:
    days = monthly(2)
    once = fit(days, seasonal(days))
    again = fit([*days, days[3], days[3]], [*seasonal(days), seasonal(days)[3] + 5.0, seasonal(days)[3] - 5.0])
    assert again == once


def test_the_order_of_readings_does_not_matter() -> None:
    days = monthly(2)
    assert fit(days[::-1], seasonal(days)[::-1]) == fit(days, seasonal(days))


def test_a_well_that_never_moved_is_still_read_with_a_tapes_uncertainty() -> None:
    days = monthly(3)
    assert on(fit(days, [10.0] * 36, u_m=0.05), days[-1] + 30).scale_m >= 0.05
    assert fit(days, [10.0] * 36, u_m=0.05).noise_m2 == pytest.approx(0.05**2)


def test_readings_without_water_are_counted_in_words() -> None:
    found = expected_level(monthly(1), [10.0] * 12, dry=3).expected
    assert found.dry == 3
    assert "3 of them dry" in on(found, START + 400).how


@pytest.mark.parametrize("seed", range(60))
def test_whatever_a_record_holds_the_range_is_a_range(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count, size = int(rng.choice([1, 2, 3, 5, 20, 60])), float(10.0 ** rng.integers(-4, 4))
    days = (START + np.sort(rng.integers(0, int(rng.choice([3, 100, 30_000])), count))).tolist()
    steady, jumps = np.full(count, 3 * size), np.where(rng.random(count) < 0.1, 1e4, 0.0)
    depths = (steady, jumps, np.cumsum(rng.normal(0, size, count)), np.round(rng.normal(0, 1, count)) * size)[seed % 4]
    level = fit(days, depths)
    for ahead in (0, 1, 400, 40_000):
        found = range_of(on(level, days[-1] + ahead))
        assert -1e6 < found.low_m < found.high_m < 1e6


def coupled(share: float) -> dict[str, Surprises]:
    """Surprises of two wells on the same days that share so much of their cause, and of one apart."""
    rng = np.random.default_rng(2)
    cause, own, other, apart = rng.normal(size=(4, 80))
    days = np.arange(80.0) * 90
    mixed = [share * cause + (1 - share**2) ** 0.5 * each for each in (own, other)]
    return {"MF-01": Surprises(days, mixed[0]), "MF-02": Surprises(days + 2, mixed[1]), "MF-03": Surprises(days, apart)}


def test_wells_that_move_together_are_found_and_others_are_not() -> None:
    found = neighbours(coupled(0.95))
    assert [one.code for one in found["MF-01"]] == ["MF-02"]
    assert 0.6 < found["MF-01"][0].together < 0.95  # shrunk
    assert found["MF-03"] == ()


def test_few_pairs_are_not_trusted() -> None:
    few = {code: Surprises(told.days[:9], told.errors[:9]) for code, told in coupled(0.95).items()}
    assert neighbours(few) == {"MF-01": (), "MF-02": (), "MF-03": ()}


def sharpened(depth_m: float, day: str = "2026-05-14") -> tuple[Range, Range, str]:
    """A well alone, and once its neighbour was read `depth_m` where 20 m was expected."""
    days = monthly(3)
    near = neighbours(coupled(0.95))["MF-01"]
    level = fit(days, seasonal(days))._replace(neighbours=near)
    alone = level_on(level, "2026-05-14")
    seen = [NeighbourLevel("MF-02", day, depth_m, Predictive(20.0, 0.5, 5.0))]
    both = with_neighbours(alone, level, "2026-05-14", seen, Settings("ft"))
    return range_of(alone), range_of(both), both.how


def test_a_neighbour_read_that_day_moves_and_narrows_the_range() -> None:
    alone, both, how = sharpened(20.5)
    assert both.high_m - both.low_m < 0.8 * (alone.high_m - alone.low_m)
    assert both.low_m + both.high_m > alone.low_m + alone.high_m
    assert "MF-02, read that day, lies 1.64 ft below what was expected there" in how


def test_a_neighbours_own_blunder_moves_the_range_no_further_than_three_scales() -> None:
    assert sharpened(21.5)[1][:2] == pytest.approx(sharpened(60.0)[1][:2])


def test_a_neighbour_read_long_ago_says_nothing() -> None:
    alone, both, _ = sharpened(20.5, day="2026-03-01")
    assert both == alone
