"""Wells that move together: which readings are held against each other, and how far the correlation is shrunk."""

from __future__ import annotations

import numpy as np
import pytest

from tapedown.analysis.co_moving import AGAINST, LEAST, MOST, SETTLING, WITHIN_D, Surprises, neighbours, together
from tapedown.engine.expected.next_reading import MOST_SURPRISE


def told(days: list[float], errors: list[float]) -> Surprises:
    return Surprises(np.array(days, float), np.array(errors, float))


def test_the_correlation_is_shrunk_by_the_pairs_that_agree_on_nothing() -> None:
    """By hand: a.b / (sqrt(a.a b.b) + 10) with a = (1, 2, 3) and b = (2, 0, 1): 5 / (sqrt(14 * 5) + 10)."""
    found = together(told([0, 30, 60], [1, 2, 3]), told([0, 30, 60], [2, 0, 1]))
    assert AGAINST == 10.0
    assert found == pytest.approx((5 / (70**0.5 + 10), 3))


@pytest.mark.parametrize(("off_d", "pairs"), [(-WITHIN_D - 1, 0), (-WITHIN_D, 1), (WITHIN_D, 1), (WITHIN_D + 1, 0)])
def test_readings_a_week_apart_are_a_pair(off_d: float, pairs: int) -> None:
    one, other = told([100], [1]), told([100 + off_d], [1])
    assert together(one, other) == pytest.approx((pairs / 11, pairs))
    assert together(other, one) == pytest.approx((pairs / 11, pairs))


def test_each_reading_is_held_against_the_nearest_of_the_others() -> None:
    """By hand: day 10 goes with 8 and not 14, day 20 with 21 and not 14; of two as near the earlier one: 30 with 27."""
    one = told([10, 20, 30], [1, 1, 1])
    other = told([8, 14, 21, 27, 33], [2, 100, 3, 4, 100])
    dot = 2 + 3 + 4
    assert together(one, other) == pytest.approx((dot / ((3 * (4 + 9 + 16)) ** 0.5 + 10), 3))


def test_readings_before_the_first_and_after_the_last_of_the_others_go_with_those() -> None:
    assert together(told([0, 50], [1, 1]), told([3, 47], [2, 3])) == pytest.approx((5 / ((2 * 13) ** 0.5 + 10), 2))


def test_a_well_without_readings_goes_with_none() -> None:
    assert together(told([], []), told([1], [1])) == (0.0, 0)
    assert together(told([1], [1]), told([], [])) == (0.0, 0)


def alike(count: int, size: float) -> Surprises:
    return told([30.0 * k for k in range(count + SETTLING)], [1e6] * SETTLING + [size] * count)


def test_first_readings_and_wild_ones_do_not_carry_two_wells_together() -> None:
    """By hand: cut at 3, n pairs of 3 and 3 go together by 9 n / (9 n + 10); the first five readings do not count."""
    (found,) = neighbours({"MF-01": alike(4, 50.0), "MF-02": alike(4, 3.0)})["MF-01"]
    assert MOST_SURPRISE == 3.0
    assert (found.code, found.within_d, found.pairs) == ("MF-02", WITHIN_D, 4)
    assert found.together == pytest.approx(36 / 46)
    (below,) = neighbours({"MF-01": alike(4, -50.0), "MF-02": alike(4, -3.0)})["MF-02"]
    assert (below.code, below.within_d, below.pairs) == ("MF-01", WITHIN_D, 4)
    assert below.together == pytest.approx(36 / 46)


@pytest.mark.parametrize(("size", "found"), [(0.99, 0), (1.01, 1)])
def test_a_neighbour_counts_from_a_correlation_of_four_tenths(size: float, found: int) -> None:
    """By hand: 20 pairs of size s and 1/3 go together by (20 s/3) / (20 s/3 + 10), which is 0.4 at s = 1."""
    wells = {"MF-01": alike(20, size), "MF-02": alike(20, 1 / 3)}
    assert LEAST == 0.4
    assert len(neighbours(wells)["MF-01"]) == len(neighbours(wells)["MF-02"]) == found


def test_the_closest_in_step_come_first_and_no_more_than_three() -> None:
    wells = {f"MF-{k:02d}": alike(20, 0.5 + 0.5 * k) for k in range(1, 6)}
    assert MOST == 3
    assert [one.code for one in neighbours(wells)["MF-03"]] == ["MF-05", "MF-04", "MF-02"]
