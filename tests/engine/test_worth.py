"""The order of the review queue: what is likelier wrong, moves more, is newer or has waited longer comes first."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.uncertainty.review_priority import chance_wrong, worth_of_look
from tapedown.values.results import Finding

LOOK, STOP, NOTE = (Finding("x", weight, "found", "do") for weight in ("look", "stop", "note"))


def test_each_sign_makes_wrong_likelier_and_a_note_does_not() -> None:
    plain = chance_wrong([], 2)
    assert plain == pytest.approx(0.02)
    assert chance_wrong([NOTE], 2) == plain
    rising = [
        plain,
        chance_wrong([], 1),
        chance_wrong([LOOK], 2),
        chance_wrong([STOP], 2),
        chance_wrong([STOP, LOOK], 2),
    ]
    assert rising == sorted(rising)
    assert len(set(rising)) == len(rising)


@given(st.floats(0, 1), st.integers(0, 5))
def test_surprise_raises_the_chance_and_it_stays_a_probability(surprise: float, looks: int) -> None:
    before, after = chance_wrong([LOOK] * looks, 2), chance_wrong([LOOK] * looks, 2, surprise)
    assert 0 <= before <= after <= 1
    assert after >= surprise - 1e-12


def test_what_moves_the_record_more_is_newest_or_waited_longer_is_worth_more() -> None:
    plain = worth_of_look(0.1, 0.3, 0.01)
    assert plain.worth_m == pytest.approx(0.03)
    assert worth_of_look(0.1, 0.6, 0.01).worth_m > plain.worth_m
    assert worth_of_look(0.1, 0.3, 0.01, newest=True).worth_m > plain.worth_m
    assert worth_of_look(0.1, 0.3, 0.01, unreviewed_d=200).worth_m > plain.worth_m
    assert worth_of_look(0.1, 0.3, 0.01, unreviewed_d=9000) == worth_of_look(0.1, 0.3, 0.01, unreviewed_d=731)
    assert worth_of_look(0.1, 0.0, 0.01).moves_m == 0.01


def test_a_surprise_that_is_no_probability_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match=r"surprise 1\.2 must lie"):
        chance_wrong([], 2, 1.2)


@pytest.mark.parametrize(
    ("findings", "repeats", "odds"),
    [([], 2, 1 / 49), ([], 0, 1 / 49), ([], 1, 2 / 49), ([LOOK], 2, 4 / 49), ([STOP], 2, 12 / 49), ([NOTE], 1, 2 / 49),
     ([STOP, LOOK, NOTE], 1, 96 / 49)],
)  # fmt: skip
def test_the_chance_follows_from_the_odds_as_the_rule_states_them(
    findings: list[Finding], repeats: int, odds: float
) -> None:
    assert chance_wrong(findings, repeats) == pytest.approx(odds / (1 + odds))
    assert chance_wrong(findings, repeats, 0.3) == pytest.approx(1 - 0.7 / (1 + odds))
    assert chance_wrong(findings, repeats, 1.0) == 1.0


def test_the_worth_is_chance_times_move_times_what_relies_on_it_times_the_years_it_waited() -> None:
    for given_, worth in (
        ({}, 0.03), ({"newest": True}, 0.06), ({"unreviewed_d": 365.25}, 0.06), ({"unreviewed_d": 730.5}, 0.09),
        ({"unreviewed_d": 9999.0}, 0.09), ({"unreviewed_d": -50.0}, 0.03),
        ({"newest": True, "unreviewed_d": 182.625}, 0.09),
    ):  # fmt: skip
        found = worth_of_look(0.1, -0.3, 0.01, **given_)
        assert (found.chance, found.moves_m, found.worth_m) == pytest.approx((0.1, 0.3, worth))
    assert worth_of_look(0.5, 0.0, 0.02).worth_m == pytest.approx(0.01)


@pytest.mark.parametrize("surprise", [-0.01, 1.01])
def test_a_surprise_is_a_probability(surprise: float) -> None:
    with pytest.raises(ValueError, match="must lie between 0 and 1"):
        chance_wrong([], 2, surprise)
