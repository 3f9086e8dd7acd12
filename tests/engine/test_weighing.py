"""The weighing itself: every probability worked out anew with scipy, and what a person is told of it."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.context import ReadingContext
from tapedown.engine.explaining import actions
from tapedown.engine.explaining.actions import ActionOutcome, best_action, information
from tapedown.engine.explaining.case import Around, Case, OtherWell, case_of, log_within
from tapedown.engine.explaining.known import AS_EXPECTED, CHANGED, EXPLANATIONS
from tapedown.engine.explaining.weigh import REST, Explained, Ranked, explain, unlike_the_well
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, construction, gear, point, position, reading_set, seen

FT = FOOT_M
WEIGHTS = gear("W-03", type="weight", weight_interval="1.20 ft")


def near(middle_ft: float, scale_ft: float = 0.05) -> Predictive:
    return Predictive(middle_ft * FT, scale_ft * FT, 5.0)


def made(
    method: str, given: dict[str, Any], expected: Predictive, around: Around | None = None, **context: Any
) -> Case:
    known = {"settings": Settings("ft"), "point": point("1.50 ft"), **context}
    found = case_of(method, reading_set(method, given), ReadingContext(**known), expected, around or Around())
    assert found is not None
    return found


def electric(*readings: str, expected: Predictive | None = None, around: Around | None = None, **context: Any) -> Case:
    return made("electric tape", {"readings": list(readings)}, expected or near(22.55), around, **context)


def logger(taped: str) -> Case:
    read = {"readings": ["10.0 psi"], "type": "vented", "hanging_depth": "48.20", "taped_depth": taped,
            "water_temp": "12 degC"}  # fmt: skip
    return made("logger check", read, near(22.55, 0.1))


ROUND = Around(others=(OtherWell("MF-11", near(18.0), 2.5 * FT), OtherWell("MF-12", near(11.0), 2.5 * FT)))
CHALK = {"readings": [{"hold": "26.00", "cut": "1.96"}, {"hold": "26.00", "cut": "4.96"}]}
CASES = {
    "one reading": electric("25.04"),
    "two readings": electric("25.04", "25.05"),
    "three, one of them off": electric("24.54", "24.04", "24.04"),
    "near other wells": electric("20.50", "20.50", around=ROUND),
    "over a dry bottom": electric("25.50", "25.52", around=Around(bottom=near(24.0, 0.05))),
    "rising": electric("26.03", "25.73", seen=seen(pump="at rest", pump_since="lately")),
    "chalked": made("chalked tape", CHALK, near(22.55)),
    "sounding": made("weighted tape", {"readings": ["83.60", "83.60"], "weight_interval": "1.20"}, near(82.1, 0.02),
                     gear=WEIGHTS),
    "logger": logger("24.05"),
    "hardly expected at all": electric("24.05", expected=near(22.50, 4.0)),
}  # fmt: skip
EVERY_CASE = pytest.mark.parametrize("case", CASES.values(), ids=CASES)


def spread_m(case: Case) -> float:
    """Repeats lie within the network's rule 19 times in 20: 0.02 ft to 200 ft of depth."""
    return 0.02 * FT / (1.96 * math.sqrt(2))


def density(case: Case, depths_m: tuple[float, ...], own: float | None, times: float, beside_m: float | None) -> float:
    depths = np.array(depths_m or case.depths_m)
    expected = case.expected
    middle = depths.mean()
    found = stats.t.logpdf(middle, expected.dof, expected.middle_m, expected.scale_m) if own is None else own
    if len(depths) > 1:
        found += stats.t.logpdf(depths - middle, 2, 0.0, times * spread_m(case)).sum()
    if beside_m is not None:
        found += stats.t.logpdf(beside_m, 2, 0.0, 5 * spread_m(case))
    return float(found)


def by_scipy(case: Case) -> dict[str, float]:
    """Probability of each explanation by name: chance over ways, times the density of the set, made to sum to one."""
    network = case.context.settings
    chances = {row.name: network.si(row.chance) for row in EXPLANATIONS}
    changed, beside = network.si("chance_changed"), None
    if case.method == "logger check":
        beside = 24.05 * FT - (case.depth_m + 1.5 * FT)
    expected = case.expected
    wide_m = max(10 * expected.scale_m, 1.0 * FT)
    of_change = float(stats.t.logpdf(np.mean(case.depths_m), 2, expected.middle_m, wide_m))
    weights: dict[str, float] = defaultdict(float)
    nothing_wrong = 1 - changed - sum(chances.values())
    weights[AS_EXPECTED] = nothing_wrong * math.exp(density(case, case.depths_m, None, 1.0, beside))
    weights[CHANGED] = changed * math.exp(density(case, case.depths_m, of_change, 1.0, beside))
    for row in EXPLANATIONS:
        for c in row.propose(case):
            off = None if c.tells_of_tape else beside
            share = chances[row.name] / c.ways
            weights[row.name] += share * math.exp(density(case, c.corrected_m, c.log_density, c.spread_times, off))
    whole = sum(weights.values())
    return {name: weight / whole for name, weight in weights.items()}


@EVERY_CASE
def test_every_probability_is_chance_times_density_over_their_sum(case: Case) -> None:
    peer, found = by_scipy(case), explain(case)
    shares: dict[str, float] = defaultdict(float)
    for row in found.ranked:
        shares[row.name] += row.probability
    rest = shares.pop(REST, 0.0)
    for name, probability in shares.items():
        assert probability == pytest.approx(peer[name], rel=1e-4, abs=2e-6), name
    assert rest == pytest.approx(sum(p for name, p in peer.items() if name not in shares), abs=2e-6)
    assert found.wrong == pytest.approx(1 - peer[AS_EXPECTED] - peer[CHANGED], abs=1e-6)
    assert found.surprising is (peer[AS_EXPECTED] < 0.7)
    expected = case.expected
    away = abs(case.depth_m - expected.middle_m) / expected.scale_m
    assert found.surprise == pytest.approx(2 * stats.t.sf(away, expected.dof), rel=1e-6)
    assert found.expected == expected
    told = {AS_EXPECTED: "nothing is wrong", CHANGED: "the well itself is different now"}
    for row in found.ranked:
        if row.name in told:
            assert row.words == told[row.name]
            assert row.corrected_m == pytest.approx(np.mean(case.depths_m))


@EVERY_CASE
def test_what_is_a_million_times_less_likely_than_the_first_is_told_as_one(case: Case) -> None:
    found = explain(case)
    named = [row for row in found.ranked if row.name != REST]
    assert min(row.probability for row in named) >= named[0].probability * math.exp(-14.0) * (1 - 1e-9)
    for rest in [row for row in found.ranked if row.name == REST]:
        assert (rest.corrected_m, rest.words, rest) == (None, "each of them far less likely", found.ranked[-1])


def test_slips_that_lead_to_the_same_depths_are_one_with_the_sum_of_their_chances() -> None:
    """Of one pair of hold and cut, a foot more held is a foot less cut."""
    case = made("chalked tape", {"readings": [{"hold": "26.00", "cut": "2.96"}]}, near(22.55))
    marks = [row for row in explain(case).ranked if row.name == "whole mark misread"]
    assert len({row.corrected_m for row in marks}) == len(marks)
    misread = next(row for row in EXPLANATIONS if row.name == "whole mark misread")
    up = [c for c in misread.propose(case) if c.corrected_m[0] == pytest.approx(22.54 * FT)]
    assert len(up) == 2
    one = explain(electric("23.04"))
    alone = next(row for row in one.ranked if row.name == "whole mark misread")
    # ten ways of a pair against six of one reading: twice a tenth beside a sixth
    of_pair = next(row for row in marks if row.corrected_m == pytest.approx(22.54 * FT))
    odds = [row.probability / sum(r.probability for r in found.ranked if r.name == AS_EXPECTED)
            for row, found in ((of_pair, explain(case)), (alone, one))]  # fmt: skip
    assert odds[0] / odds[1] == pytest.approx((2 / len(list(misread.propose(case)))) / (1 / 6), rel=1e-6)


def test_only_the_first_explanation_is_worked_out_anew_from_the_mended_readings() -> None:
    """Mended, the last two agree and make the value; the mean of all three would lie 0.015 ft deeper."""
    first = explain(electric("24.09", "25.04", "24.05", expected=near(22.55, 0.01))).ranked[0]
    assert first.words.startswith("repeat 2, reading 25.04 ft: 1 ft too much")
    assert first.corrected_m == pytest.approx(22.545 * FT)
    assert explain(electric("25.04", "24.04", "24.05")).ranked[0].corrected_m == pytest.approx((67.63 / 3) * FT)


def ranked(*rows: tuple[str, float]) -> Explained:
    told = tuple(Ranked(name, probability, 6.0, "because") for name, probability in rows)
    return Explained(6.5, 0.001, True, told, "look again", Predictive(6.0, 0.01, 5.0))


def test_what_is_named_is_worth_naming_and_no_more_than_three() -> None:
    found = ranked(("a", 0.5), (AS_EXPECTED, 0.3), ("b", 0.1), ("c", 0.07), ("d", 0.01), ("e", 0.009))
    assert [row.name for row in found.first()] == ["a", "b", "c"]
    assert [row.name for row in found.first(9)] == ["a", "b", "c", "d"]
    assert found.wrong == pytest.approx(0.7 - 0.011 * 0, abs=0.02)
    usual = ranked((AS_EXPECTED, 0.6), ("a", 0.4))
    assert [row.name for row in usual.first()] == [AS_EXPECTED, "a"]
    assert ranked(("a", 0.005), ("b", 0.004)).first() == ranked(("a", 0.005)).ranked
    assert ranked((AS_EXPECTED, 0.25), (CHANGED, 0.5), ("a", 0.25)).wrong == pytest.approx(0.25)
    assert found.verdict == "unlike the well: a?"


def test_the_finding_tells_what_was_expected_and_the_first_explanations_with_their_chances() -> None:
    case = electric("24.04")
    found = ranked(("one foot", 0.634), ("wrong well", 0.3))._replace(depth_m=25.0 * FT, expected=near(22.55))
    (told,) = unlike_the_well(found, case)
    half = 0.05 * stats.t.ppf(0.975, 5)
    assert told.message == (
        f"25.00 ft below land surface; {22.55 - half:.2f} ft to {22.55 + half:.2f} ft was expected. "
        "one foot (63%); wrong well (30%)"
    )
    assert told.hint == "look again"
    assert unlike_the_well(found._replace(surprising=False), case) == []


@settings(max_examples=50)
@given(st.floats(-5, 40), st.floats(0.1, 20), st.floats(-5, 40))
def test_the_chance_of_a_stretch_is_scipys(low_m: float, length_m: float, middle_m: float) -> None:
    known = stats.t(5, middle_m, 0.5)
    share = max(float(known.cdf(low_m + length_m) - known.cdf(low_m)), 1e-12)
    found = math.exp(log_within(Predictive(middle_m, 0.5, 5.0), low_m, low_m + length_m))
    assert found == pytest.approx(share, rel=1e-6, abs=2e-12)


def mutual_bits(first: ActionOutcome, second: ActionOutcome, action: str, *, alike: bool) -> float:
    """Entropy of what is seen less its mean entropy once it is known which of the two is true, by scipy."""
    share = first.probability / (first.probability + second.probability)
    a, b = (one.shows.get(action, 0.02) if one.shows else 0.0 for one in (first, second))
    seen_by = np.array([[a, 0, 1 - a], [b, 0, 1 - b]]) if alike else np.array([[a, 0, 1 - a], [0, b, 1 - b]])
    weights = np.array([share, 1 - share])
    return float(stats.entropy(weights @ seen_by, base=2) - weights @ stats.entropy(seen_by, axis=1, base=2))


SHOWS = st.dictionaries(st.sampled_from(actions.ACTIONS), st.floats(0.05, 0.98), max_size=4)


@settings(max_examples=40)
@given(st.floats(0.01, 0.99), st.floats(0.01, 0.99), SHOWS, SHOWS, st.sampled_from(actions.ACTIONS), st.booleans())
def test_information_is_the_entropy_that_a_look_takes_away(
    p: float, q: float, shows: dict[str, float], others: dict[str, float], action: str, alike: bool
) -> None:
    first, second = ActionOutcome(p, 6.0, shows), ActionOutcome(q, 6.0, others)
    found = information(first, second, action, alike=alike)
    assert found == pytest.approx(mutual_bits(first, second, action, alike=alike), abs=1e-9)


def test_depths_that_cannot_be_told_apart_make_actions_for_both_worthless() -> None:
    both = {actions.LOWER: 0.9}
    misread, other = ActionOutcome(0.5, 6.0, both), ActionOutcome(0.5, 6.006, {**both, actions.POINT: 0.5})
    assert best_action(misread, other, 0.0061) == actions.POINT
    assert best_action(misread, other, 0.0059) == actions.LOWER
    at_the_limit = other._replace(depth_m=6.5)
    assert best_action(misread, at_the_limit, 0.5) == actions.POINT
    elsewhere = other._replace(depth_m=None)
    assert best_action(misread, elsewhere, 1.0) == actions.LOWER


def test_of_actions_nearly_as_good_the_surest_for_the_first_is_named_and_of_those_the_cheapest() -> None:
    nothing = ActionOutcome(0.5, 6.0, {})
    # 0.92 of the best tells at least nine tenths as much; the cheaper LOOK shows the first nearly as surely
    near_by = ActionOutcome(0.5, 6.5, {actions.LOOK: 0.93, actions.OTHER: 0.95})
    assert best_action(near_by, nothing, 0.006) == actions.LOOK
    worse = ActionOutcome(0.5, 6.5, {actions.LOOK: 0.80, actions.OTHER: 0.95})
    assert best_action(worse, nothing, 0.006) == actions.OTHER
    # the second's own action tells more, but one that shows the first for sure is nearly as good
    for_second = ActionOutcome(0.5, 6.5, {actions.TAG: 0.96})
    assert best_action(ActionOutcome(0.5, 6.0, {actions.OTHER: 0.95}), for_second, 0.006) == actions.OTHER
    assert best_action(nothing, nothing, 0.006) == actions.LOWER
    # nothing tells the two apart, yet the first is a fault: what shows it is still named
    same = ActionOutcome(0.5, 6.0, {actions.POINT: 0.95})
    assert best_action(same, same, 0.006) == actions.POINT


def test_a_repeats_slope_is_what_one_more_in_its_own_unit_does() -> None:
    for method, given_, slopes in (
        ("electric tape", {"readings": ["24.04"]}, [1.0]),
        ("weighted tape", {"readings": ["24.04"], "weight_interval": "1.20"}, [1.0]),
        ("standpipe", {"readings": ["3.62"], "shut_in": "2 h"}, [-1.0]),
        ("chalked tape", {"readings": [{"hold": "26.00", "cut": "1.96"}]}, [1.0, -1.0]),
        ("reported", {"readings": ["22.5"], "reference": "below land surface", "what": "water level"}, [1.0]),
        ("air line", {"readings_as_water": ["50.0"], "line_length": "150.0"}, [-1.0]),
    ):
        case = made(method, given_, near(22.55), seen=seen(water=["runs over"]) if method == "standpipe" else seen())
        numbers = case.numbers[0]
        exact = method != "air line"  # a foot of tape is a foot of depth, to the last digit
        assert [one.slope for one in numbers] == (slopes if exact else pytest.approx(slopes, abs=1e-6))
        assert [one.per_unit_m for one in numbers] == pytest.approx([s * FT for s in slopes], abs=1e-6)
        assert case.depths_m == pytest.approx((case.depth_m,))
    land = {"readings": ["98.00"], "reference": "elevation", "what": "water level"}
    case = made("reported", land, near(22.55), position=position(land_surface="120.5", vertical_datum="NAVD88"))
    assert case.numbers[0][0].slope == -1.0
    assert case.depth_m == pytest.approx(22.5 * FT)


@pytest.mark.parametrize("hole", [None, construction(lean="15 deg")])
def test_each_repeat_has_the_depth_it_would_have_alone(hole: Any) -> None:
    for readings in (("24.04", "24.05", "24.90"), ("24.04", "24.06")):
        case = electric(*readings, construction=hole)
        alone = [electric(one, construction=hole).depth_m for one in readings]
        assert case.depths_m == pytest.approx(alone, abs=1e-6)
    pairs = [{"hold": "26.00", "cut": "1.96"}, {"hold": "27.00", "cut": "2.97"}]
    case = made("chalked tape", {"readings": pairs}, near(22.55), construction=hole)
    for pair, depth_m in zip(pairs, case.depths_m, strict=True):
        assert depth_m == pytest.approx(
            made("chalked tape", {"readings": [pair]}, near(22.55), construction=hole).depth_m
        )
