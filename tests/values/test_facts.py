"""Facts whose fields must not contradict each other, and the settings of a network."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.values.kinds import KINDS, about_gear, about_well
from tapedown.values.settings import CHOICES, SETTINGS, Settings, checked_settings

POINT = {"name": "MP-1", "description": "north rim, file mark"}
HEIGHTS = st.from_regex(r"[0-9]{1,2}\.[0-9]{2}", fullmatch=True)


def read_point(**given_point: Any) -> tuple[Any, list[str]]:
    value, problems = KINDS["measuring point"].read({**POINT, **given_point}, "ft")
    return value, [problem.place for problem in problems]


@given(HEIGHTS, st.sampled_from(["above", "below"]))
def test_the_word_decides_the_sign_of_an_unsigned_height(height: str, side: str) -> None:
    value, _ = read_point(height=height, side=side)
    sign = 1 if side == "above" else -1
    assert value.height_m == pytest.approx(sign * float(height) * 0.3048)


@pytest.mark.parametrize(
    ("height", "side"), [("-3.40", "above"), ("+3.40", "below"), ("−3.40", "above"), ("3.40", "level")]
)
def test_a_number_and_a_word_that_contradict_each_other_are_sent_back(height: str, side: str) -> None:
    value, places = read_point(height=height, side=side)
    assert value is None
    assert places == ["height"]


@pytest.mark.parametrize(("height", "side"), [("+3.40", "above"), ("-1.20", "below"), ("0.00", "level")])
def test_a_number_and_a_word_that_say_the_same_are_taken(height: str, side: str) -> None:
    value, places = read_point(height=height, side=side)
    assert not places
    assert value.height_m == pytest.approx(float(height) * 0.3048)


def test_a_point_without_a_word_is_not_guessed() -> None:
    value, places = read_point(height="3.40")
    assert value is None
    assert places == ["side"]


@pytest.mark.parametrize(
    ("survey", "lean", "places"),
    [
        ([("0", "0"), ("50", "2"), ("90", "3")], None, []),
        ([("0", "0"), ("90", "2"), ("50", "3")], None, ["survey"]),
        ([("0", "0"), ("50", "2")], "2", ["lean"]),
    ],
)
def test_a_survey_goes_down_in_order_and_stands_alone(
    survey: list[tuple[str, str]], lean: str | None, places: list[str]
) -> None:
    told: dict[str, Any] = {"survey": [{"along": along, "inclination": tilt} for along, tilt in survey]}
    _, problems = KINDS["construction"].read(told | ({"lean": lean} if lean else {}), "ft")
    assert [problem.place for problem in problems] == places


@pytest.mark.parametrize(
    ("shown", "apply", "good"),
    [
        (["50", "100", "150"], "straight line", True),
        (["50", "100"], "straight line", False),
        (["50", "100"], "between marks", True),
        (["100", "50"], "between marks", False),
        (["50", "50"], "checked", False),
    ],
)
def test_a_calibration_has_its_marks_in_order_and_enough_of_them(shown: list[str], apply: str, good: bool) -> None:
    marks = [{"shown": length, "true": length} for length in shown]
    told = {"serial": "ET-021", "against": "ST-001", "marks": marks, "apply": apply}
    value, problems = KINDS["calibration"].read(told, "ft")
    assert (value is not None) is good
    assert bool(problems) is not good


def test_what_a_fact_is_about_is_a_plain_word() -> None:
    assert (about_well("MF-07"), about_gear("ST-014")) == ("well/MF-07", "gear/ST-014")


@pytest.mark.parametrize("row", [pytest.param(row, id=row.name) for row in SETTINGS])
def test_every_setting_has_a_readable_default_a_meaning_and_a_source(row: Any) -> None:
    assert row.meaning
    assert row.source
    assert checked_settings({row.name: row.default}) == {row.name: row.default}
    if row.quantity != "text":
        assert Settings().si(row.name) == Settings().si(row.name)
    elif row.name in CHOICES:
        assert row.default in CHOICES[row.name]


def test_a_changed_setting_is_used_and_says_so() -> None:
    changed = Settings("m", {"agree_within": "5 mm"})
    assert changed.si("agree_within") == pytest.approx(0.005)
    assert changed.source("agree_within") == "set here"
    assert Settings().source("agree_within") != "set here"


def test_a_setting_written_without_a_unit_takes_the_unit_of_its_default() -> None:
    accepted = checked_settings({"agree_within": "0.03", "u_angle": "1"})
    assert Settings("ft", accepted).si("agree_within") == pytest.approx(0.03 * 0.3048)
    assert Settings("ft", accepted).si("u_angle") == 1.0


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"agree_near": "0.02 ft"}, "known: agree_gauge"),
        ({"agree_within": "close"}, "not a number"),
        ({"agree_within": "2 psi"}, "not a unit of length"),
        ({"agree_rule": "best"}, "two consecutive, any two"),
    ],
)
def test_a_setting_nobody_knows_or_nobody_can_read_is_refused(changes: dict[str, str], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        checked_settings(changes)
