"""Tables of readings: nothing is guessed, nothing is lost, what is written stays as it was written."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.exchange.tables.cells import MappingDoesNotFit
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import canonical
from tapedown.values.reading_forms import readings_body, readings_from_body
from tests.exchange.tables_and_mappings import LEVELS, bodies, checks, fact, lines, wells

TAPE = LEVELS.replace(
    'value = "depth"\npositive = "down"\nreference = "below land surface"',
    'at_point = "hold"\nat_water = "cut"\nno_cut = ["0"]',
)


def test_a_depth_keeps_its_decimals() -> None:
    (line,) = lines("well,date,depth\nMF-01,1998-05-14 10:20,720.0\n")
    assert line.outcome == "enter"
    assert line.drafts[0][:3] == ("readings", "well/MF-01", "1998-05-14T10:20+01:00")
    assert bodies(line, "readings")[0]["read"]["readings"] == ["720.0 ft"]


def test_a_spreadsheet_column_gets_the_decimals_the_mapping_states() -> None:
    mapping = LEVELS.replace('value = "depth"', 'value = {column = "depth", decimals = 2}')
    found = lines("well,date,depth\nMF-01,1998-05-14,84.3\nMF-01,1998-05-15,84.299999999999997\n", mapping)
    assert [bodies(line, "readings")[0]["read"]["readings"] for line in found] == [["84.30 ft"], ["84.30 ft"]]
    (finer,) = lines("well,date,depth\nMF-01,1998-05-14,84.305\n", mapping)
    assert bodies(finer, "readings")[0]["read"]["readings"] == ["84.305 ft"]


def test_levels_written_as_negative_become_depths_only_when_the_mapping_says_so() -> None:
    table = "well,date,depth\nMF-01,1998-05-14,-8.60\nMF-02,1998-05-14,3.2\n"
    up = lines(table, LEVELS.replace('"down"', '"up"'))
    assert [bodies(line, "readings")[0]["read"]["readings"] for line in up] == [["8.60 ft"], ["-3.2 ft"]]
    down = lines(table)
    assert [bodies(line, "readings")[0]["read"]["readings"] for line in down] == [["-8.60 ft"], ["3.2 ft"]]


def test_a_comma_in_a_number_is_not_guessed_about() -> None:
    (line,) = lines('well,date,depth\nMF-01,1998-05-14,"1,234"\n')
    assert line.outcome == "set aside"
    assert "decimal_comma" in line.mend
    (comma,) = lines("well;date;depth\nMF-01;1998-05-14;12,340\n", "decimal_comma = true\n" + LEVELS)
    assert bodies(comma, "readings")[0]["read"]["readings"] == ["12.340 ft"]


@pytest.mark.parametrize("cell", ["abc", "1e3", "NaN", "inf", "12 psi", "--3", "1.2.3", "9" * 400, "=1+1", "²"])
def test_what_is_no_number_sets_the_line_aside_with_a_mend(cell: str) -> None:
    (line,) = lines(f"well,date,depth\nMF-01,1998-05-14,{cell}\n")
    assert (line.outcome, line.drafts) == ("set aside", ())
    assert line.reason
    assert line.mend


def test_a_blank_without_a_reason_is_set_aside_and_never_a_number() -> None:
    found = lines("well,date,depth\nMF-01,1998-05-14,\nMF-01,1998-05-15,NA\n", 'blanks = ["NA"]\n' + LEVELS)
    assert [line.outcome for line in found] == ["set aside", "set aside"]


def test_a_blank_with_a_reason_becomes_a_visit_that_says_so() -> None:
    mapping = LEVELS + (
        'instead = {dry = {seen = { water = ["not reached"] }, no_reading = "dry"}}\n'
        '[status]\ncolumn = "found"\n[status.words]\n"locked" = {no_reading = "locked"}\n'
        '"not ours" = {set_aside = "another network\'s well"}\n'
    )
    locked, dry, other, contrary, unknown = lines(
        "well,date,depth,found\nMF-01,1998-05-14,,locked\nMF-01,1998-05-15,dry,\nMF-01,1998-05-16,1,not ours\n"
        "MF-01,1998-05-17,12.3,locked\nMF-01,1998-05-18,12.3,wet\n",
        mapping,
    )
    assert bodies(locked, "visit") == [{"seen": {"no_reading": "locked"}}]
    assert bodies(dry, "visit") == [{"seen": {"water": ["not reached"], "no_reading": "dry"}}]
    assert (other.outcome, other.reason) == ("set aside", "another network's well")
    assert contrary.outcome == "set aside"
    assert "12.3" in contrary.reason
    assert "status.words" in unknown.mend


def test_a_sentinel_of_the_value_column_counts_as_blank_beside_a_reason() -> None:
    mapping = LEVELS.replace('value = "depth"', 'value = {column = "depth", blanks = ["-9999"]}') + (
        '[status]\ncolumn = "found"\nwords = {L = {no_reading = "locked"}}\n'
    )
    reason, bare, blank_status = lines(
        "well,date,depth,found\nMF-01,1998-05-14,-9999,L\nMF-01,1998-05-15,-9999,NA\nMF-01,1998-05-16,9.1,NA\n",
        'blanks = ["NA"]\n' + mapping,
    )
    assert [line.drafts[0].kind if line.drafts else "" for line in (reason, bare, blank_status)] == [
        "visit", "", "readings",
    ]  # fmt: skip


def test_what_goes_on_and_methods_come_in_our_words() -> None:
    mapping = LEVELS + (
        'how = {column = "m", words = {S = "steel tape"}}\nremarks = {always = "from the old book"}\n'
        '[status]\ncolumn = "found"\nwords = {P = {seen = { pump = "running" }, note = "pump would not stop"}}\n'
    )
    first, second = lines("well,date,depth,m,found\nMF-01,1998-05-14,9.1,S,P\nMF-01,1998-05-15,9.1,Q,\n", mapping)
    body = bodies(first, "readings")[0]
    assert body["seen"] == {"pump": "running"}
    assert body["read"]["how"] == "steel tape"
    assert body["read"]["remarks"] == "pump would not stop; from the old book"
    assert (second.outcome, second.mend) == ("set aside", "add it to m.words")


@pytest.mark.parametrize(("means", "u"), [("half-width", "0.057735 ft"), ("standard uncertainty", "0.10 ft")])
def test_a_stated_accuracy_becomes_a_standard_uncertainty_as_declared(means: str, u: str) -> None:
    mapping = LEVELS + f'u = {{column = "accuracy", means = "{means}"}}\n'
    stated, silent = lines("well,date,depth,accuracy\nMF-01,1998-05-14,9.1,0.10\nMF-01,1998-05-15,9.1,\n", mapping)
    assert bodies(stated, "readings")[0]["read"]["u"] == u
    assert "u" not in bodies(silent, "readings")[0]["read"]


def test_hold_and_cut_stay_apart_and_a_stated_zero_cut_is_a_plain_depth() -> None:
    pair, plain, spelled, no_cut, no_hold = lines(
        "well,date,hold,cut\nMF-01,1998-05-14,35.00,2.18\nMF-01,1998-05-15,32.1,0\nMF-01,1998-05-16,32.1,0.00\n"
        "MF-01,1998-05-17,32.1,\nMF-01,1998-05-18,,2.1\n",
        TAPE,
    )
    assert bodies(pair, "readings") == [
        {"method": "chalked tape", "read": {"readings": [{"hold": "35.00 ft", "cut": "2.18 ft"}]}}
    ]
    for line in (plain, spelled):
        read = bodies(line, "readings")[0]["read"]
        assert (read["readings"], read["reference"]) == (["32.1 ft"], "below measuring point")
    assert [no_cut.outcome, no_hold.outcome] == ["set aside", "set aside"]


def test_hold_and_cut_swapped_are_found() -> None:
    (line,) = lines("well,date,hold,cut\nMF-01,1998-05-14,1.88,22.00\n", TAPE)
    assert "cut-above-hold" in checks(line)


HEIGHTS = "well,date,hold,cut,mp\nMF-01,1998-05-14,30,0,1.25\nMF-01,1999-05-14,30,0,1.25\nMF-01,2000-05-14,30,0,-0.40\n"


@pytest.mark.parametrize(("sign", "sides"), [("above", ["above", "below"]), ("below", ["below", "above"])])
def test_a_point_is_entered_with_the_first_reading_from_it_and_its_side_follows_the_declared_sign(
    sign: str, sides: list[str]
) -> None:
    found = lines(HEIGHTS, TAPE + f'[point]\nheight = "mp"\npositive = "{sign} land surface"\n')
    points = [bodies(line, "measuring point") for line in found]
    assert [[(p["height"], p["side"]) for p in point] for point in points] == [
        [("1.25 ft", sides[0])], [], [("0.40 ft", sides[1])],
    ]  # fmt: skip
    assert bodies(found[0], "readings")[0]["read"]["point"] == "MP"


def test_a_point_height_follows_from_two_elevations_with_their_decimals() -> None:
    table = "well,date,hold,cut,rp,gs\nMF-01,1998-05-14,30,0,1593.730,1592.930\nMF-02,1998-05-14,30,0,10.1,10.10\n"
    found = lines(table, TAPE + '[point]\nelevation = "rp"\nground = "gs"\n')
    points = [bodies(line, "measuring point")[0] for line in found]
    assert [(p["height"], p["side"]) for p in points] == [("0.800 ft", "above"), ("0.00 ft", "level")]


def test_a_later_line_may_tell_the_earlier_point() -> None:
    later, earlier = lines(
        "well,date,hold,cut,mp\nMF-01,2000-05-14,30,0,1\nMF-01,1998-05-14,30,0,1\n",
        TAPE + '[point]\nheight = "mp"\npositive = "above land surface"\n',
    )
    assert bodies(later, "measuring point") == []
    assert len(bodies(earlier, "measuring point")) == 1


def test_a_point_the_record_knows_is_not_entered_again() -> None:
    point = {"name": "MP", "height": "1.25 ft", "side": "above", "description": "as told by the table"}
    known = [*wells("MF-01"), fact("measuring point", "MF-01", point, "1990-01-01")]
    found = lines(HEIGHTS, TAPE + '[point]\nheight = "mp"\npositive = "above land surface"\n', known)
    assert [len(bodies(line, "measuring point")) for line in found] == [0, 0, 1]


@pytest.mark.parametrize(
    ("recorded", "entered"),
    [("1998-05-14T16:40+01:00", 0), ("1998-05-13T23:59+01:00", 0), ("1998-05-14", 0), ("1998-05-15T00:10+01:00", 1)],
)
def test_a_reading_with_a_date_alone_finds_the_point_recorded_at_any_hour_of_that_day(
    recorded: str, entered: int
) -> None:
    point = {"name": "MP", "height": "1.25 ft", "side": "above", "description": "as told by the table"}
    known = [*wells("MF-01"), fact("measuring point", "MF-01", point, recorded)]
    mapping = TAPE + '[point]\nheight = "mp"\npositive = "above land surface"\n'
    (line,) = lines("well,date,hold,cut,mp\nMF-01,1998-05-14,30,0,1.25\n", mapping, known)
    assert len(bodies(line, "measuring point")) == entered


def test_a_land_surface_that_changes_is_a_new_position_that_keeps_the_rest() -> None:
    known = [*wells("MF-01"), fact("position", "MF-01", {"latitude": "52.4 deg"})]
    found = lines(
        "well,date,depth,gs\nMF-01,1998-05-14,9.1,12.41\nMF-01,1999-05-14,9.1,12.41\nMF-01,2000-05-14,9.1,12.60\n",
        LEVELS + '[position]\nland_surface = "gs"\nvertical_datum = {always = "ODN"}\n',
        known,
    )
    assert [bodies(line, "position") for line in found] == [
        [{"latitude": "52.4 deg", "land_surface": "12.41 ft", "vertical_datum": "ODN"}],
        [],
        [{"latitude": "52.4 deg", "land_surface": "12.60 ft", "vertical_datum": "ODN"}],
    ]


BUILT = {"completed_depth": "100.0 ft"}


@pytest.mark.parametrize("depth", ["99.0", "101.0"])
def test_water_deeper_than_the_well_is_found_through_point_and_elevation_alike(depth: str) -> None:
    deeper = depth == "101.0"
    known = [
        *wells("MF-01"),
        fact("construction", "MF-01", BUILT),
        fact("position", "MF-01", {"land_surface": "50.0 ft", "vertical_datum": "ODN"}),
        fact("measuring point", "MF-01", {"name": "MP", "height": "2.0 ft", "side": "above", "description": "x"}),
    ]
    below_land = lines(f"well,date,depth\nMF-01,1998-05-14 10:20,{depth}\n", LEVELS, known)
    hold = float(depth) + 2
    from_point = lines(f"well,date,hold,cut\nMF-01,1998-05-14 10:20,{hold},0\n", TAPE, known)
    taped = lines(f"well,date,hold,cut\nMF-01,1998-05-14 10:20,{hold + 3},3\n", TAPE, known)
    as_elevation = LEVELS.replace('"below land surface"', '"elevation"\nvertical_datum = "ODN"').replace(
        'positive = "down"', ""
    )
    elevation = lines(f"well,date,depth\nMF-01,1998-05-14 10:20,{50 - float(depth)}\n", as_elevation, known)
    for found in (below_land, from_point, taped, elevation):
        assert ("deeper-than-well" in checks(found[0])) == deeper


def test_depths_and_elevations_that_cannot_be_are_entered_with_a_finding() -> None:
    (deep,) = lines("well,date,depth\nMF-01,1998-05-14 10:20,99999\n")
    assert (deep.outcome, checks(deep)) == ("enter", ["depth-impossible"])
    (high,) = lines(
        "well,date,depth,gs\nMF-01,1998-05-14 10:20,9,99999\n",
        LEVELS + '[position]\nland_surface = "gs"\nvertical_datum = {always = "ODN"}\n',
    )
    assert (high.outcome, checks(high)) == ("enter", ["elevation-impossible"])


def test_the_same_line_twice_is_entered_once_and_names_the_first() -> None:
    first, second = lines("well,date,depth\nMF-01,1998-05-14 10:20,9.1\nMF-01,1998-05-14 10:20,9.1\n")
    assert [first.outcome, second.outcome, second.same_as] == ["enter", "already there", 2]
    assert second.drafts == ()


def test_two_values_at_one_time_are_both_entered_and_found() -> None:
    found = lines("well,date,depth\nMF-01,1998-05-14 10:20,9.1\nMF-01,1998-05-14 10:20,9.10\n")
    assert [line.outcome for line in found] == ["enter", "enter"]
    assert [checks(line) for line in found] == [[], ["same-time-twice"]]


def test_a_well_that_is_not_in_the_record_is_set_aside_unless_new_wells_are_wanted() -> None:
    table = "well,date,depth\nMF-99,1998-05-14,9.1\nMF-99,1998-05-15,9.1\n,1998-05-14,9.1\n"
    found = lines(table)
    assert [line.outcome for line in found] == ["set aside"] * 3
    assert "MF-99" in found[0].reason
    new = lines(table, LEVELS.replace('{code = "well"}', '{code = "well", new_wells = true}'))
    assert [bodies(line, "well") for line in new] == [[{"code": "MF-99"}], [], []]
    assert new[2].outcome == "set aside"


def test_a_mapping_that_names_a_missing_or_doubled_column_is_refused_with_the_columns_there_are() -> None:
    with pytest.raises(MappingDoesNotFit) as refused:
        lines("well,date,level\nMF-01,1998-05-14,9.1\n")
    assert "'level'" in refused.value.hint
    with pytest.raises(MappingDoesNotFit, match="2 times"):
        lines("well,date,depth,depth\nMF-01,1998-05-14,9.1,9.2\n")


def test_a_body_built_quickly_is_the_body_its_form_would_write() -> None:
    mapping = LEVELS + 'how = "how"\nremarks = "remarks"\nu = {always = "0.01 ft", means = "standard uncertainty"}\n'
    table = (
        'well,date,depth,how,remarks\nMF-01,1998-05-14,9.10,steel tape,"""readings"":[""0 ft""]"\n'
        "MF-01,1998-05-15,-3 m,ünïcode \\ back,\n"
    )
    for line in lines(table, mapping):
        body = json.loads(line.drafts[0].body)
        value, problems = readings_from_body(body, "ft")
        assert problems == []
        assert value is not None
        assert canonical(readings_body(value)) == line.drafts[0].body


CELL = st.text(st.characters(exclude_categories=["Cs"]), max_size=12) | st.sampled_from(
    ["MF-01", "MF-02", "1998-05-14", "1998-05-14 10:20", "9.1", "-3", "0", "1e5", "dry", "P", "1,2", "12 m", ""]
)


@given(st.lists(st.tuples(*[CELL] * 7), max_size=12))
def test_any_table_of_text_has_every_line_accounted_for_and_only_readable_bodies(rows: list[tuple[str, ...]]) -> None:
    header = ("well", "date", "hold", "cut", "mp", "gs", "found")
    quoted = ["\t".join('"' + cell.replace('"', '""') + '"' for cell in row) for row in (header, *rows)]
    mapping = TAPE.replace('code = "well"', 'code = "well", new_wells = true') + (
        'instead = {dry = {seen = { water = ["not reached"] }, no_reading = "dry"}}\nremarks = "found"\n'
        '[point]\nheight = "mp"\npositive = "above land surface"\n'
        '[position]\nland_surface = "gs"\nvertical_datum = {always = "ODN"}\n'
        '[status]\ncolumn = "found"\nwords = {P = {seen = { pump = "running" }}}\n'
    )
    found = lines("\n".join(quoted), mapping)
    assert len(found) == len(rows)
    for line in found:
        assert line.outcome in ("enter", "already there", "set aside")
        assert bool(line.drafts) == (line.outcome == "enter")
        assert line.outcome != "set aside" or (line.reason and line.mend)
        for draft in line.drafts:
            body = json.loads(draft.body)
            read = readings_from_body if draft.kind == "readings" else KINDS[draft.kind].read
            assert read(body, "ft")[1] == []
