"""What follows from what goes on at a well: what a value stands for, its quality, what is said, what cannot be."""

from __future__ import annotations

from typing import Any, NamedTuple

import pytest

from tapedown.engine.checks.at_the_well import (
    DEEPER_THAN,
    DISTURBED,
    NOT_NOTED,
    NOTHING,
    PUMPING,
    RECOVERING,
    RULES,
    STATIC,
    USES,
    contradictions,
    hours_since_pump,
    level_use,
    may_be_total_depth,
    rules_of,
    said_of,
)
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.dry import reduce_depth_reached
from tapedown.engine.one_off.reading import seen_once
from tapedown.values.seen import Seen
from tapedown.values.settings import Settings
from tests.engine.at_the_well import below_land_ft, construction, names, point, position, reduced, seen

WHEN = "2026-05-14T10:20-04:00"
LEVEL = {"readings": ["45.12", "45.12"]}
CHALK = {"readings": [{"hold": "50.00", "cut": "4.88"}, {"hold": "51.00", "cut": "5.88"}]}
BOTTOM = {"readings": ["84.30", "84.30"], "weight_interval": "1.20"}


class Case(NamedTuple):
    """A rule, facts under which it holds, facts under which it does not, and what a level and a sounding then are."""

    fact: str
    fires: dict[str, Any]
    silent: dict[str, Any]
    level: str
    bottom: bool = True
    doubts: tuple[str, ...] = ()


TAPES = ("chalked tape", "electric tape")
CASES = [
    Case("as usual, nothing going on", {"quiet": True}, {"quiet": False}, STATIC),
    Case("water stands still", {"water": ["stands still"]}, {"water": ["not looked for"]}, STATIC),
    Case("water rises or falls", {"water": ["falls"]}, {"water": ["stands still"]}, DISTURBED),
    Case("water runs over", {"water": ["runs over"]}, {"water": ["rises"]}, STATIC),
    Case("water not reached", {"water": ["not reached"]}, {"water": ["not looked for"]}, DEEPER_THAN),
    Case("water not looked for", {"water": ["not looked for"]}, {"water": ["not reached"]}, NOT_NOTED),
    Case("a pump in this well runs", {"pump": "running"}, {"pump": "none"}, PUMPING, bottom=False),
    Case("water is put into this well", {"pump": "putting water in"}, {"pump": "running"}, DISTURBED),
    Case("the pump stopped lately", {"pump": "at rest", "pump_since": "40 min"},
         {"pump": "at rest", "pump_since": "25 h"}, RECOVERING),
    Case("when the pump stopped is not known", {"pump": "at rest", "pump_since": "not known"},
         {"pump": "at rest", "pump_since": "long ago"}, NOT_NOTED),
    Case("a well near by draws or takes in water", {"near_by": [{"what": "putting in"}]},
         {"near_by": [{"what": "none seen"}]}, DISTURBED),
    Case("a well near by stopped lately, or nobody knows when", {"near_by": [{"what": "at rest", "since": "09:00"}]},
         {"near_by": [{"what": "at rest", "since": "2026-05-11"}]}, DISTURBED),
    Case("tide or stream near by", {"near_by": [{"what": "tide or stream"}]}, {"near_by": [{"what": "drawing"}]},
         NOT_NOTED),
    Case("oil on the water", {"in_the_hole": ["oil"]}, {"in_the_hole": ["clear"]}, NOT_NOTED, doubts=TAPES),
    Case("ice in the hole", {"in_the_hole": ["ice"]}, {"in_the_hole": ["clear"]}, NOTHING, bottom=False),
    Case("foam on the water", {"in_the_hole": ["foam"]}, {"in_the_hole": ["clear"]}, NOT_NOTED, doubts=TAPES),
    Case("water falls in from above", {"in_the_hole": ["water falling in"]}, {"in_the_hole": ["foam"]}, NOT_NOTED,
         doubts=("chalked tape",)),
    Case("the tape hung up", {"in_the_hole": ["tape hung up"]}, {"in_the_hole": ["clear"]}, NOTHING, bottom=False),
    Case("the tape hung up above the water", {"in_the_hole": ["tape hung up"], "water": ["not reached"]},
         {"in_the_hole": ["tape hung up"]}, DEEPER_THAN, bottom=False),
    Case("no reading could be taken", {"no_reading": "no key"}, {"no_reading": "dry", "water": ["not reached"]},
         NOTHING, bottom=False),
    Case("the well is gone", {"gone": True}, {"gone": False}, NOTHING, bottom=False),
]  # fmt: skip


def facts(told: Seen) -> list[str]:
    return [rule.fact for rule in rules_of(told, WHEN, Settings())]


def test_every_rule_has_a_case_a_source_and_no_name_twice() -> None:
    assert [case.fact for case in CASES] == [rule.fact for rule in RULES]
    assert all(rule.source for rule in RULES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.fact)
def test_a_rule_holds_where_it_must_and_not_where_it_must_not(case: Case) -> None:
    assert case.fact in facts(seen(**case.fires))
    assert case.fact not in facts(seen(**case.silent))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.fact)
def test_a_level_and_a_sounding_stand_for_what_goes_on_allows(case: Case) -> None:
    context = ReadingContext(when=WHEN, seen=seen(**case.fires))
    level, bottom = reduced("electric tape", LEVEL, context), reduced("weighted tape", BOTTOM, context)
    assert level.use == case.level
    assert (bottom.use == "total depth") is case.bottom
    if not case.bottom:
        assert (bottom.use, bottom.quality) == (NOTHING, "poor")
    if case.level == NOTHING:
        assert level.quality == "missing"


@pytest.mark.parametrize("method", TAPES)
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.fact)
def test_a_level_is_doubtful_only_by_the_methods_that_a_fact_makes_doubtful(case: Case, method: str) -> None:
    found = reduced(
        method, LEVEL if method == "electric tape" else CHALK, ReadingContext(when=WHEN, seen=seen(**case.fires))
    )
    assert ("made-doubtful" in names(found.findings)) is (method in case.doubts)


def test_the_most_limiting_of_several_facts_decides() -> None:
    near = [{"what": "drawing"}]
    assert level_use(seen(water=["stands still"], near_by=near)) == DISTURBED
    assert level_use(seen(water=["not reached"], near_by=near)) == DEEPER_THAN
    assert level_use(seen(water=["not reached"], in_the_hole=["ice"])) == NOTHING
    assert level_use(seen(pump="running", near_by=near)) == PUMPING
    assert level_use(Seen()) == NOT_NOTED == USES[0]
    assert not may_be_total_depth(seen(water=["stands still"], pump="running"))
    assert may_be_total_depth(Seen())


@pytest.mark.parametrize(("since", "hours"), [
    ("40 min", 2 / 3), ("3 d", 72.0), ("09:40", 2 / 3), ("11:00", 23 + 1 / 3), ("2026-05-13", 10 + 1 / 3),
    ("2026-05-14", 0.0),
    ("2026-05-14 08:20", 2.0), ("2026-05-14T08:20-05:00", 1.0), ("2026-05-14T13:20Z", 1.0),
    ("lately", None), ("long ago", None), ("not known", None),
])  # fmt: skip
def test_hours_since_the_pump_stopped_follow_from_every_way_to_write_them(since: str, hours: float | None) -> None:
    found = hours_since_pump(seen(pump="at rest", pump_since=since), WHEN)
    assert found == (None if hours is None else pytest.approx(hours))
    assert hours_since_pump(seen(pump="running", pump_since=since), WHEN) is None


def test_how_long_a_pump_must_rest_is_the_networks_own_setting() -> None:
    told = seen(pump="at rest", pump_since="3 h")
    assert level_use(told, WHEN, Settings()) == RECOVERING
    assert level_use(told, WHEN, Settings("ft", {"pump_rest": "2 h"})) == NOT_NOTED


def test_a_recovering_level_says_for_how_long() -> None:
    found = reduced("electric tape", LEVEL, ReadingContext(when=WHEN, seen=seen(pump="at rest", pump_since="09:40")))
    said = next(one.message for one in found.findings if one.check == "not-static")
    assert said == "pump at rest since 09:40: recovering level, 40 min after the pump stopped, not a static one"


@pytest.mark.parametrize(("told", "part"), [
    ({"quiet": True, "pump": "running"}, "nothing going on"),
    ({"quiet": True, "near_by": [{"what": "drawing"}]}, "nothing going on"),
    ({"water": ["rises", "falls"]}, "to rise and to fall"),
    ({"water": ["stands still", "falls"]}, "stand still and to move"),
    ({"water": ["not reached", "runs over"]}, "not reached and to run over"),
    ({"water": ["not looked for", "stands still"]}, "not looked for"),
    ({"water": ["stands still"], "depth_reached": "61.2"}, "61.2 ft without water"),
    ({"pump": "none", "pump_since": "09:40"}, "no pump"),
    ({"pump": "at rest", "pump_since": "2026-05-15"}, "after the visit"),
    ({"near_by": [{"what": "none seen"}, {"what": "drawing"}]}, "near by"),
    ({"in_the_hole": ["clear", "ice"]}, "clear"),
    ({"oil_thickness": "0.3"}, "0.3 ft is written for oil"),
    ({"hung_up_at": "41.2"}, "41.2 ft"),
])  # fmt: skip
def test_what_cannot_hold_at_once_is_said_and_makes_a_reading_suspect(told: dict[str, Any], part: str) -> None:
    (found,) = contradictions(seen(**told), WHEN)
    assert part in found.message
    assert "facts-contradict" in names(said_of(seen(**told), WHEN, Settings()))
    value = reduced("electric tape", LEVEL, ReadingContext(when=WHEN, seen=seen(**told)))
    assert "facts-contradict" in names(value.findings)
    assert value.quality != "good"


@pytest.mark.parametrize("told", [
    {"quiet": True}, {"water": ["runs over", "rises"]}, {"water": ["not reached"], "depth_reached": "61.2"},
    {"pump": "at rest", "pump_since": "2026-05-14"}, {"quiet": True, "in_the_hole": ["clear"], "pump": "none"},
    {"in_the_hole": ["oil", "tape hung up"], "oil_thickness": "0.3", "hung_up_at": "80"},
])  # fmt: skip
def test_what_can_hold_at_once_is_no_contradiction(told: dict[str, Any]) -> None:
    assert contradictions(seen(**told), WHEN) == []


@pytest.mark.parametrize(("told", "part"), [
    ({"water": ["not looked for"]}, "not to have been looked for"),
    ({"no_reading": "no key"}, "no key"),
    ({"water": ["runs over"]}, "below the measuring point"),
    ({"in_the_hole": ["tape hung up"], "hung_up_at": "41.2"}, "further down"),
])  # fmt: skip
def test_a_level_read_although_there_was_none_to_read_is_told(told: dict[str, Any], part: str) -> None:
    found = reduced("electric tape", LEVEL, ReadingContext(when=WHEN, seen=seen(**told)))
    assert any(part in one.message for one in found.findings if one.check == "facts-contradict")


def test_a_level_above_the_place_where_the_tape_hung_up_stands() -> None:
    told: dict[str, Any] = {"water": ["stands still"], "in_the_hole": ["tape hung up"], "hung_up_at": "60"}
    above = reduced("electric tape", LEVEL, ReadingContext(seen=seen(**told)))
    assert (above.use, above.quality) == (STATIC, "good")
    below = reduced("electric tape", {"readings": ["61.00", "61.00"]}, ReadingContext(seen=seen(**told)))
    assert below.use == NOTHING
    assert reduced("weighted tape", BOTTOM, ReadingContext(seen=seen(**told))).use == NOTHING


def test_water_that_moves_is_followed_and_its_last_reading_counts() -> None:
    """Readings of a rising level are of three different levels: their mean is of none, their spread no disagreement."""
    rising = {"readings": ["45.12", "45.02", "44.95"], "apart": "5 min"}
    found = reduced("electric tape", rising, ReadingContext(point=point("2.00"), seen=seen(water=["rises"])))
    assert below_land_ft(found) == pytest.approx(42.95)
    assert {"repeats-disagree", "water-moving"} & names(found.findings) == set()
    assert found.agreement == "3 readings 5 min apart of water that moves: 0.17 ft in all; reading 3, the last, used"
    still = reduced("electric tape", rising, ReadingContext(point=point("2.00"), seen=seen(water=["stands still"])))
    assert "repeats-disagree" in names(still.findings)
    assert below_land_ft(still) == pytest.approx((45.12 + 45.02 + 44.95) / 3 - 2.00)


@pytest.mark.parametrize("read", [
    {"readings": ["45.12"]}, {"readings": ["45.12", "45.02"], "apart": "5 min"},
    {"readings": ["45.12", "45.02", "44.95"]},
])  # fmt: skip
def test_water_that_moves_asks_for_three_readings_at_equal_times(read: dict[str, Any]) -> None:
    assert "water-moving" in names(reduced("electric tape", read, ReadingContext(seen=seen(water=["falls"]))).findings)


def test_a_person_who_chose_a_repeat_of_moving_water_is_obeyed() -> None:
    read = {"readings": ["45.12", "45.02", "44.95"], "apart": "5 min", "chosen": "1", "why_chosen": "pump tripped then"}
    found = reduced("electric tape", read, ReadingContext(point=point("2.00"), seen=seen(water=["rises"])))
    assert below_land_ft(found) == pytest.approx(43.12)


def test_the_sheet_is_told_the_same_by_the_same_rules() -> None:
    given = {"length_unit": "ft", "when": WHEN, "seen": {"pump": "at rest", "pump_since": "40 min", "water": ["rises"]}}
    said = seen_once(given)["seen"]
    assert (said["level"], said["hours_since_pump"], said["forbids"]) == (RECOVERING, pytest.approx(2 / 3), [])
    assert [one["check"] for one in said["findings"]] == ["asks-for", "asks-for"]
    assert seen_once({"seen": {"pump": "running"}})["seen"]["forbids"][0]["level"] is False
    assert seen_once({"seen": {"pump": "resting"}})["problems"][0]["place"] == "pump"


def test_good_readings_of_an_undisturbed_well_are_good() -> None:
    context = ReadingContext(point=point("2.00"), position=position(land_surface="120", vertical_datum="NAVD88"),
                  vertical_datum="NAVD88", seen=seen(quiet=True))  # fmt: skip
    found = reduced("electric tape", LEVEL, context)
    assert (found.quality, found.findings) == ("good", ())


@pytest.mark.parametrize(("told", "use"), [
    ({"water": ["not reached"], "depth_reached": "61.2"}, DEEPER_THAN),
    ({"in_the_hole": ["tape hung up"], "hung_up_at": "61.2"}, NOTHING),
    ({"in_the_hole": ["tape hung up"], "hung_up_at": "61.2", "water": ["not reached"]}, DEEPER_THAN),
    ({"depth_reached": "61.2"}, DEEPER_THAN),
])  # fmt: skip
def test_the_depth_a_tape_reached_without_water_is_a_bound_and_never_a_level(told: dict[str, Any], use: str) -> None:
    found = reduce_depth_reached(ReadingContext(point=point("2.00"), seen=seen(**told)))
    assert found is not None
    assert found.use == use
    assert found.quality == "missing"
    assert below_land_ft(found) == pytest.approx(59.2)
    assert reduce_depth_reached(ReadingContext(seen=seen(water=["not reached"]))) is None


@pytest.mark.parametrize(("tape", "flagged"), [("101.40", False), ("101.60", False), ("102.40", True)])
def test_a_bottom_deeper_than_the_well_is_flagged_beyond_a_small_allowance(tape: str, flagged: bool) -> None:
    context = ReadingContext(point=point("2.50"), construction=construction(completed_depth="100.0"))
    found = reduced("weighted tape", {"readings": [tape, tape], "weight_interval": "1.00"}, context)
    assert ("deeper-than-well" in names(found.findings)) is flagged
    assert (found.quality == "suspect") is flagged


def test_another_datum_without_an_offset_is_told_and_left_alone() -> None:
    where = position(land_surface="120.00", vertical_datum="NGVD29", u_elevation="0.05")
    context = ReadingContext(point=point("2.00"), position=where, vertical_datum="NAVD88")
    found = reduced("electric tape", LEVEL, context)
    elevation = found.result("elevation")
    assert elevation is not None
    assert elevation.value_m / 0.3048 == pytest.approx(120 - 43.12)
    assert found.datum == "NGVD29"
    assert "datum-not-shifted" in names(found.findings)


def test_an_offset_with_its_uncertainty_shifts_the_elevation_and_widens_it() -> None:
    bare = {"land_surface": "120.00", "vertical_datum": "NGVD29", "u_elevation": "0.05"}
    shift = {"to": "NAVD88", "offset": "0.90", "u": "0.12", "source": "county surveyor"}
    here, shifted = (
        reduced(
            "electric tape",
            LEVEL,
            ReadingContext(point=point("2.00"), position=position(**where), vertical_datum="NAVD88"),
        )
        for where in (bare, {**bare, "datum_shift": shift})
    )
    before, after = here.result("elevation"), shifted.result("elevation")
    assert before is not None
    assert after is not None
    assert (after.value_m - before.value_m) / 0.3048 == pytest.approx(0.90)
    assert (after.u_m**2 - before.u_m**2) ** 0.5 / 0.3048 == pytest.approx(0.12)
    assert shifted.datum == "NAVD88"
    assert "datum-not-shifted" not in names(shifted.findings)


def test_an_offset_to_some_other_datum_is_not_used() -> None:
    shift = {"to": "local", "offset": "0.90", "u": "0.12", "source": "county surveyor"}
    where = position(land_surface="120.00", vertical_datum="NGVD29", datum_shift=shift)
    found = reduced(
        "electric tape", LEVEL, ReadingContext(point=point("2.00"), position=where, vertical_datum="NAVD88")
    )
    assert found.datum == "NGVD29"
    assert "datum-not-shifted" in names(found.findings)


def told(**given: Any) -> list[str]:
    return [one.message for one in contradictions(seen(**given), WHEN)]


@pytest.mark.parametrize("does", [("runs over", "run over"), ("stands still", "stand still"), ("rises", "rise"),
                                  ("falls", "fall")])  # fmt: skip
def test_water_that_is_there_was_neither_missed_nor_not_looked_for(does: tuple[str, str]) -> None:
    word, verb = does
    assert told(water=["not reached", word]) == [f"water is said to be not reached and to {verb}"]
    assert told(water=["not looked for", word]) == [f"water is said to be not looked for and to {verb}"]
    assert told(water=[word]) == []
    assert told(water=["not looked for"]) == told(water=["not reached"]) == []


def test_every_contradiction_is_told_by_its_own_sentence_and_several_at_once() -> None:
    assert told(water=["rises", "falls"]) == ["water is said to rise and to fall"]
    assert told(water=["stands still", "rises"]) == ["water is said to stand still and to move"]
    assert told(water=["rises"]) == told(water=["falls"]) == told(water=["runs over", "stands still"]) == []
    assert told(water=["stands still"], depth_reached="61.2") == [
        "the tape is said to have reached 61.2 ft without water, and water to be there"
    ]
    assert told(pump="none", pump_since="09:40") == ["there is said to be no pump, and yet since when: 09:40"]
    assert told(pump="at rest", pump_since="2026-05-15") == [
        "the pump is said to be at rest since 2026-05-15, which is after the visit"
    ]
    # a visit at 14:20 of universal time: the same minute is no contradiction, a minute after it is one
    assert told(pump="running", pump_since="2026-05-14T14:20Z") == []
    assert told(pump="running", pump_since="2026-05-14T14:21Z") == [
        "the pump is said to be running since 2026-05-14T14:21Z, which is after the visit"
    ]
    assert told(near_by=[{"what": "none seen"}, {"what": "drawing"}]) == [
        "nothing is said to go on near by, and something is"
    ]
    assert told(near_by=[{"what": "none seen"}]) == told(near_by=[{"what": "drawing"}, {"what": "at rest"}]) == []
    assert told(in_the_hole=["clear", "ice"]) == ["the hole is said to be clear and not to be"]
    assert told(in_the_hole=["clear"]) == told(in_the_hole=["ice", "foam"]) == []
    assert told(oil_thickness="0.3") == ["0.3 ft is written for oil, and none is said to be there"]
    assert told(hung_up_at="41.2") == ["41.2 ft is written for a tape that hung up, and none is said to be there"]
    assert told(quiet=True, pump="running") == [
        "the well is said to be as usual with nothing going on, and something is said to go on"
    ]
    many = told(quiet=True, water=["rises", "falls"], pump="none", pump_since="09:40", oil_thickness="0.3")
    assert len(many) == 4
    assert all(one.about == "visit" for one in contradictions(seen(water=["rises", "falls"]), WHEN))


def test_what_is_lacking_and_what_a_fact_asks_for_is_said_after_what_cannot_be() -> None:
    def said(**given: Any) -> list[tuple[str, str, str]]:
        return [(one.check, one.message, one.about) for one in said_of(seen(**given), WHEN, Settings())]

    assert said(water=["not reached"]) == [
        ("depth-reached-missing", "water was not reached, and how far the tape went is not written", "visit"),
        ("asks-for", "water not reached", "visit"),
    ]
    assert said(water=["not reached"], depth_reached="61.2") == [("asks-for", "water not reached", "visit")]
    assert said(in_the_hole=["tape hung up"]) == [
        ("depth-reached-missing", "the tape hung up, and where is not written", "visit"),
        ("asks-for", "the tape hung up", "visit"),
    ]
    assert said(in_the_hole=["tape hung up"], hung_up_at="61.2") == [("asks-for", "the tape hung up", "visit")]
    assert said(in_the_hole=["tape hung up"], hung_up_at="61.2", water=["not reached"]) == [
        ("asks-for", "water not reached", "visit"), ("asks-for", "the tape hung up above the water", "visit"),
    ]  # fmt: skip
    assert said(in_the_hole=["tape hung up"], depth_reached="61.2", water=["not reached"])[0][:2] == (
        "depth-reached-missing", "the tape hung up, and where is not written",
    )  # fmt: skip
    assert [one[0] for one in said(oil_thickness="0.3", water=["rises"])] == ["facts-contradict", "asks-for"]
    advice = {rule.fact: rule.advice for rule in RULES}
    for one in said_of(seen(pump="running", near_by=[{"what": "drawing"}]), WHEN, Settings()):
        assert one.hint == advice[one.message]


@pytest.mark.parametrize(
    ("since", "level"),
    [("23 h", DISTURBED), ("24 h", NOT_NOTED), ("25 h", NOT_NOTED), ("lately", DISTURBED), ("long ago", NOT_NOTED),
     ("not known", DISTURBED), ("", DISTURBED), ("09:40", DISTURBED), ("2026-05-12", NOT_NOTED)],
)  # fmt: skip
def test_a_well_near_by_disturbs_until_it_has_rested_a_day_or_while_nobody_knows(since: str, level: str) -> None:
    here = seen(near_by=[{"what": "at rest", **({"since": since} if since else {})}])
    assert level_use(here, WHEN, Settings()) == level
    beside = seen(
        near_by=[{"what": "at rest", "since": "long ago"}, {"what": "at rest", "since": since or "not known"}]
    )
    assert level_use(beside, WHEN, Settings()) == level
    assert level_use(seen(near_by=[{"what": "none seen", "since": "lately"}]), WHEN, Settings()) == NOT_NOTED


@pytest.mark.parametrize(
    ("since", "level", "asks"),
    [("23 h", RECOVERING, []), ("24 h", NOT_NOTED, []), ("lately", RECOVERING, []), ("long ago", NOT_NOTED, []),
     ("not known", NOT_NOTED, ["when the pump stopped is not known"]),
     ("", NOT_NOTED, ["when the pump stopped is not known"])],
)  # fmt: skip
def test_a_pump_in_the_well_rests_long_enough_after_a_day(since: str, level: str, asks: list[str]) -> None:
    here = seen(pump="at rest", pump_since=since) if since else seen(pump="at rest")
    assert level_use(here, WHEN, Settings()) == level
    assert [fact for fact in facts(here) if "not known" in fact] == asks
    assert level_use(seen(pump="none"), WHEN, Settings()) == NOT_NOTED


def test_hours_are_counted_only_of_a_pump_that_stopped_before_the_reading() -> None:
    assert hours_since_pump(seen(pump="at rest", pump_since="2026-05-14T14:20Z"), WHEN) == 0.0
    assert hours_since_pump(seen(pump="at rest", pump_since="2026-05-14T14:21Z"), WHEN) is None
    assert hours_since_pump(seen(pump="at rest"), WHEN) is None
    assert hours_since_pump(seen(pump="putting water in", pump_since="1 h"), WHEN) is None


def findings_of(method: str, given: dict[str, Any], **what: Any) -> dict[str, str]:
    found = reduced(method, given, ReadingContext(when=WHEN, seen=seen(**what))).findings
    return {one.check: one.message for one in found if one.check not in ("no-measuring-point", "no-land-surface")}


def test_a_level_that_is_none_or_moves_or_is_doubtful_says_by_which_fact() -> None:
    assert findings_of("electric tape", LEVEL, in_the_hole=["ice"]) == {"no-level": "ice: there is no level to read"}
    assert findings_of("electric tape", LEVEL, water=["not reached"]) == {
        "dry": "water not reached: the level is deeper than this"
    }
    assert findings_of("electric tape", LEVEL, pump="running") == {
        "not-static": "pump running: pumping level, not a static one"
    }
    assert findings_of("electric tape", LEVEL, near_by=[{"what": "drawing"}], pump="none") == {
        "not-static": "no pump, near by drawing: disturbed level, not a static one"
    }
    assert findings_of("chalked tape", CHALK, in_the_hole=["water falling in"]) == {
        "made-doubtful": "water falls in from above: a level by chalked tape is in doubt"
    }
    assert findings_of("weighted tape", BOTTOM, pump="running") == {
        "sounding-while-pumping": "pump running: this depth is no total depth"
    }
    assert findings_of("weighted tape", BOTTOM, in_the_hole=["ice"]) == {
        "no-total-depth": "ice: this depth is no total depth"
    }
    assert findings_of("electric tape", LEVEL, water=["not looked for"]) == {
        "facts-contradict": "water is said not to have been looked for, and a level was read"
    }
    assert findings_of("electric tape", LEVEL, no_reading="no key")["facts-contradict"] == (
        "no reading is said to have been taken (no key), and there is one"
    )


@pytest.mark.parametrize(
    ("method", "given", "hung", "further"),
    [("electric tape", LEVEL, "45.12", False), ("electric tape", LEVEL, "45.11", True),
     ("electric tape", LEVEL, "45.13", False)],
)  # fmt: skip
def test_water_read_below_where_the_tape_hung_up_is_told(
    method: str, given: dict[str, Any], hung: str, further: bool
) -> None:
    what: dict[str, Any] = {"in_the_hole": ["tape hung up"], "hung_up_at": hung, "water": ["stands still"]}
    message = f"the tape is said to have hung up at {hung} ft, and water was read further down"
    found = reduced(method, given, ReadingContext(when=WHEN, seen=seen(**what)))
    assert (message in [one.message for one in found.findings]) is further
    assert found.use == (STATIC if hung == "45.13" else NOTHING)


def test_water_that_runs_over_is_not_read_below_the_point_by_a_tape() -> None:
    message = "water is said to run over, and it was read below the measuring point"
    for method, given, said in (
        ("electric tape", {"readings": ["0.02", "0.02"]}, True),
        ("electric tape", {"readings": ["0.00", "0.00"]}, False),
        ("chalked tape", {"readings": [{"hold": "2.00", "cut": "1.90"}]}, True),
        ("air line", {"readings": ["18"], "line_length": "150"}, False),
        ("reported", {"readings": ["4.1"], "reference": "below measuring point", "what": "water level"}, False),
    ):
        found = reduced(method, given, ReadingContext(seen=seen(water=["runs over"])))
        assert (message in [one.message for one in found.findings]) is said


@pytest.mark.parametrize(
    ("read", "words"),
    [({"readings": ["45.12"]}, "it was read 1 time"),
     ({"readings": ["45.12", "45.02"], "apart": "5 min"}, "it was read 2 times"),
     ({"readings": ["45.12", "45.02", "44.95"]}, "no times are written")],
)  # fmt: skip
def test_what_lacks_where_water_moves_is_told_by_number_and_direction(read: dict[str, Any], words: str) -> None:
    for does in ("rises", "falls"):
        found = findings_of("electric tape", read, water=[does])
        assert found["water-moving"] == f"water {does} while it is read and {words}"


def test_a_reported_bottom_is_a_total_depth_and_water_above_land_is_its_own_affair() -> None:
    given = {"readings": ["98.1"], "reference": "below land surface", "what": "total depth"}
    assert reduced("reported", given).use == "total depth"
    assert reduced("reported", {**given, "what": "water level"}).use == NOT_NOTED
    context = ReadingContext(construction=construction(completed_depth="90"))
    deep = {one.check: one.message for one in reduced("reported", given, context).findings}
    assert deep["deeper-than-well"] == ("bottom at 98.10 ft below land surface, but the well is recorded as 90 ft deep")
    level = {one.check: one.message for one in reduced("reported", {**given, "what": "water level"}, context).findings}
    assert level["deeper-than-well"].startswith("water at 98.10 ft")
    above = {"readings": ["-1.2"], "reference": "below land surface", "what": "water level"}
    assert "above-land-surface" not in names(reduced("reported", above).findings)


@pytest.mark.parametrize(
    ("reading", "words"),
    [("2.00", None), ("1.99", "water stands 0.01 ft above land surface and is not said to run over")],
)
def test_water_above_land_surface_is_told_by_how_much(reading: str, words: str | None) -> None:
    found = reduced("electric tape", {"readings": [reading] * 2}, ReadingContext(point=point("2.00"))).findings
    assert [one.message for one in found if one.check == "above-land-surface"] == ([words] if words else [])


def test_the_datum_that_an_elevation_stays_in_is_told() -> None:
    for datum, words in (("NGVD29", "NGVD29"), ("", "a datum not stated")):
        where = position(land_surface="120.00", **({"vertical_datum": datum} if datum else {}))
        context = ReadingContext(point=point("2.00"), position=where, vertical_datum="NAVD88")
        said = {one.check: one.message for one in reduced("electric tape", LEVEL, context).findings}
        assert said["datum-not-shifted"].startswith(
            f"the elevation is in {words}, the network uses NAVD88; it was not "
        )
    alone = ReadingContext(point=point("2.00"), position=position(land_surface="120.00", vertical_datum="NGVD29"))
    found = reduced("electric tape", LEVEL, alone)
    assert "datum-not-shifted" not in names(found.findings)
    assert found.datum == "NGVD29"


def test_a_depth_reached_is_worked_out_with_its_digit_and_says_so() -> None:
    found = reduce_depth_reached(ReadingContext(seen=seen(water=["not reached"], depth_reached="61.2", quiet=False)))
    assert found is not None
    (step,) = found.stages[0].steps
    assert (step.what, step.note) == ("depth the tape reached", "61.2 ft")
    assert step.parts[0].u_m == pytest.approx(0.1 * 0.3048 / 12**0.5)
    assert (found.method, found.agreement, found.digits.step) == ("depth reached", "no water found to this depth", 0.1)
    assert found.digits.reason == "to 0.1 ft: the digit that was read allows no finer"
    both = reduce_depth_reached(ReadingContext(seen=seen(water=["not reached"], depth_reached="61.2", hung_up_at="50")))
    assert both is not None
    assert both.stages[0].result.value_m == pytest.approx(61.2 * 0.3048)
