"""Blunders of a whole record are told with their days; records that only rise, fall or leap are left alone."""

from __future__ import annotations

import math
import random

import pytest
from scipy import stats

from tapedown.analysis.record_blunders import Read, crossed, other_unit, placeholder_time, sign_reversed

FT = 0.3048
HEIGHT_FT = 2.4


def record(middle_ft: float = 60.0, n: int = 40, seed: int = 3, height_ft: float = HEIGHT_FT) -> list[Read]:
    """Quarterly readings with a season of half a foot and a wander of a tenth; constructed."""
    chance = random.Random(seed)
    depths = [middle_ft + 0.5 * math.sin(i * math.pi / 2) + chance.gauss(0, 0.1) for i in range(n)]
    return [Read(91 * i, depth * FT, height_ft * FT) for i, depth in enumerate(depths)]


def moved(reads: list[Read], first: int, last: int, by_ft: float) -> list[Read]:
    return [r._replace(depth_m=r.depth_m + by_ft * FT) if first <= i <= last else r for i, r in enumerate(reads)]


@pytest.mark.parametrize("sign", [1, -1])
def test_a_stretch_off_by_twice_the_height_is_told_with_its_days(sign: int) -> None:
    found = sign_reversed(moved(record(), 12, 19, sign * 2 * HEIGHT_FT))
    assert found is not None
    assert (found.first, found.last) == (12 * 91, 19 * 91)
    assert found.size_m == pytest.approx(sign * 2 * HEIGHT_FT * FT)
    assert found.probability > 0.95


def test_a_sign_reversed_from_a_day_on_is_told() -> None:
    found = sign_reversed(moved(record(), 25, 39, 2 * HEIGHT_FT))
    assert found is not None
    assert (found.first, found.last) == (25 * 91, 39 * 91)


@pytest.mark.parametrize("by_ft", [0.0, 2.4, 9.0])
def test_a_stretch_off_by_something_else_is_no_reversed_sign(by_ft: float) -> None:
    assert sign_reversed(moved(record(), 12, 19, by_ft)) is None


def test_a_single_reading_or_a_point_level_with_the_land_is_no_stretch() -> None:
    assert sign_reversed(moved(record(), 12, 12, 2 * HEIGHT_FT)) is None
    assert sign_reversed(record(height_ft=0.0)) is None
    assert sign_reversed(record(n=4)) is None


def test_a_run_in_metres_is_told() -> None:
    reads = record()
    wrong = [
        r._replace(depth_m=(r.depth_m + r.height_m) * FT - r.height_m) if 8 <= i <= 13 else r
        for i, r in enumerate(reads)
    ]
    found = other_unit(wrong)
    assert found is not None
    assert (found.first, found.last) == (8 * 91, 13 * 91)
    assert "taken for metres" in found.words
    assert other_unit(reads) is None


def test_readings_crossed_on_a_day_are_told_and_a_day_both_rose_is_not() -> None:
    a, b = record(60.0), record(31.0, seed=4, height_ft=1.1)
    one, two = a[20], b[20]
    swapped = {
        "MF-10": [*a[:20], one._replace(depth_m=two.depth_m + two.height_m - one.height_m), *a[21:]],
        "MF-11": [*b[:20], two._replace(depth_m=one.depth_m + one.height_m - two.height_m), *b[21:]],
        "MF-12": record(44.0, seed=5),
    }
    found = crossed(swapped)
    assert [(x, y, blunder.first) for x, y, blunder in found] == [("MF-10", "MF-11", 20 * 91)]
    assert crossed({"MF-10": moved(a, 20, 20, -8.0), "MF-11": moved(b, 20, 20, -8.0)}) == []


@pytest.mark.parametrize(("noon", "probability"), [(3, None), (4, 0.9440), (5, 0.9962)])
def test_noon_is_as_probable_as_the_chance_of_so_many_noons_leaves_it(noon: int, probability: float | None) -> None:
    """Bayes' rule: one record in a hundred has placeholders; else one time in 50 falls on that minute, of 20 in all."""
    times = [f"2019-05-{day + 1:02d}T{'12:00' if day < noon else f'09:{day}'}Z" for day in range(20)]
    by_chance = stats.binom.sf(noon - 1, 20, 0.02)
    expected = 0.01 / (0.01 + 0.99 * by_chance)
    found = placeholder_time(times)
    if probability is None:
        assert expected < 0.9
        assert found is None
    else:
        assert found is not None
        assert found[:2] == ("12:00", noon)
        assert found[2] == pytest.approx(expected, rel=1e-9)
        assert expected == pytest.approx(probability, abs=5e-4)


def test_noon_is_a_placeholder_where_it_comes_too_often() -> None:
    real = [f"2024-05-{day:02d}T{8 + day % 9:02d}:{day * 7 % 60:02d}-04:00" for day in range(1, 25)]
    assert placeholder_time(real) is None
    found = placeholder_time([*real, *[f"2019-05-{day:02d}T12:00:00Z" for day in range(1, 9)]])
    assert found is not None
    assert found[:2] == ("12:00", 8)
    assert placeholder_time([*real, "2024-06-01T12:00-04:00"]) is None
    assert placeholder_time(["2024-06-01"] * 20) is None
