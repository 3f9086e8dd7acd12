"""What pairs of repeats say, beside the same figures by other ways."""

from __future__ import annotations

import numpy as np
import pytest

from tapedown.analysis.pair_spread import ENOUGH, pair_spread


def test_the_deviation_is_the_pooled_one_of_sets_of_two() -> None:
    """Pooled variance of sets of two: the mean of their variances (numpy.var, ddof=1)."""
    rng = np.random.default_rng(1709)
    first, second = rng.normal(0, 0.01, (2, 400)) + rng.normal(20, 5, 400)
    found = pair_spread(first.tolist(), second.tolist())
    assert found is not None
    assert found.s_m == pytest.approx(float(np.mean(np.var([first, second], axis=0, ddof=1))) ** 0.5)
    assert found.s_m == pytest.approx(0.01, rel=0.08)


def test_half_and_95_of_100_are_counted() -> None:
    """Differences of 1 to 100 mm: fifty of them are no larger than 50, 95 of them no larger than 95."""
    apart = [n / 1000 for n in range(1, 101)]
    found = pair_spread([0.0] * 100, apart)
    assert found is not None
    assert sum(d <= found.half_m for d in apart) == 50
    assert found.most_m is not None
    assert sum(d <= found.most_m + 1e-12 for d in apart) == 95
    assert found.largest_m == 0.1


def test_which_of_two_was_read_first_does_not_matter() -> None:
    assert pair_spread([1.0, 2.0], [1.1, 1.9]) == pair_spread([1.1, 1.9], [1.0, 2.0])


def test_one_wild_pair_moves_the_deviation_and_not_the_counts() -> None:
    calm = pair_spread([1.0] * 40, [1.01] * 40)
    wild = pair_spread([1.0] * 41, [1.01] * 40 + [2.0])
    assert calm is not None
    assert wild is not None
    assert (wild.half_m, wild.most_m) == (calm.half_m, calm.most_m)
    assert wild.s_m > 5 * calm.s_m
    assert wild.largest_m == 1.0


def test_few_pairs_have_no_95_of_100_and_none_have_nothing() -> None:
    few = pair_spread([1.0] * (ENOUGH - 1), [1.0] * (ENOUGH - 1))
    assert few is not None
    assert few.most_m is None
    assert pair_spread([], []) is None


def test_firsts_without_seconds_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="2 first and 1 second"):
        pair_spread([1.0, 2.0], [1.0])


def test_from_just_enough_pairs_on_95_of_100_are_told() -> None:
    """Of twenty differences of 1 to 20 mm nineteen are no larger than 19, ten no larger than 10; of one, that one."""
    found = pair_spread([0.0] * ENOUGH, [n / 1000 for n in range(1, ENOUGH + 1)])
    assert found is not None
    assert (ENOUGH, found.most_m, found.half_m) == (20, 0.019, 0.010)
    one = pair_spread([0.0], [0.003])
    assert one is not None
    assert (one.pairs, one.half_m, one.largest_m) == (1, 0.003, 0.003)
    assert one.s_m == pytest.approx(0.003 / 2**0.5)
