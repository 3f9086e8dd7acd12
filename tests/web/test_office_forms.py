"""Entering at the desk: visits, facts, corrections, strikes, reviews, settings. Nothing typed is lost."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tapedown.record import entries
from tapedown.work.networks import OpenNetwork
from tests.web.conftest import Browser, values_of, visible

SOUNDING = [
    ("when", "2026-05-14 10:20"),
    ("seen.quiet", "yes"),
    ("readings[1].method", "weighted tape"),
    ("readings[1].weight_interval", "1.20"),
    ("readings[1].readings[1]", "84.30"),
    ("readings[1].readings[2]", "84.31"),
    ("cleaning", "wiped with hypochlorite"),
]
PAGE = "/wells/MF-07/visit"


def count(fen: OpenNetwork) -> int:
    return len(entries(fen.record, struck=True))


def field(page: str, name: str) -> str:
    """What stands in a field of a page."""
    found = re.search(rf'name="{re.escape(name)}" value="([^"]*)"', page)
    assert found is not None, name
    return found[1]


def test_a_visit_is_worked_out_before_anything_is_written(office: Browser, fen: OpenNetwork) -> None:
    before = count(fen)
    page = office.post(PAGE, [*SOUNDING, ("do", "work out")], status=200).text
    assert "82.10 ft ± " in visible(page)
    assert "total depth, quality good" in visible(page)
    assert field(page, "readings[1].readings[2]") == "84.31"
    assert count(fen) == before


def test_a_visit_is_entered_in_ink_and_its_value_shown(office: Browser, fen: OpenNetwork) -> None:
    before = count(fen)
    where = office.post(PAGE, [*SOUNDING, ("do", "enter")]).headers["location"]
    assert "82.10 ft ±" in visible(office.get(where).text)
    assert count(fen) == before + 2
    newest = entries(fen.record, about="well/MF-07")[-1].entry
    assert newest.by == "R. Alder"
    assert newest.data["read"] == {"readings": ["84.30 ft", "84.31 ft"], "weight_interval": "1.20 ft"}


def test_more_readings_and_more_sets_come_without_script_and_keep_what_was_typed(office: Browser) -> None:
    page = office.post(PAGE, [*SOUNDING, ("add", "readings[1].readings")], status=200).text
    assert field(page, "readings[1].readings[2]") == "84.31"
    assert field(page, "readings[1].readings[3]") == ""
    more = [*SOUNDING, ("do", "add set"), ("new_method", "chalked tape")]
    page = office.post(PAGE, more, status=200).text
    assert field(page, "readings[2].method") == "chalked tape"
    assert field(page, "readings[2].readings[1].hold") == ""
    page = office.post(PAGE, [*SOUNDING, ("readings[2].method", "standpipe"), ("remove", "1")], status=200).text
    assert field(page, "readings[1].method") == "standpipe"
    assert "weighted tape</legend>" not in page


def test_what_cannot_be_read_is_shown_at_its_field_and_all_of_it_stays(office: Browser, fen: OpenNetwork) -> None:
    before = count(fen)
    wrong = [(n, "84,3O" if n.endswith("readings[2]") else v) for n, v in SOUNDING]
    page = office.post(PAGE, [*wrong, ("do", "enter")], status=422).text
    assert 'href="#f-readings-1--readings-2-"' in page
    at = page.index('id="f-readings-1--readings-2-"')
    assert 'aria-invalid="true"' in page[at : at + 300]
    assert field(page, "readings[1].readings[2]") == "84,3O"
    assert field(page, "cleaning") == "wiped with hypochlorite"
    assert count(fen) == before


def test_problems_of_two_sets_stand_in_their_own_set(office: Browser) -> None:
    two = [
        *SOUNDING,
        ("readings[2].method", "chalked tape"),
        ("readings[2].readings[1].hold", "20.00"),
        ("do", "enter"),
    ]
    page = office.post(PAGE, two, status=422).text
    assert 'href="#f-readings-2--readings-1--cut"' in page


def test_a_second_visit_on_one_day_is_asked_about_first(office: Browser, fen: OpenNetwork) -> None:
    office.post(PAGE, [*SOUNDING, ("do", "enter")])
    before = count(fen)
    page = office.post(PAGE, [*SOUNDING, ("do", "enter")], status=409).text
    assert "Is it the same sheet typed twice?" in visible(page)
    assert field(page, "readings[1].readings[1]") == "84.30"
    assert count(fen) == before
    office.post(PAGE, [*SOUNDING, ("do", "enter"), ("again", "yes")])
    assert count(fen) == before + 2


def test_a_visit_without_a_name_is_not_written(office: Browser, fen: OpenNetwork) -> None:
    before = count(fen)
    page = office.post(PAGE, [*SOUNDING, ("do", "enter"), ("by", " ")], status=422).text
    assert "nobody is named as the writer" in visible(page)
    assert count(fen) == before


def test_the_writers_name_is_remembered(office: Browser) -> None:
    office.post(PAGE, [*SOUNDING, ("do", "enter"), ("by", "J. Sedge é")])
    assert field(office.get("/wells/new").text, "by") == "J. Sedge é"


def test_a_dry_visit_without_a_set_gives_a_bound(office: Browser) -> None:
    dry = [("when", "2026-06-14"), ("seen.water", "not reached"), ("seen.depth_reached", "85.00"), ("do", "enter")]
    office.post(PAGE, dry)
    assert values_of(office)[-1]["reduction"]["use"] == "deeper than"


def test_a_new_well_and_its_facts_are_entered_by_forms(office: Browser) -> None:
    where = office.post("/wells/new", {"code": "MF-21", "name": "Sluice", "other_names[1]": "Old S"}).headers[
        "location"
    ]
    assert where == "/wells/MF-21"
    office.post(f"{where}/facts/construction", {
        "completed_depth": "40", "screens[1].top": "30", "screens[1].bottom": "39", "screens[3].top": "20",
        "screens[3].bottom": "25", "since": "2020-01-01"})  # fmt: skip
    point = {"name": "MP-1", "height": "2.10", "side": "above", "description": "notch", "since": "2020-01-01"}
    office.post(f"{where}/facts/measuring%20point", point)
    facts = {f["kind"]: f["body"] for f in office.json(f"{where}.json")["facts"]}
    assert facts["construction"]["screens"] == [
        {"top": "30 ft", "bottom": "39 ft"},
        {"top": "20 ft", "bottom": "25 ft"},
    ]
    assert facts["measuring point"]["height"] == "2.10 ft"
    assert facts["well"]["other_names"] == ["Old S"]


def test_a_well_that_is_there_is_not_entered_again(office: Browser) -> None:
    page = office.post("/wells/new", {"code": "MF-07"}, status=422).text
    assert "MF-07 is in the network already" in visible(page)


def test_a_fact_form_starts_from_what_is_in_force(office: Browser) -> None:
    page = office.get("/wells/MF-07/facts/construction").text
    assert field(page, "screens[1].top") == "70 ft"


def test_a_fact_form_tells_what_is_missing_and_adds_rows(office: Browser) -> None:
    page = office.post("/wells/MF-07/facts/measuring%20point", {"name": "MP-2", "side": "above"}, status=422).text
    assert 'href="#f-since"' in page
    page = office.post("/wells/MF-07/facts/construction", {"screens[1].top": "70", "add": "screens"}, status=200).text
    assert field(page, "screens[2].top") == ""


def test_findings_about_a_fact_are_shown_after_it_was_entered(office: Browser) -> None:
    upside_down = {"completed_depth": "82", "screens[1].top": "80", "screens[1].bottom": "70"}
    where = office.post("/wells/MF-07/facts/construction", upside_down).headers["location"]
    assert "look" in visible(office.get(where).text)


def test_gear_and_calibration_are_entered_by_forms(office: Browser) -> None:
    where = office.post("/gear/new", {"serial": "ST-014", "type": "steel tape", "length": "300"}).headers["location"]
    marks = {"marks[1].shown": "50.00", "marks[1].true": "50.01"}
    office.post(f"{where}/facts/calibration", {"against": "RT-001", "apply": "checked", "since": "2026-02-03", **marks})
    assert office.json("/gear.json")[0]["calibrated_on"] == "2026-02-03"
    assert office.json(f"{where}.json")["entries"][0]["body"]["length"] == "300 ft"


def first(office: Browser) -> dict[str, Any]:
    entry: dict[str, Any] = values_of(office)[0]["entry"]
    return entry


def test_a_reading_is_corrected_with_a_reason_and_the_old_one_stays(office: Browser) -> None:
    old = first(office)
    right = {"readings[1]": "84.40", "readings[2]": "84.40", "weight_interval": "1.20", "reason": "read 3 for 4"}
    where = office.post(f"/entries/{old['id']}/correct", right).headers["location"]
    assert "82.20 ft ±" in visible(office.get(where).text)
    struck = visible(office.get(f"/wells/MF-07/values/{old['id']}").text)
    assert "Struck by R. Alder" in struck
    assert "read 3 for 4" in struck
    assert old["id"] not in {row["entry"]["id"] for row in values_of(office)}
    assert "weighted tape" in visible(office.get("/wells/MF-07?struck=true").text)


def test_a_correction_without_a_reason_is_not_taken_and_keeps_what_was_typed(office: Browser) -> None:
    page = office.post(f"/entries/{first(office)['id']}/correct", {"readings[1]": "84.44"}, status=422).text
    assert field(page, "readings[1]") == "84.44"
    assert "there is no reason" in visible(page)


def test_an_entry_is_struck_once_and_the_second_person_is_told(office: Browser) -> None:
    entry = first(office)
    office.post(f"/entries/{entry['id']}/strike", {"reason": ""}, status=422)
    office.post(f"/entries/{entry['id']}/strike", {"reason": "wrong well"})
    second = visible(office.post(f"/entries/{entry['id']}/strike", {"reason": "me too"}, status=409).text)
    assert "already struck by" in second


def test_a_review_replaces_the_quality_and_says_why(office: Browser) -> None:
    entry = first(office)
    path = f"/wells/MF-07/values/{entry['id']}"
    office.post(f"{path}/review", {"quality": "suspect", "why": "mud on the weight"})
    assert "suspect, reviewed: mud on the weight" in visible(office.get(path).text)
    office.post(f"{path}/review", {"quality": "fine", "why": "x"}, status=422)


def test_settings_change_with_a_reason_only(office: Browser) -> None:
    page = office.post("/settings", {"agree_within": "0.01 ft", "reason": ""}, status=422).text
    assert field(page, "agree_within") == "0.01 ft"
    page = office.post("/settings", {"agree_within": "nearly", "reason": "house rule"}, status=422).text
    assert "nearly" in visible(page)
    office.post("/settings", {"agree_within": "0.01 ft", "reason": "house rule"})
    row = next(s for s in office.json("/settings.json") if s["name"] == "agree_within")
    assert (row["value"], row["source"]) == ("0.01 ft", "set here")


@pytest.mark.parametrize("method", ["weighted tape", "chalked tape", "electric tape", "air line", "flowing gauge",
                                    "standpipe", "logger check", "oil on water", "reported"])  # fmt: skip
def test_every_method_has_a_form(office: Browser, method: str) -> None:
    page = office.post(PAGE, [("when", "2026-05-14"), ("do", "add set"), ("new_method", method)], status=200).text
    assert f"<legend>{method}</legend>" in page
