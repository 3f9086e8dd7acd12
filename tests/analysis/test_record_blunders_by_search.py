"""Blunders of a record against a search that tries every stretch and every exchange, with scipy's Student's t.

The chances and the limits are ours; what they come to is Bayes' rule, worked out here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from scipy import stats

from tapedown.analysis.record_blunders import (
    CHANCE,
    LEAST_M,
    LIKELY,
    TAILS,
    Read,
    RecordBlunder,
    crossed,
    other_unit,
    placeholder_time,
    sign_reversed,
)

FT = 0.3048
HEIGHT_M = 0.8
STEPS_M = (0.03, -0.05, 0.04, 0.06, -0.02, -0.07, 0.01, 0.05, -0.03, 0.02, -0.06)


def likely(value: float, scale_m: float) -> float:
    return float(stats.t.logpdf(value / scale_m, TAILS))


def probability(gain: float, chance: float) -> float:
    return 1 / (1 + (1 - chance) / chance * math.exp(-gain))


def uneven(count: int, day_apart: int = 50, height_m: float = HEIGHT_M) -> list[Read]:
    """Too few readings in each quarter for a season to be known, so that the depths are taken as they are."""
    depths = 15 + np.concatenate([[0.0], np.cumsum(STEPS_M[: count - 1])])
    return [Read(day_apart * k, float(depth), height_m + 0.01 * k) for k, depth in enumerate(depths)]


def shifted(reads: Sequence[Read], first: int, last: int, sign: int) -> list[Read]:
    return [
        read._replace(depth_m=read.depth_m + sign * 2 * read.height_m) if first <= k <= last else read
        for k, read in enumerate(reads)
    ]


def searched(reads: Sequence[Read], shifts: Sequence[float]) -> tuple[float, int, int]:
    """Gain, first and last place of the best stretch of two readings or more that does not begin the record."""
    steps = np.diff([read.depth_m for read in reads])
    scale = max(LEAST_M, float(stats.median_abs_deviation(steps, scale=1 / 1.4826)))
    found = []
    for first in range(1, len(reads) - 1):
        for last in range(first + 1, len(reads)):
            into = steps[first - 1]
            gain = likely(into - shifts[first], scale) - likely(into, scale)
            if last < len(reads) - 1:
                gain += likely(steps[last] + shifts[last], scale) - likely(steps[last], scale)
            found.append((gain, first, last))
    return max(found)


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("count", "first", "last"), [(6, 2, 3), (8, 1, 2), (8, 3, 5), (8, 5, 7), (8, 6, 7)])
def test_a_reversed_sign_is_the_best_of_all_stretches_and_as_probable(
    count: int, first: int, last: int, sign: int
) -> None:
    reads = shifted(uneven(count), first, last, sign)
    shifts = [sign * 2 * read.height_m for read in reads]
    gain, *places = searched(reads, shifts)
    assert places == [first, last]
    expected = probability(gain, CHANCE / count)
    found = sign_reversed(reads)
    if expected < LIKELY:
        assert found is None
        return
    assert found is not None
    assert (found.name, found.first, found.last) == ("point-sign-stretch", reads[first].day, reads[last].day)
    assert found.size_m == pytest.approx(float(np.mean(shifts[first : last + 1])))
    assert found.probability == pytest.approx(expected, rel=1e-9)
    assert f"readings {first + 1} to {last + 1} lie {abs(found.size_m) / FT:.2f} ft off" in found.words
    assert found.do


def told(height_m: float, count: int = 8) -> RecordBlunder | None:
    return sign_reversed(shifted(uneven(count, height_m=height_m), 3, 5, 1))


def test_a_record_of_fewer_than_six_readings_tells_of_no_stretch() -> None:
    assert sign_reversed(shifted(uneven(5), 2, 3, 1)) is None


def test_a_stretch_less_than_nine_tenths_probable_or_within_five_scales_is_not_told() -> None:
    """The higher the point, the further twice its height stands out; both sides of where it begins to be told."""
    seen = [(height_m, told(height_m)) for height_m in np.arange(0.02, 0.4, 0.02)]
    first = next(k for k, (_, found) in enumerate(seen) if found is not None)
    assert first > 2
    for height_m, found in seen:
        reads = shifted(uneven(8, height_m=height_m), 3, 5, 1)
        shifts = [2 * read.height_m for read in reads]
        gain, begins, ends = searched(reads, shifts)
        scale = max(LEAST_M, float(stats.median_abs_deviation(np.diff([r.depth_m for r in reads]), scale=1 / 1.4826)))
        moved = float(np.mean(shifts[begins : ends + 1]))
        clear = probability(gain, CHANCE / 8) >= LIKELY and moved > 5 * scale
        assert (found is not None) == clear, height_m


@pytest.mark.parametrize(("share", "found"), [(0.70, True), (0.60, False), (1.30, True), (1.40, False)])
def test_the_middle_of_a_stretch_lies_off_its_surroundings_by_its_shift_give_or_take_a_third(
    share: float, found: bool
) -> None:
    """A still record; the stretch steps by the whole shift at both ends, and lies off by a share of it between."""
    off = 2 * HEIGHT_M
    depths = [15.0] * 5 + [15 + off, *[15 + share * off] * 3, 15 + off] + [15.0] * 5
    blunder = sign_reversed([Read(365 * k, depth, HEIGHT_M) for k, depth in enumerate(depths)])
    assert (blunder is not None) == found


def test_a_season_far_larger_than_the_shift_does_not_hide_it() -> None:
    """Quarterly for eight years, 3 m between summer and winter, the stretch off by 1.6 m."""
    rng = np.random.default_rng(3)
    season = (0.0, 1.5, 3.0, 1.5)
    reads = [Read(91 * k + k // 4, 15 + season[k % 4] + rng.normal(0, 0.02), HEIGHT_M) for k in range(32)]
    assert sign_reversed(reads) is None
    found = sign_reversed(shifted(reads, 12, 19, 1))
    assert found is not None
    assert (found.first, found.last) == (reads[12].day, reads[19].day)


@pytest.mark.parametrize(("word", "factor"), [("metres", FT), ("feet", 1 / FT)])
def test_figures_in_another_unit_are_moved_back_by_what_that_unit_makes_of_them(word: str, factor: float) -> None:
    """Measured depth plus height is what was on the tape: written as metres it is 0.3048 of what it should be."""
    reads = uneven(8)
    wrong = [
        r._replace(depth_m=(r.depth_m + r.height_m) * factor - r.height_m) if 3 <= k <= 5 else r
        for k, r in enumerate(reads)
    ]
    shifts = [(r.depth_m + r.height_m) * (1 - 1 / factor) for r in wrong]
    gain, *places = searched(wrong, shifts)
    assert places == [3, 5]
    found = other_unit(wrong)
    assert found is not None
    assert (found.name, found.first, found.last) == ("run-in-other-unit", wrong[3].day, wrong[5].day)
    assert found.size_m == pytest.approx(float(np.mean(shifts[3:6])))
    assert found.probability == pytest.approx(probability(gain, CHANCE / 8), rel=1e-9)
    assert found.words == f"readings 4 to 6 fit the record when their figures are taken for {word}"
    assert found.do


def around(depths: Sequence[float], place: int) -> float:
    """Median of the three readings before and the three after."""
    return float(np.median([*depths[max(0, place - 3) : place], *depths[place + 1 : place + 4]]))


def exchanged(height_a: float, height_b: float, apart_m: float, place: int) -> dict[str, list[Read]]:
    """Two wells, the readings of one day exchanged: what was on the tape of the other, less one's own height."""
    a, b = (
        [Read(50 * k, 15 + far + sum(STEPS_M[by : by + k]), height) for k in range(9)]
        for far, height, by in ((0.0, height_a, 0), (apart_m, height_b, 2))
    )
    one, two = a[place], b[place]
    a[place] = one._replace(depth_m=two.depth_m + two.height_m - one.height_m)
    b[place] = two._replace(depth_m=one.depth_m + one.height_m - two.height_m)
    return {"MF-02": b, "MF-01": a}


@pytest.mark.parametrize("place", [0, 1, 4, 7, 8])
@pytest.mark.parametrize("apart_m", [1.0, 6.0])
def test_readings_exchanged_are_as_probable_as_both_wells_make_them(place: int, apart_m: float) -> None:
    wells = exchanged(0.8, 0.3, apart_m, place)
    ((a, b, found),) = crossed(wells)
    assert (a, b, found.name, found.first, found.last) == ("MF-01", "MF-02", "wells-crossed", 50 * place, 50 * place)
    gain = 0.0
    for one, other in (("MF-01", "MF-02"), ("MF-02", "MF-01")):
        depths = [read.depth_m for read in wells[one]]
        middle = [around(depths, k) for k in range(9)]
        scale = max(LEAST_M, 1.4826 * float(np.median([abs(d - m) for d, m in zip(depths, middle)])))
        mine, theirs = wells[one][place], wells[other][place]
        as_theirs = theirs.depth_m + theirs.height_m - mine.height_m
        gain += likely(as_theirs - middle[place], scale) - likely(mine.depth_m - middle[place], scale)
        if one == "MF-01":
            assert found.size_m == pytest.approx(as_theirs - mine.depth_m)
    assert found.probability == pytest.approx(probability(gain, CHANCE / 9), rel=1e-9)
    assert "MF-01 and MF-02" in found.words
    assert found.do


@pytest.mark.parametrize(("scales", "found"), [(4.9, 0), (5.1, 1)])
def test_a_reading_within_five_scales_of_the_others_was_not_exchanged(scales: float, found: int) -> None:
    """Still wells have the scale LEAST_M."""
    off = scales * LEAST_M
    wells = {
        "MF-01": [Read(50 * k, 15 + off * (k == 4), 0.8) for k in range(9)],
        "MF-02": [Read(50 * k, 15 + off - off * (k == 4), 0.8) for k in range(9)],
    }
    assert len(crossed(wells)) == found


def test_wells_that_were_not_read_the_same_day_or_only_once_were_not_crossed() -> None:
    wells = exchanged(0.8, 0.3, 6.0, 4)
    other_days = {**wells, "MF-02": [read._replace(day=read.day + 1) for read in wells["MF-02"]]}
    assert crossed(other_days) == []
    assert crossed({"MF-01": wells["MF-01"][4:5], "MF-02": wells["MF-02"][4:5], "MF-03": []}) == []


@pytest.mark.parametrize(("real", "noon", "found"), [(2, 3, None), (3, 3, "12:00"), (4, 2, None)])
def test_a_placeholder_needs_six_times_of_day_and_three_of_them(real: int, noon: int, found: str | None) -> None:
    times = [f"2019-05-{day:02d}T09:{day}Z" for day in range(10, 10 + real)] + ["2019-06-01T12:00Z"] * noon
    told = placeholder_time(times)
    assert (told[0] if told else None) == found
    assert placeholder_time([*times, *["2019-06-01"] * 5]) == told


def test_midnight_is_a_placeholder_too_and_other_full_hours_are_not() -> None:
    real = ["2019-05-02T09:10Z"] * 3
    midnight = placeholder_time([*real, *["2019-06-01T00:00+01:00"] * 4])
    assert midnight is not None
    assert midnight[:2] == ("00:00", 4)
    assert placeholder_time([*real, *["2019-06-01T13:00+01:00"] * 4]) is None
