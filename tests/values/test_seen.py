"""What goes on at a well as written: the words of earlier versions, what is said of it, how two of them go together."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings

from tapedown.engine.checks.at_the_well import level_use
from tapedown.values.forms import Form
from tapedown.values.kinds import KINDS
from tapedown.values.old_words import OLD_WORDS
from tapedown.values.reading_forms import readings_from_body
from tapedown.values.seen import (
    FACTS,
    NOTHING_SEEN,
    SEEN,
    SEEN_FIELD,
    Seen,
    joined,
    seen_in,
    seen_words,
    short_facts,
    together,
    with_seen,
)
from tests.values.test_forms import filled

USED = {
    "static": "static level", "dry": "deeper than", "pumping": "pumping level", "recently pumped": "recovering level",
    "nearby well pumping": "disturbed level", "nearby well recently pumped": "disturbed level",
    "flowing": "static level", "recently flowing": "disturbed level", "recovering": "disturbed level",
    "obstructed": "no value", "oil on water": "level, state not noted", "frozen": "no value",
    "cascading water": "level, state not noted", "injecting": "disturbed level",
    "recharging nearby": "disturbed level", "tide or stream nearby": "level, state not noted",
    "access refused": "no value", "cap locked": "no value", "not found": "no value", "plugged": "no value",
    "destroyed": "no value",
}  # fmt: skip
"""What a level stood for under each word of the earlier version; three no longer claim that it was static."""


def read(body: dict[str, Any]) -> Seen:
    value, problems = KINDS["visit"].read(body, "ft")
    assert problems == []
    assert value is not None
    found: Seen = value.seen
    return found


@pytest.mark.parametrize("word", OLD_WORDS)
def test_an_entry_of_an_earlier_version_is_read_and_shown_in_its_own_words(word: str) -> None:
    told = read({"conditions": [word]})
    assert seen_words(told) == [word]
    assert told != NOTHING_SEEN
    assert level_use(told) == USED[word]
    visit, _ = KINDS["visit"].read({"conditions": [word]}, "ft")
    assert read(KINDS["visit"].body(visit)) == told


def test_what_stood_beside_the_words_is_kept() -> None:
    dry = read({"conditions": ["dry"], "depth_reached": "61.2 ft"})
    assert str(dry.depth_reached) == "61.2 ft"
    hung = read({"conditions": ["obstructed"], "depth_reached": "41.2 ft"})
    assert (str(hung.hung_up_at), hung.depth_reached) == ("41.2 ft", None)
    rested = read({"conditions": ["recently pumped"], "hours_since_pumping": "1.5 h"})
    assert (rested.pump, rested.pump_since) == ("at rest", "1.5 h")


def test_several_words_keep_the_weightier_pump_and_all_else() -> None:
    told = read({"conditions": ["recently pumped", "pumping", "nearby well pumping", "recharging nearby"]})
    assert told.pump == "running"
    assert [one.what for one in told.near_by] == ["drawing", "putting in"]


def test_a_reading_set_of_an_earlier_version_keeps_its_words() -> None:
    body = {"method": "electric tape", "read": {"readings": ["45.12 ft"]}, "conditions": ["pumping"]}
    found, problems = readings_from_body(body, "ft")
    assert found is not None
    assert (found.seen.pump, found.seen.as_written, problems) == ("running", ("pumping",), [])


@pytest.mark.parametrize("body", [{"conditions": 5}, {"conditions": [["static"]]}, {"conditions": ["damp"]}])
def test_words_that_were_never_any_are_a_problem_with_its_place(body: dict[str, Any]) -> None:
    value, problems = KINDS["visit"].read(body, "ft")
    assert value is None
    assert problems[0].place in {"conditions", "seen.as_written"}


@pytest.mark.parametrize(("written", "kept"), [
    ("9:40", "09:40"), ("09:40", "09:40"), ("40 min", "40 min"), ("1,5 h", "1.5 h"), ("lately", "lately"),
    ("2026-05-14 08:20", "2026-05-14T08:20"), ("2026-05-14", "2026-05-14"),
])  # fmt: skip
def test_since_when_is_taken_as_people_write_it(written: str, kept: str) -> None:
    assert read({"seen": {"pump": "at rest", "pump_since": written}}).pump_since == kept


@pytest.mark.parametrize("written", ["yesterday", "25:00", "40", "3 ft", "2026-02-30", "-", "9:4", "१२:00"])
def test_since_when_that_tells_no_time_is_refused_with_the_ways_to_write_it(written: str) -> None:
    value, problems = KINDS["visit"].read({"seen": {"pump": "at rest", "pump_since": written}}, "ft")
    assert value is None
    assert problems[0].place == "seen.pump_since"
    assert "40 min" in problems[0].message


def test_what_goes_on_is_said_in_short_phrases() -> None:
    told = read({"seen": {
        "water": ["not reached"], "depth_reached": "61.2", "pump": "running", "pump_since": "lately",
        "near_by": [{"what": "drawing", "which": "mill", "distance": "120", "since": "09:40"}, {"what": "none seen"}],
        "in_the_hole": ["clear", "oil", "tape hung up"], "oil_thickness": "0.3", "hung_up_at": "41.2",
        "no_reading": "no key", "gone": True,
    }})  # fmt: skip
    assert seen_words(told) == [
        "water not reached down to 61.2 ft", "pump running, lately", "near by drawing since 09:40, mill, 120 ft off",
        "nothing near by", "hole clear", "oil as thick as 0.3 ft", "tape hung up at 41.2 ft", "no reading: no key",
        "the well is gone",
    ]  # fmt: skip
    assert seen_words(NOTHING_SEEN) == []
    assert set(short_facts(told)) <= set(FACTS)


def test_a_sets_own_facts_stand_before_those_of_its_visit() -> None:
    visit = read({"seen": {"quiet": True, "pump": "at rest", "in_the_hole": ["oil"]}})
    own = Seen(pump="running")
    both = together(visit, own)
    assert (both.pump, both.in_the_hole, both.quiet) == ("running", ("oil",), False)
    assert together(visit, NOTHING_SEEN) == visit
    assert together(NOTHING_SEEN, own) == own


def test_two_words_of_one_line_are_both_kept() -> None:
    both = joined(Seen(water=("rises",), pump="at rest"), Seen(water=("runs over",), pump="running"))
    assert (both.water, both.pump) == (("rises", "runs over"), "running")


def test_a_body_is_read_the_same_with_and_without_its_form() -> None:
    body = {"seen": {"quiet": True}, "cleaning": "wiped"}
    assert seen_in(body) == read(body)
    assert seen_in({"conditions": ["oil on water"]}) == read({"conditions": ["oil on water"]})
    assert seen_in({"seen": {"water": ["sulks"]}}) == seen_in({"seen": 5}) == seen_in({}) == NOTHING_SEEN


@settings(max_examples=60, deadline=None)
@given(filled(Form("visit", dict, "", (SEEN_FIELD,))))
def test_what_goes_on_survives_its_body_whatever_is_said(body: dict[str, Any]) -> None:
    told, problems = SEEN.read(dict(with_seen(body)).get("seen") or {}, "ft")
    if told is not None:
        assert problems == []
        assert SEEN.read(SEEN.body(told), "m") == (told, [])
