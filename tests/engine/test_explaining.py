"""A blunder is named, with what it would mean and what to do; a good reading is left alone. Constructed cases."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.context import ReadingContext
from tapedown.engine.explaining import actions
from tapedown.engine.explaining.actions import ActionOutcome, best_action, information
from tapedown.engine.explaining.case import Around, Case, OtherWell, case_of
from tapedown.engine.explaining.known import AS_EXPECTED, CHANGED, EXPLANATIONS
from tapedown.engine.explaining.weigh import Explained, explain
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, calibrated, construction, gear, point, reading_set, seen

FT = FOOT_M
WEIGHTS = {
    **gear("W-03", type="weight", weight_interval="1.20 ft"),
    **gear("W-05", type="weight", weight_interval="1.36 ft"),
}
LINE = [("20.01", "20.00"), ("60.04", "60.00"), ("100.06", "100.00"), ("240.15", "240.00")]
TAPES = {**calibrated("ET-006", LINE, "straight line"), **calibrated("ET-009", [("200", "200.9")], "between marks")}


def near(middle_ft: float, scale_ft: float = 0.05) -> Predictive:
    """What a well with a quiet record is expected to show."""
    return Predictive(middle_ft * FT, scale_ft * FT, 5.0)


USUAL = near(22.55)


def case(
    method: str,
    read: Mapping[str, Any],
    expected: Predictive,
    around: Around | None = None,
    unit: str = "ft",
    **context: Any,
) -> Case:
    """A set read from a point 1.50 ft above land surface unless the context says other."""
    known = {"point": point("1.50 ft"), **context}
    found = case_of(
        method,
        reading_set(method, read, unit),
        ReadingContext(**{"settings": Settings(unit), **known}),
        expected,
        around or Around(),
    )
    assert found is not None
    return found


def electric(*readings: str, around: Around | None = None, expected: Predictive = USUAL, **context: Any) -> Case:
    return case("electric tape", {"readings": list(readings)}, expected, around, **context)


def chalked(*pairs: tuple[str, str]) -> Case:
    return case("chalked tape", {"readings": [{"hold": h, "cut": c} for h, c in pairs]}, near(22.55))


def sounded(*readings: str, expected_ft: float = 82.10, **given: Any) -> Case:
    return case("weighted tape", {"readings": list(readings), **given}, near(expected_ft, 0.02), gear=WEIGHTS)


def logger(hanging: str, taped: str) -> Case:
    read = {
        "readings": ["10.0 psi"],
        "type": "vented",
        "hanging_depth": hanging,
        "taped_depth": taped,
        "water_temp": "54 degF",
    }
    return case("logger check", read, near(22.55, 0.1))


MF_11 = Around(others=(OtherWell("MF-11", near(18.0), 2.5 * FT), OtherWell("MF-12", near(11.0), 2.5 * FT)))
OLD_POINT = Around(points=(point("2.12 ft"),))


class Named(NamedTuple):
    """A case in which an explanation comes first, and the nearest one in which it does not."""

    name: str
    is_it: Case
    is_not: Case
    corrected_ft: float | None = 22.54


NAMED = (
    Named("whole mark misread", electric("25.04"), electric("24.74")),
    Named("digits swapped", electric("42.04", "42.04"), electric("45.04", "45.04")),
    Named("digit misread", electric("84.04", expected=near(32.54, 0.02)), electric("54.04"), 32.54),
    Named("decimal point moved", electric("2.404", "2.404"), electric("3.404", "3.404")),
    Named("one repeat misread", electric("24.54", "24.04", "24.04"), electric("24.05", "24.04", "24.04")),
    Named("feet for metres", electric("7.33", "7.33"), electric("9.33", "9.33"), 22.55),
    Named("hold and cut swapped", chalked(("1.96", "26.00"), ("2.96", "27.00")), chalked(("26.00", "1.96"))),
    Named("hold of another repeat", chalked(("26.00", "1.96"), ("26.00", "4.96")),
          chalked(("26.00", "1.96"), ("27.00", "5.96"))),
    Named("weight interval left out", sounded("82.40", "82.40", weight=""),
          sounded("82.40", weight_interval="1.20"), 82.10),
    Named("weight interval counted twice", sounded("83.60", "83.60", weight_interval="1.20"),
          sounded("83.60", "83.60"), 82.10),
    Named("interval of another weight", sounded("82.24", "82.24", weight_interval="1.20"),
          sounded("82.40", "82.40", weight_interval="1.20"), 82.10),
    Named("sign of the measuring point", electric("21.04", "21.05"), electric("24.04", "24.05"), 22.545),
    Named("older height of the measuring point", electric("24.66", "24.66", around=OLD_POINT),
          electric("24.66", "24.66"), 22.54),
    Named("measuring point changed unnoticed", electric("23.41", "23.41", "23.42", settings=Settings("ft", {
        "chance_changed": "0.001"})), electric("24.03", "24.04"), 22.55),
    Named("wrong well", electric("20.50", "20.50", around=MF_11), electric("20.90", "20.90", around=MF_11), None),
    Named("another tape's calibration", case(
        "electric tape", {"readings": ["200.00", "200.00"], "tape": "ET-006"}, near(199.40, 0.03), calibrations=TAPES),
        case("electric tape", {"readings": ["200.00", "200.00"], "tape": "ET-006"}, near(198.38), calibrations=TAPES),
        199.40),
    Named("tape not corrected", case("electric tape", {"readings": ["801.68", "801.68"]}, near(800.0, 0.02)),
          electric("25.04"), None),
    Named("tape hung up or resting on something", sounded("60.00", "60.00", weight_interval="1.20"),
          sounded("82.40", "82.40", weight_interval="1.20"), 82.10),
    Named("water still recovering", electric("26.03", "25.73", seen=seen(pump="at rest", pump_since="lately")),
          electric("26.03", "25.73", expected=near(24.4), seen=seen(pump="at rest", pump_since="lately")), 22.55),
    Named("logger offset", logger("48.20", "24.05"), logger("47.11", "24.05"), 22.55),
)  # fmt: skip


@pytest.mark.parametrize("named", [pytest.param(named, id=named.name) for named in NAMED])
def test_a_blunder_is_named_first_where_it_is_one_and_not_where_it_is_none(named: Named) -> None:
    found = explain(named.is_it)
    assert (found.surprising, found.ranked[0].name) == (True, named.name), found.ranked[:3]
    assert explain(named.is_not).ranked[0].name != named.name
    corrected = found.ranked[0].corrected_m
    assert (corrected is None) is (named.name in NOT_OF_THIS_WELL)
    if named.corrected_ft is not None:
        assert corrected == pytest.approx(named.corrected_ft * FT, abs=0.02 * FT)


NOT_OF_THIS_WELL = {"wrong well"}


def test_every_explanation_has_a_case_here_except_those_of_values_handed_on() -> None:
    handed_on = {"height of the measuring point left out"}
    assert {row.name for row in EXPLANATIONS} - handed_on == {named.name for named in NAMED}


def test_a_value_handed_on_that_still_counts_from_the_point_is_named() -> None:
    read = {"readings": ["22.50"], "reference": "below land surface", "what": "water level"}
    found = explain(case("reported", read, near(21.0, 0.03), settings=Settings("ft", {"chance_changed": "0.002"})))
    left_out = next(row for row in found.ranked if row.name == "height of the measuring point left out")
    assert left_out.corrected_m == pytest.approx(21.0 * FT)
    assert left_out in found.first()


ALL_CASES = [case for named in NAMED for case in (named.is_it, named.is_not)]


@pytest.mark.parametrize("one", ALL_CASES)
def test_the_probabilities_sum_to_one_and_what_was_read_stays(one: Case) -> None:
    before = (one.read, one.context, one.value)
    found = explain(one)
    assert sum(row.probability for row in found.ranked) == pytest.approx(1.0, abs=1e-12)
    assert [row.probability for row in found.ranked] == sorted((r.probability for r in found.ranked), reverse=True)
    assert (one.read, one.context, one.value) == before
    assert found.depth_m == one.depth_m
    assert (found.action in actions.ACTIONS) is found.surprising


def names_of(found: Explained) -> list[str]:
    return [row.name for row in found.ranked]


def chance(found: Explained, name: str) -> float:
    return sum(row.probability for row in found.ranked if row.name == name)


def test_a_reading_as_expected_is_left_alone() -> None:
    found = explain(electric("24.03", "24.05"))
    assert found.verdict == "as the well is expected to show"
    assert names_of(found)[0] == AS_EXPECTED
    assert found.action == ""


def test_of_three_repeats_the_one_a_foot_off_is_the_misread_one() -> None:
    found = explain(electric("25.04", "24.04", "24.05"))
    assert found.ranked[0].words.startswith("repeat 1, reading 25.04 ft: 1 ft too much")
    assert found.ranked[0].corrected_m == pytest.approx(22.545 * FT, abs=0.003)
    assert found.ranked[0].probability > 0.99


def test_a_misread_becomes_less_likely_when_the_repeat_says_the_same_and_a_wrong_point_more() -> None:
    one, two, three = (explain(electric(*["21.04"] * n)) for n in (1, 2, 3))
    for name, grows in (("digit misread", False), ("whole mark misread", False), ("sign of the measuring point", True)):
        assert (chance(three, name) > chance(two, name) > chance(one, name)) is grows


def test_a_misread_in_both_repeats_is_still_offered() -> None:
    found = explain(electric("25.04", "25.05"))
    alike = next(row for row in found.ranked if row.words.startswith("every repeat"))
    assert alike.name == "whole mark misread"
    assert alike.corrected_m == pytest.approx(22.545 * FT)
    assert alike.probability > 0.1


def test_without_an_explanation_it_really_changed() -> None:
    assert names_of(explain(electric("21.10", "21.10", expected=near(20.5, 0.2))))[0] == AS_EXPECTED
    found = explain(
        electric("21.10", "21.11", expected=near(28.0, 0.4), settings=Settings("ft", {"chance_did_not_reach": "0"}))
    )
    assert names_of(found)[0] == CHANGED


def test_a_network_that_knows_its_blunders_changes_the_order() -> None:
    usual = explain(electric("25.04", "25.05"))
    changing = Settings("ft", {"chance_changed": "0.1", "chance_whole_mark": "0.001"})
    own = explain(electric("25.04", "25.05", settings=changing))
    assert names_of(usual)[0] == "whole mark misread"
    assert names_of(own)[0] == CHANGED


def test_an_explanation_with_no_chance_is_not_offered() -> None:
    found = explain(electric("42.04", "42.04", settings=Settings("ft", {"chance_digits_swapped": "0"})))
    assert "digits swapped" not in names_of(found)


def test_equal_digits_cannot_be_swapped() -> None:
    assert "digits swapped" not in names_of(explain(electric("22.22")))


def test_on_a_metre_tape_a_tenth_is_a_whole_mark() -> None:
    found = explain(case("electric tape", {"readings": ["7.33"]}, Predictive(6.77, 0.01, 5.0), unit="m",
                         point=point("0.46", unit="m")))  # fmt: skip
    assert found.ranked[0].name == "whole mark misread"
    assert "0.1 m too much" in found.ranked[0].words
    assert found.ranked[0].corrected_m == pytest.approx(6.77)


def test_figures_of_a_metre_tape_in_a_foot_network_slip_by_metre_marks() -> None:
    tapes = gear("MT-01", graduation="0.001 m", length="100 m")
    read = {"readings": ["27.31"], "tape": "MT-01"}
    found = explain(case("electric tape", read, near(22.53, 0.03), gear=tapes))
    assert "1 m too much" in found.ranked[0].words


def test_an_unusual_unit_of_pressure_slips_by_its_own_marks() -> None:
    read = {"readings": ["18", "18"], "line_length": "150.0 ft", "water_temp": "54"}
    right = case("air line", read, near(0.0)).depth_m / FT
    slipped = explain(case("air line", {**read, "readings": ["28"]}, near(right, 0.5)))
    assert slipped.ranked[0].name == "whole mark misread"
    assert slipped.ranked[0].corrected_m == pytest.approx(right * FT, abs=0.05)


def test_in_a_leaning_hole_a_foot_of_tape_is_less_than_a_foot_of_depth() -> None:
    leaning = reading_set_leaning("101.50")
    assert leaning.numbers[0][0].slope == pytest.approx(0.9659, abs=1e-4)  # cos 15 deg
    found = explain(leaning)
    assert found.ranked[0].name == "whole mark misread"
    assert found.ranked[0].corrected_m == pytest.approx(reading_set_leaning("91.50").depth_m)


def reading_set_leaning(reading: str) -> Case:
    return case(
        "electric tape",
        {"readings": [reading]},
        near(91.5 * 0.9659 - 1.5, 0.1),
        construction=construction(lean="15 deg"),
    )


def test_a_dry_well_read_as_water_is_seen_by_its_bottom() -> None:
    found = explain(electric("81.5", "81.5", expected=near(60.0, 1.0), around=Around(bottom=near(80.0, 0.05))))
    assert "the well may be dry" in found.ranked[0].words


def test_nothing_is_explained_without_a_level_or_a_point() -> None:
    read = reading_set("electric tape", {"readings": ["24.03"]})
    assert case_of("electric tape", read, ReadingContext(), near(22.5)) is None
    frozen = ReadingContext(point=point("1.50"), seen=seen(in_the_hole=["ice"]))
    assert case_of("electric tape", read, frozen, near(22.5)) is None


@given(
    readings=st.lists(st.decimals("0.1", "300", places=2), min_size=1, max_size=4),
    middle=st.floats(1, 300),
    scale=st.floats(0.005, 20),
)
def test_whatever_is_read_the_weights_are_probabilities(readings: list[Any], middle: float, scale: float) -> None:
    found = explain(electric(*map(str, readings), expected=near(middle, scale), around=MF_11, gear=WEIGHTS))
    assert sum(row.probability for row in found.ranked) == pytest.approx(1.0)
    assert all(0 <= row.probability <= 1 for row in found.ranked)
    assert 0 <= found.surprise <= 1


def test_the_action_named_is_the_one_that_separates_the_first_two() -> None:
    misread = ActionOutcome(0.6, 22.5, {actions.LOWER: 0.95, actions.LOOK: 0.6})
    moved = ActionOutcome(0.3, 22.5, {actions.POINT: 0.95})
    other = ActionOutcome(0.3, None, {actions.TAG: 0.98})
    assert best_action(misread, moved, 0.006) == actions.LOWER
    assert best_action(moved, other, 0.006) in (actions.TAG, actions.POINT)
    assert best_action(ActionOutcome(0.9, 22.5, {}), ActionOutcome(0.1, 22.5, {}), 0.006) == actions.LOWER


def test_an_action_that_brings_both_to_light_alike_tells_nothing() -> None:
    one, two = ActionOutcome(0.5, 22.5, {actions.LOWER: 0.9}), ActionOutcome(0.5, 22.5, {actions.LOWER: 0.9})
    assert information(one, two, actions.LOWER, alike=True) == pytest.approx(0.0)
    assert information(one, two, actions.LOWER, alike=False) == pytest.approx(0.9)
