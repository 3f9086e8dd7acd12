from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.context import ReadingContext
from tapedown.engine.repeats.agreement import agree, followed, tolerance_m
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, names, reduced

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


def said(readings_ft: list[float], **more: object) -> str:
    settings = Settings("ft", {name: str(value) for name, value in more.items()})
    return agree([r * FOOT_M for r in readings_ft], TOLERANCE_M, settings).sentence


@pytest.mark.parametrize(
    ("readings", "rules", "sentence"),
    [
        ([84.30], {}, "one reading, nothing to agree with"),
        ([84.30, 84.30], {},
         "readings 1 and 2 are equal (rule: two consecutive within 0.02 ft); readings 1 and 2 used"),
        ([84.90, 84.30, 84.31], {},
         "readings 2 and 3 agree, 0.01 ft apart (rule: two consecutive within 0.02 ft); readings 2 and 3 used"),
        ([84.30, 84.90, 84.32, 84.31], {"agree_rule": "any two"},
         "readings 3 and 4 agree, 0.01 ft apart (rule: any two within 0.02 ft); readings 1, 3 and 4 used"),
        ([84.30, 84.90, 84.31], {"agree_rule": "any two"},
         "readings 1 and 3 agree, 0.01 ft apart (rule: any two within 0.02 ft); readings 1 and 3 used"),
        ([84.30, 84.31], {"report_rule": "most representative"},
         "readings 1 and 2 agree, 0.01 ft apart (rule: two consecutive within 0.02 ft); reading 2 used"),
        ([84.30, 84.40, 84.50], {},
         "3 readings, no agreement (rule: two consecutive within 0.02 ft); readings 1, 2 and 3 used"),
    ],
)  # fmt: skip
def test_how_the_repeats_agreed_is_told_with_their_numbers(
    readings: list[float], rules: dict[str, str], sentence: str
) -> None:
    assert said(readings, **rules) == sentence


def test_what_disagrees_is_told_with_how_far_it_lies_apart() -> None:
    found = agree([84.30 * FOOT_M, 84.90 * FOOT_M], TOLERANCE_M, Settings())
    assert [one.message for one in found.findings] == ["2 readings lie 0.6 ft apart, more than 0.02 ft"]
    chosen = agree([84.30] * 2, TOLERANCE_M, Settings(), chosen=2, why="the best")
    assert [one.message for one in chosen.findings] == ["reading 3 was chosen but there are 2"]
    unsaid = agree([84.30] * 2, TOLERANCE_M, Settings(), chosen=0)
    assert [one.message for one in unsaid.findings] == ["repeat 1 was chosen without a reason"]
    assert agree([84.30], TOLERANCE_M, Settings()).findings[0].check == "single-reading"
    assert not agree([84.30], TOLERANCE_M, Settings()).agreed


def test_a_chosen_reading_counts_alone_even_where_no_two_agree() -> None:
    found = agree([84.30, 84.60, 84.90], TOLERANCE_M, Settings(), chosen=1, why="the tape hung free")
    assert (found.used, found.agreed) == ((1,), False)
    assert found.part.u_m == pytest.approx(0.30 / 3**0.5)


@pytest.mark.parametrize(
    ("hours", "times"),
    [
        (None, "3 readings of water"),
        (1 / 12, "3 readings 5 min apart of water"),
        (2.0, "3 readings 2 h apart of water"),
    ],
)
def test_readings_of_moving_water_are_followed_to_the_last_and_as_repeatable_as_the_rule_lets(
    hours: float | None, times: str
) -> None:
    found = followed([25.10, 25.00, 25.04], 0.006, Settings("m"), hours_apart=hours)
    assert found.used == (2,)
    assert found.agreed
    assert found.findings == ()
    assert found.sentence == f"{times} that moves: 0.06 m in all; reading 3, the last, used"
    assert (found.part.u_m, found.part.dof) == (pytest.approx(0.006 / (1.96 * 2**0.5)), 8)
    assert found.part.what == "repeatability of 1"


@pytest.mark.parametrize(("depth_ft", "allowed_ft"), [(199.0, 0.02), (200.0, 0.02), (300.0, 0.03), (-700.0, 0.07)])
def test_beyond_two_hundred_feet_repeats_may_differ_by_one_in_ten_thousand_more(
    depth_ft: float, allowed_ft: float
) -> None:
    assert tolerance_m(depth_ft * FOOT_M, Settings()) == pytest.approx(allowed_ft * FOOT_M)


def test_the_degrees_of_freedom_behind_the_tolerance_are_the_networks_setting() -> None:
    part = agree([25.000, 25.002], TOLERANCE_M, Settings("ft", {"repeat_dof": "3"})).part
    expected = TOLERANCE_M / (1.96 * 2**0.5)
    assert part.u_m == pytest.approx(((3 * expected**2 + 2 * 0.001**2) / 4 / 2) ** 0.5)
    assert part.dof == 4


def test_repeats_of_different_units_are_noted_and_those_that_do_not_count_stand_in_brackets() -> None:
    context = ReadingContext(ANY_TWO)
    found = reduced("electric tape", {"readings": ["84.30", "25.692 m", "84.9", "84.31"]}, context)
    assert found.stages[0].steps[0].note == "84.30, 25.692 m, (84.9), 84.31 ft"
    (mixed,) = [one for one in found.findings if one.check == "units-mixed"]
    assert mixed.message == "this set is written in ft and m"
