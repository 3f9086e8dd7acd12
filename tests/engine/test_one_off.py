"""One reading with everything around it in one mapping: what is read of it, and where it is said to be wrong."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tapedown.engine.methods.registry import reduce_readings
from tapedown.engine.one_off.explained import surroundings
from tapedown.engine.one_off.reading import GROUPS, read_once, reduce_once, seen_once
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.expectations import ExpectedBottom, ExpectedLevel
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, STEEL_TAPE, below_land_ft, elevation_ft, in_plain, names

POINT = {"name": "MP-1", "height": "2.00", "side": "above", "description": "north rim"}
WHOLE: dict[str, Any] = {
    "length_unit": "ft",
    "method": "electric tape",
    "readings": ["45.12", "45.12"],
    "tape": "ET-021",
    "when": "2026-05-14T10:20-04:00",
    "seen": {"pump": "at rest", "pump_since": "3 h"},
    "vertical_datum": "NAVD88",
    "point": POINT,
    "position": {"land_surface": "120.00", "vertical_datum": "NGVD29"},
    "construction": {"completed_depth": "43.0"},
    "settings": {"pump_rest": "2 h", "u_tape_share": 0.001},
    "gear": [{"serial": "ET-021", "type": "electric tape", "length": "300 ft"}],
    "calibrations": [{"serial": "ET-021", "on": "2024-01-10", "against": "ST-001", "apply": "between marks",
                      "marks": [{"shown": "40.00", "true": "40.10"}, {"shown": "50.00", "true": "50.20"}]}],
}  # fmt: skip


def without(*left_out: str, **changes: Any) -> dict[str, Any]:
    return {key: value for key, value in {**WHOLE, **changes}.items() if key not in left_out}


def test_everything_around_a_reading_enters_its_value() -> None:
    once = reduce_once(WHOLE)
    assert once.problems == ()
    assert once.settings == Settings("ft", {"pump_rest": "2 h", "u_tape_share": "0.001"})
    assert once.value is not None
    added = 0.10 + 0.10 * 0.512
    assert below_land_ft(once.value) == pytest.approx(45.12 + added - 2.00)
    assert elevation_ft(once.value) == pytest.approx(120.00 - (43.12 + added))
    assert once.value.use == "level, state not noted"
    found = names(once.value.findings)
    assert found == {"calibration-overdue", "datum-not-shifted", "deeper-than-well"}
    assert "gear-not-known" in names(value_of(without("gear")).findings)
    assert below_land_ft(value_of(without("calibrations"))) == pytest.approx(43.12)
    assert value_of(without("settings")).use == "recovering level"
    assert "datum-not-shifted" not in names(value_of(without("vertical_datum")).findings)
    assert "calibration-overdue" not in names(value_of(without("when")).findings)


def value_of(given: dict[str, Any]) -> Any:
    once = reduce_once(given)
    assert once.value is not None, once.problems
    return once.value


def test_the_groups_are_those_that_a_reading_is_worked_out_with() -> None:
    read, context, problems = read_once(WHOLE)
    assert problems == ()
    assert read is not None
    assert read.method == "electric tape"
    assert reduce_readings(read.method, read.read, context) == reduce_once(WHOLE).value
    assert context.when == "2026-05-14T10:20-04:00"
    assert set(context.gear) == set(context.calibrations) == {"ET-021"}
    assert context.calibrations["ET-021"].on == "2024-01-10"
    bare = {"method": "electric tape", "readings": ["45.12"]}
    assert read_once(bare).context._replace(settings=Settings()) == type(context)()
    assert read_once(bare).context.settings.length_unit == "ft"
    assert set(GROUPS) < set(WHOLE)


def test_a_metre_network_reads_bare_numbers_in_metres() -> None:
    once = reduce_once({"length_unit": "m", "method": "electric tape", "readings": ["45.12"]})
    assert once.value is not None
    assert once.value.stages[0].result.value_m == pytest.approx(45.12)
    assert once.settings.length_unit == "m"


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ({"length_unit": "yd"}, "length_unit", "'yd' is neither ft nor m"),
        ({"readings": ["45.x"]}, "readings[1]", "'x' is not a unit"),
        ({"method": "dowsing"}, "method", "dowsing"),
        ({"point": "north rim"}, "point", "'north rim' is not a group of fields"),
        ({"point": {**POINT, "height": "high"}}, "point.height", "high"),
        ({"position": {"latitude": "north"}}, "position.latitude", "north"),
        ({"construction": ["82"]}, "construction", "is not a group of fields"),
        ({"settings": {"pump_rest": "soon"}}, "settings", "soon"),
        ({"settings": {"no_such": "1"}}, "settings", "no_such"),
        ({"settings": "none"}, "settings", ""),
        ({"gear": [WHOLE["gear"][0], {"serial": "W-3", "type": "anchor"}]}, "gear[2].type", "anchor"),
        ({"gear": ["ET-021"]}, "gear[1]", "'ET-021' is not a group of fields"),
        ({"gear": "ET-021"}, "gear[1]", "'ET-021' is not a group of fields"),
        ({"calibrations": [{**WHOLE["calibrations"][0], "on": "lately"}]}, "calibrations[1].on", "lately"),
        ({"calibrations": {**WHOLE["calibrations"][0], "apply": "guess"}}, "calibrations[1].apply", "guess"),
        ({"when": "tomorrow"}, "when", "tomorrow"),
        ({"seen": {"pump": "resting"}}, "seen.pump", "resting"),
    ],
)
def test_what_is_wrong_is_named_with_its_place_and_nothing_is_worked_out(
    changes: dict[str, Any], place: str, words: str
) -> None:
    once = reduce_once({**WHOLE, **changes})
    assert once.value is None
    assert [problem.place for problem in once.problems] == [place]
    (problem,) = once.problems
    assert words in problem.message
    assert problem.mend


def test_every_problem_is_named_at_once() -> None:
    given = {**WHOLE, "readings": ["45.x"], "when": "tomorrow", "point": {**POINT, "height": "high"}, "gear": [3]}
    assert [p.place for p in reduce_once(given).problems] == ["readings[1]", "when", "point.height", "gear[1]"]


def test_what_is_seen_is_answered_with_its_settings_and_its_problems() -> None:
    given = {"length_unit": "m", "when": "2026-05-14T10:20", "seen": {"pump": "at rest", "pump_since": "3 h"}}
    assert seen_once(given)["seen"]["level"] == "recovering level"
    assert seen_once({**given, "settings": {"pump_rest": "2 h"}})["seen"]["level"] == "level, state not noted"
    assert seen_once(given)["seen"]["hours_since_pump"] == pytest.approx(3.0)
    assert seen_once(given)["problems"] == []
    dated = {**given, "seen": {"pump": "at rest", "pump_since": "09:20"}}
    assert seen_once(dated)["seen"]["hours_since_pump"] == pytest.approx(1.0)
    wrong = seen_once({**dated, "when": "tomorrow", "seen": {"hung_up_at": "deep"}})
    assert wrong["seen"] is None
    assert [problem["place"] for problem in wrong["problems"]] == ["when", "hung_up_at"]
    assert seen_once({})["seen"] == {
        "level": "level, state not noted", "hours_since_pump": None, "findings": [], "forbids": [],
    }  # fmt: skip
    reached = {"water": ["not reached"], "depth_reached": "61.2", "oil_thickness": "0.3"}
    said = {unit: seen_once({"length_unit": unit, "seen": reached})["seen"]["findings"] for unit in ("ft", "m")}
    assert [said[unit][0]["message"] for unit in said] == [
        f"0.3 {unit} is written for oil, and none is said to be there" for unit in ("ft", "m")
    ]


def test_what_forbids_a_level_or_a_sounding_is_told_apart() -> None:
    def forbids(**told: Any) -> list[tuple[str, bool]]:
        return [(one["fact"], one["level"]) for one in seen_once({"seen": told})["seen"]["forbids"]]

    assert forbids(pump="running") == [("a pump in this well runs", False)]
    assert forbids(in_the_hole=["ice"]) == [("ice in the hole", True)]
    assert forbids(in_the_hole=["tape hung up"], water=["not reached"]) == [("the tape hung up above the water", False)]
    assert forbids(quiet=True) == forbids(water=["not reached"], depth_reached="61.2") == []
    advice = seen_once({"seen": {"in_the_hole": ["ice"]}})["seen"]["forbids"][0]["advice"]
    assert advice == "ice is not a level"


LEVEL = ExpectedLevel("2026-01-01", 9, 0, 0, 6.0, (0.5, 0, 0, 0, 0, 0), (0.01, *[0.0] * 20), 0.04, 100.0, 0.01, 7.0)
BOTTOM = ExpectedBottom("2026-01-01", 2, 25.0, 739000.0, 25.0, 0.01, 0.0, 0.0, 0.02, 7.0)


def expecting(what: str = "level", day: str = "2026-01-01", bottom: ExpectedBottom | None = BOTTOM) -> dict[str, Any]:
    plain = in_plain(LEVEL, bottom)
    return {"what": what, "day": day, "length_unit": "ft", "expected": plain}


def test_what_surrounds_a_well_is_read_with_its_points_its_neighbours_and_its_bottom() -> None:
    below = {**POINT, "side": "below", "height": "-0.50"}
    others = [
        {"code": "MF-11", "expected": expecting()["expected"], "point": POINT, "nearness": 0.25},
        {"code": "MF-12", "expected": expecting()["expected"], "point": {**below, "height": "0.50"}},
        {"code": "MF-13", "expected": expecting()["expected"], "point": None},
        {"code": "MF-14", "expected": in_plain(None, BOTTOM), "point": POINT},
    ]
    known = surroundings({"expecting": expecting(), "others": others, "points": [POINT, {"name": "MP-0"}]})
    # the day of the last reading: mean alone, with its own variance and the noise of one reading
    level = Predictive(6.5, math.sqrt(0.01 + 0.01), 7.0)
    assert known.expected is not None
    assert known.expected[:3] == pytest.approx(level[:3])
    around = known.around
    assert [one.code for one in around.others] == ["MF-11", "MF-12"]
    assert [one.height_m / FOOT_M for one in around.others] == pytest.approx([2.00, -0.50])
    assert [one.nearness for one in around.others] == [0.25, 1.0]
    assert around.others[0].expected[:3] == pytest.approx(level[:3])
    assert [point.height_m / FOOT_M for point in around.points] == pytest.approx([2.00])
    assert around.bottom is not None
    assert around.bottom[:3] == pytest.approx((25.0, math.hypot(0.01, 0.02), 7.0))
    bare = surroundings({"expecting": expecting("bottom")})
    assert bare.expected == bare.around.bottom
    assert (bare.around.points, bare.around.others) == ((), ())
    assert surroundings({"expecting": expecting(bottom=None)}).around.bottom is None
    assert surroundings({}) == surroundings({"expecting": None})
    assert surroundings({}).expected is None


def test_a_metre_network_reads_heights_of_points_in_metres() -> None:
    asked = {**expecting(), "length_unit": "m"}
    other = {"code": "MF-11", "expected": asked["expected"], "point": POINT}
    known = surroundings({"expecting": asked, "others": [other], "points": [POINT]})
    assert (known.around.others[0].height_m, known.around.points[0].height_m) == (2.0, 2.0)


def test_a_certificate_in_the_mapping_corrects_the_tape() -> None:
    given = without("calibrations", gear=[{"serial": "ET-021", "type": "electric tape", **STEEL_TAPE}])
    steps = {step.what for step in value_of(given).stages[0].steps}
    assert "stretch by the tape's own weight" in steps
