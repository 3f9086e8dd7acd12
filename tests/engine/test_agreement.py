from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.repeats.agreement import agree, tolerance_m
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, names

ANY_TWO = Settings("ft", {"agree_rule": "any two"})
TOLERANCE_M = 0.02 * FOOT_M
REPEATS = st.lists(st.integers(0, 12), min_size=1, max_size=6).map(
    lambda hundredths: [(84.30 + h / 100) * FOOT_M for h in hundredths]
)


@given(REPEATS, st.randoms(use_true_random=False))
def test_under_any_two_the_order_of_the_repeats_does_not_decide_whether_they_agree(
    repeats: list[float], shuffler: object
) -> None:
    mixed = sorted(repeats, key=lambda _: shuffler.random())  # type: ignore[attr-defined]
    assert agree(mixed, TOLERANCE_M, ANY_TWO).agreed is agree(repeats, TOLERANCE_M, ANY_TWO).agreed


@given(st.permutations([84.30, 84.31, 84.30, 84.90]))
def test_under_any_two_one_reading_far_off_is_left_out_wherever_it_stands(order: list[float]) -> None:
    found = agree([r * FOOT_M for r in order], TOLERANCE_M, ANY_TWO)
    assert sorted(order[i] for i in found.used) == [84.30, 84.30, 84.31]
    assert not found.findings


@given(REPEATS)
def test_agreement_means_that_some_pair_lies_within_the_tolerance(repeats: list[float]) -> None:
    near = [abs(a - b) <= TOLERANCE_M + 1e-9 for a, b in itertools.pairwise(repeats)]
    assert agree(repeats, TOLERANCE_M, Settings()).agreed is any(near)
    far = [abs(a - b) <= TOLERANCE_M + 1e-9 for a, b in itertools.combinations(repeats, 2)]
    assert agree(repeats, TOLERANCE_M, ANY_TWO).agreed is any(far)


@given(REPEATS)
def test_without_agreement_every_reading_counts_and_a_person_is_told(repeats: list[float]) -> None:
    found = agree(repeats, TOLERANCE_M, Settings())
    if found.agreed:
        assert not found.findings
    else:
        assert found.used == tuple(range(len(repeats)))
        assert names(found.findings) == {"single-reading" if len(repeats) == 1 else "repeats-disagree"}


def test_two_consecutive_readings_must_be_neighbours() -> None:
    repeats = [84.30 * FOOT_M, 84.90 * FOOT_M, 84.31 * FOOT_M]
    assert not agree(repeats, TOLERANCE_M, Settings()).agreed
    found = agree(repeats, TOLERANCE_M, ANY_TWO)
    assert found.agreed
    assert found.used == (0, 2)


def test_the_reading_exactly_at_the_tolerance_agrees() -> None:
    assert agree([84.30 * FOOT_M, 84.32 * FOOT_M], TOLERANCE_M, Settings()).agreed
    assert not agree([84.30 * FOOT_M, 84.33 * FOOT_M], TOLERANCE_M, Settings()).agreed


@pytest.mark.parametrize(
    ("rule", "used"), [("mean of the agreeing", (1, 2)), ("mean of all", (0, 1, 2)), ("most representative", (2,))]
)
def test_the_network_chooses_what_is_reported(rule: str, used: tuple[int, ...]) -> None:
    settings = Settings("ft", {"report_rule": rule})
    assert agree([84.90, 84.30, 84.30], TOLERANCE_M, settings).used == used


def test_a_person_may_choose_a_reading_with_a_reason() -> None:
    repeats = [84.30, 84.30, 84.90]
    chosen = agree(repeats, TOLERANCE_M, Settings(), chosen=2, why="the first two hung on the pump column")
    assert chosen.used == (2,)
    assert not chosen.findings
    assert names(agree(repeats, TOLERANCE_M, Settings(), chosen=2).findings) == {"chosen-without-reason"}


@pytest.mark.parametrize("place", [-1, 3])
def test_choosing_a_reading_that_is_not_there_falls_back_on_the_rule(place: int) -> None:
    found = agree([84.30, 84.30, 84.90], TOLERANCE_M, Settings(), chosen=place, why="the best")
    assert found.used == (0, 1)
    assert names(found.findings) == {"chosen-missing"}


def test_more_repeats_tell_more() -> None:
    sizes = [agree([84.30] * n, TOLERANCE_M, Settings()).part for n in (1, 2, 5)]
    assert sizes[0].u_m > sizes[1].u_m > sizes[2].u_m
    assert [part.dof for part in sizes] == [8, 9, 12]


def test_what_is_expected_and_what_is_seen_are_pooled_by_their_degrees_of_freedom() -> None:
    """GUM 4.2.4: the tolerance taken as the 95 % limit of a difference, with 8 degrees of freedom."""
    expected = TOLERANCE_M / (1.96 * 2**0.5)
    pooled = (8 * expected**2 + 2 * 0.001**2) / (8 + 1)
    part = agree([25.000, 25.002], TOLERANCE_M, Settings()).part
    assert part.u_m == pytest.approx((pooled / 2) ** 0.5)
    assert part.dof == 9


@pytest.mark.parametrize("repeats", [[25.00, 25.06], [25.06, 25.00, 25.03]])
def test_the_mean_of_readings_that_do_not_agree_lies_anywhere_between_them(repeats: list[float]) -> None:
    """Rectangular from the least to the greatest (GUM 4.3.7); the peer is scipy's uniform distribution."""
    part = agree(repeats, 0.005, Settings()).part
    assert part.u_m == pytest.approx(stats.uniform(25.00, 0.06).std(), rel=1e-9)
    assert part.u_m == pytest.approx(0.0173205, abs=1e-7)
    assert part.dof > 1e6


def test_a_lucky_pair_is_not_taken_as_perfect_and_a_wide_one_counts() -> None:
    equal, apart = (agree([84.30, 84.30 + d], TOLERANCE_M, Settings()).part.u_m for d in (0.0, TOLERANCE_M))
    assert equal > 0
    assert apart > equal


@given(st.floats(0.0, 2000.0))
def test_deeper_repeats_may_differ_by_more_never_by_less(depth_ft: float) -> None:
    here, deeper = (tolerance_m(d * FOOT_M, Settings()) for d in (depth_ft, depth_ft + 50))
    assert here <= deeper
    assert here >= TOLERANCE_M - 1e-12
    assert tolerance_m(-depth_ft * FOOT_M, Settings()) == here


def test_metre_networks_may_set_their_own_tolerance() -> None:
    settings = Settings("m", {"agree_within": "5 mm"})
    assert tolerance_m(20.0, settings) == pytest.approx(0.005)
    assert not agree([20.000, 20.006], tolerance_m(20.0, settings), settings).agreed
