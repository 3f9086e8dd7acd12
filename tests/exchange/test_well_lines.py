"""Tables of wells and of screens: gaps are filled, what the record holds is never overwritten."""

from __future__ import annotations

import pytest

from tests.exchange.tables_and_mappings import bodies, checks, fact, lines, wells

WELLS = """
makes = "wells"
length_unit = "m"
well = {code = "well", name = "name", other_names = ["old", "older"]}
[position]
latitude = "lat"
horizontal_datum = {always = "WGS 84"}
[construction]
completed_depth = {column = "depth", blanks = ["0"]}
hole_depth = "bore"
"""
HEADER = "well,name,old,older,lat,depth,bore\n"
SCREENS = """
makes = "screens"
length_unit = "m"
well.code = "well"
screen = {top = "from", bottom = "to"}
"""


def test_a_well_line_becomes_identity_position_and_construction() -> None:
    (line,) = lines(HEADER + "MF-01,Sedge Drove,12,,52.4412,85.0,90.0\n", WELLS, [], "m")
    assert bodies(line, "well") == [{"code": "MF-01", "name": "Sedge Drove", "other_names": ["12"]}]
    assert bodies(line, "position") == [{"latitude": "52.4412 deg", "horizontal_datum": "WGS 84"}]
    assert bodies(line, "construction") == [{"completed_depth": "85.0 m", "hole_depth": "90.0 m"}]


def test_what_always_holds_makes_no_fact_by_itself_and_a_declared_blank_is_no_depth() -> None:
    (line,) = lines(HEADER + "MF-01,,,,,0,\n", WELLS, [], "m")
    assert [draft.kind for draft in line.drafts] == ["well"]


def test_impossible_facts_of_a_well_are_entered_with_findings() -> None:
    (line,) = lines(HEADER + "MF-01,,,,152.4,9000,80\n", WELLS, [], "m")
    assert line.outcome == "enter"
    assert set(checks(line)) == {"elevation-impossible", "hole-above-well", "depth-impossible"}


def test_a_well_told_twice_is_already_there_and_told_otherwise_is_set_aside() -> None:
    first, same, other = lines(HEADER + "MF-01,a,,,,,\n" * 2 + "MF-01,b,,,,,\n", WELLS, [], "m")
    assert [first.outcome, same.outcome, other.outcome] == ["enter", "already there", "set aside"]
    assert same.same_as == 2
    assert "line 2" in other.reason


def test_gaps_of_the_record_are_filled_by_an_entry_that_replaces_the_old_one() -> None:
    known = [
        *wells("MF-01"),
        fact("construction", "MF-01", {"completed_depth": "85.0 m", "lean": "2 deg"}, "1990-01-01"),
    ]
    (line,) = lines(HEADER + "MF-01,,,,,85.0,90.0\n", WELLS, known, "m")
    (draft,) = line.drafts
    assert bodies(line, "construction") == [{"completed_depth": "85.0 m", "hole_depth": "90.0 m", "lean": "2 deg"}]
    assert (draft.strikes, draft.measured_at, bool(draft.reason)) == (
        "construction-MF-01-1990-01-01",
        "1990-01-01",
        True,
    )


def test_a_fact_the_record_has_otherwise_stays_and_the_line_says_so() -> None:
    known = [*wells("MF-01"), fact("construction", "MF-01", {"completed_depth": "84.0 m", "hole_depth": "90.0 m"})]
    (line,) = lines(HEADER + "MF-01,,,,,85.0,90.0\n", WELLS, known, "m")
    assert (line.outcome, line.drafts) == ("set aside", ())
    assert "84.0 m" in line.reason
    assert "85.0 m" in line.reason
    (partly,) = lines(HEADER + "MF-01,Sedge Drove,,,,85.0,\n", WELLS, known, "m")
    assert (partly.outcome, checks(partly)) == ("enter", ["record-says-otherwise"])


def test_the_same_depth_with_other_decimals_is_no_contradiction() -> None:
    known = [*wells("MF-01"), fact("construction", "MF-01", {"completed_depth": "85 m"})]
    (line,) = lines(HEADER + "MF-01,,,,,85.0,\n", WELLS, known, "m")
    assert (line.outcome, checks(line)) == ("already there", [])


@pytest.mark.parametrize(
    ("told", "outcome"),
    [("85.0392", "already there"), ("85.0393", "set aside"), ("85.04", "set aside"), ("85.0", "set aside")],
)
def test_a_depth_told_in_another_unit_is_the_same_only_when_it_is_the_same_length(told: str, outcome: str) -> None:
    """279 ft of 0.3048 m are 85.0392 m; a tenth of a millimetre, or one less, is another depth."""
    known = [*wells("MF-01"), fact("construction", "MF-01", {"completed_depth": "279 ft"})]
    (line,) = lines(HEADER + f"MF-01,,,,,{told},\n", WELLS, known, "m")
    assert line.outcome == outcome


def test_a_line_that_says_nothing_new_is_already_there() -> None:
    (line,) = lines(HEADER + "MF-01,,,,,,\n", WELLS, wells("MF-01"), "m")
    assert (line.outcome, line.drafts) == ("already there", ())


def test_a_value_that_cannot_be_read_sets_the_well_aside() -> None:
    found = lines(HEADER + "MF-01,,,,52 N,,\n,x,,,,,\nMF-02,,,,,deep,\n", WELLS, [], "m")
    assert [line.outcome for line in found] == ["set aside"] * 3


def test_all_screens_of_a_well_become_one_construction_with_the_depth_already_known() -> None:
    known = [*wells("MF-01", "MF-02"), fact("construction", "MF-01", {"completed_depth": "85 m"})]
    table = "well,from,to\nMF-01,75,85\nMF-02,1,2\nMF-01,60,65\n"
    last, other, first = lines(table, SCREENS, known, "m")
    screens = [{"top": "60 m", "bottom": "65 m"}, {"top": "75 m", "bottom": "85 m"}]
    assert bodies(last, "construction") == [{"completed_depth": "85 m", "screens": screens}]
    assert last.drafts[0].strikes == "construction-MF-01-"
    assert (first.outcome, first.drafts, first.carried_by) == ("enter", (), 2)
    assert len(bodies(other, "construction")) == 1


def test_screens_upside_down_or_below_the_well_are_found() -> None:
    known = [*wells("MF-01", "MF-02"), fact("construction", "MF-01", {"completed_depth": "80 m"})]
    below, upside = lines("well,from,to\nMF-01,75,85\nMF-02,20,10\n", SCREENS, known, "m")
    assert (checks(below), checks(upside)) == (["screen-below-well"], ["screen-upside-down"])


def test_one_unreadable_screen_keeps_the_whole_well_out_until_it_is_mended() -> None:
    found = lines("well,from,to\nMF-01,60,65\nMF-01,75,?\nMF-02,1,2\n", SCREENS, wells("MF-01", "MF-02"), "m")
    assert [line.outcome for line in found] == ["set aside", "set aside", "enter"]
    assert "line 3" in found[0].reason


def test_the_same_screen_twice_counts_once() -> None:
    first, twin = lines("well,from,to\nMF-01,60,65\nMF-01,60,65\n", SCREENS, wells("MF-01"), "m")
    assert len(bodies(first, "construction")[0]["screens"]) == 1
    assert (twin.outcome, twin.same_as) == ("already there", 2)


def test_other_screens_than_the_record_holds_are_set_aside() -> None:
    known = [*wells("MF-01"), fact("construction", "MF-01", {"screens": [{"top": "60 m", "bottom": "65 m"}]})]
    same, *_ = lines("well,from,to\nMF-01,60,65\n", SCREENS, known, "m")
    other, more = lines("well,from,to\nMF-01,60,65\nMF-01,70,75\n", SCREENS, known, "m")
    assert [same.outcome, other.outcome, more.outcome] == ["already there", "set aside", "set aside"]


def test_screens_of_a_well_that_is_not_known_are_set_aside() -> None:
    (line,) = lines("well,from,to\nMF-99,60,65\n", SCREENS, [], "m")
    assert (line.outcome, bool(line.mend)) == ("set aside", True)
