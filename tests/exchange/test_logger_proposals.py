"""What is proposed of a logger's file by looking at it; constructed line by line."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tapedown.exchange.loggers.proposals import Proposal, first_lines, propose_profile
from tapedown.exchange.loggers.times import offset_minutes
from tapedown.exchange.tables.errors import NotATable


def proposed(heading: str, *rows: str) -> Proposal:
    return propose_profile("\n".join([heading, *rows, ""]).encode())


def hourly(number: str, times: int = 12) -> list[str]:
    return [f"2026-06-01 {hour:02d}:00,{number}" for hour in range(times)]


@pytest.mark.parametrize(("shown", "form", "zone"), [
    ("2026-06-13 14:00", "%Y-%m-%d %H:%M", "+00:00"), ("2026/06/13 14:00:30", "%Y/%m/%d %H:%M:%S", "+00:00"),
    ("13.06.2026 14:00", "%d.%m.%Y %H:%M", "+00:00"), ("6/13/26 2:00 PM", "%m/%d/%y %I:%M %p", "+00:00"),
    ("6/13/2026 2:00PM", "%m/%d/%Y %I:%M%p", "+00:00"), ("2026-06-13T14:00:00.25", "%Y-%m-%dT%H:%M:%S%.f", "+00:00"),
    ("2026-06-13 14:00+01:00", "%Y-%m-%d %H:%M%z", "written"),
    ("2026-06-13 14:00 +01:00", "%Y-%m-%d %H:%M %z", "written"),
    ("2026-06-13", "%Y-%m-%d", "+00:00"),
])  # fmt: skip
def test_the_form_of_a_time_is_seen(shown: str, form: str, zone: str) -> None:
    found = proposed("when,depth (m)", *[f"{shown},3.2"] * 3)
    assert found.profile.clock.formats == (form,)
    assert found.profile.clock.zone == zone
    assert any("which clock" in question for question in found.questions) == (zone != "written")


def test_forms_that_take_turns_are_all_proposed_the_commonest_first() -> None:
    rows = ["1/13/2026 0:00,3.1", "1/13/2026 0:00:30,3.1", "1/14/2026 0:00:30,3.1"]
    assert proposed("when,depth (m)", *rows).profile.clock.formats == ("%m/%d/%Y %H:%M:%S", "%m/%d/%Y %H:%M")


@pytest.mark.parametrize(("day", "first", "asked"), [(12, "%d/%m/%Y", True), (13, "%d/%m/%Y", False)])
def test_a_number_beyond_twelve_is_the_day(day: int, first: str, asked: bool) -> None:
    start = datetime(2026, 6, 3)
    days = [start + timedelta(days=n) for n in range(day - 2)]
    found = proposed("when,depth (m)", *[f"{at:%d/%m/%Y},3.1" for at in days])
    assert found.profile.clock.formats == (first,)
    assert any("day first or month first" in question for question in found.questions) == asked
    turned = proposed("when,depth (m)", *[f"{at:%m/%d/%Y},3.1" for at in days])
    assert turned.profile.clock.formats == ("%m/%d/%Y",)


def test_where_no_number_tells_the_one_that_changes_more_often_is_the_day() -> None:
    found = proposed("when,depth (m)", "5/06/2026 0:00,3.1", "6/06/2026 0:00,3.1", "6/06/2026 1:00,3.1")
    assert found.profile.clock.formats == ("%d/%m/%Y %H:%M",)
    assert "is 5/06/2026 day first or month first? no number in the first 3 rows tells" in found.questions
    turned = proposed("when,depth (m)", "06/5/2026 0:00,3.1", "06/6/2026 0:00,3.1")
    assert turned.profile.clock.formats == ("%m/%d/%Y %H:%M",)


def test_date_and_time_of_day_may_have_a_column_each() -> None:
    found = proposed("no,time,date,depth (m)", "1,14:00,2026-06-13,3.2", "2,15:00,2026-06-13,3.1")
    assert (found.profile.clock.date, found.profile.clock.time) == ("date", "time")
    assert found.profile.clock.formats == ("%Y-%m-%d %H:%M",)
    assert found.columns == (("no", "1"), ("time", "14:00"), ("date", "2026-06-13"), ("depth (m)", "3.2"))


@pytest.mark.parametrize(("heading", "holds", "unit"), [
    ("Pressure [psi]", "absolute pressure", "psi"), ("gauge pressure kPa", "pressure above air", "kPa"),
    ("Baro (hPa)", "air pressure", "hPa"), ("Vented cmH2O", "pressure above air", "cm of water"),
    ("Depth (ft)", "depth to water", "ft"), ("water level (m)", "depth to water", "m"),
    ("Elevation, feet", "elevation of the water", "ft"), ("head mm", "elevation of the water", "mm"),
    ("submergence (cm)", "water above the sensor", "cm"), ("mbar", "absolute pressure", "mbar"),
])  # fmt: skip
def test_a_heading_says_what_a_column_holds_and_in_which_unit(heading: str, holds: str, unit: str) -> None:
    found = proposed(f"when;{heading}", *[row.replace(",", ";") for row in hourly("12.5")])
    (column,) = found.profile.columns
    assert (column.name, column.holds, column.unit, column.positive) == (heading, holds, unit, "")
    assert any("absolute" in question for question in found.questions) == (holds == "absolute pressure")
    assert not any("in which unit" in question for question in found.questions)


@pytest.mark.parametrize(("heading", "unit"), [("Temperature", "degC"), ("Temp °F", "degF"), ("Temp (C)", "degC")])
def test_a_temperature_is_taken_beside_what_the_series_is_of(heading: str, unit: str) -> None:
    found = proposed(f"when,{heading},depth (m)", *[f"2026-06-01 {h:02d}:00,9.5,3.2" for h in range(5)])
    assert [(column.holds, column.unit) for column in found.profile.columns] == [
        ("water temperature", unit),
        ("depth to water", "m"),
    ]


@pytest.mark.parametrize(("size", "unit"), [
    (0.89, "kPa"), (0.9, "bar"), (11.9, "bar"), (12, "psi"), (59.9, "psi"), (60, "kPa"), (80, "kPa"), (399, "kPa"),
    (899, "kPa"), (900, "cm of water"), (3999, "cm of water"), (4000, "kPa"),
])  # fmt: skip
def test_a_pressure_without_a_unit_is_guessed_from_its_size_and_asked(size: float, unit: str) -> None:
    found = proposed("when,pressure", *hourly(f"{size}"))
    assert found.profile.columns[0].unit == unit
    assert f"column 'pressure': in which unit? {unit} is a guess from numbers such as {size:g}" in found.questions


def test_the_size_is_that_of_the_middle_value() -> None:
    """Two rows in air among five: 10.1, 10.2, 25, 26, 27: the middle is 25, psi; the first of them is told."""
    rows = [f"2026-06-01 0{k}:00,{value}" for k, value in enumerate((10.1, 27, 10.2, 26, 25))]
    found = proposed("when,pressure", *rows)
    assert found.profile.columns[0].unit == "psi"
    assert "numbers such as 10.1" in "".join(found.questions)


@pytest.mark.parametrize(("number", "positive"), [("65.2", ""), ("-65.2", "up")])
def test_a_level_that_is_mostly_negative_is_positive_up(number: str, positive: str) -> None:
    for heading in ("level (m)", "reading"):  # said by the heading, and guessed
        (column,) = proposed(f"when,{heading}", *hourly(number)).profile.columns
        assert (column.holds, column.unit, column.positive) == ("depth to water", "m", positive)


@pytest.mark.parametrize(("number", "holds", "unit"), [
    ("1.02", "absolute pressure", "bar"), ("102.5", "absolute pressure", "kPa"), ("70.5", "depth to water", "m"),
])  # fmt: skip
def test_where_no_heading_says_the_first_column_with_decimals_is_guessed(number: str, holds: str, unit: str) -> None:
    found = proposed("when,one,two,three", *[f"2026-06-01 {h:02d}:00,7,{number},8.5" for h in range(5)])
    assert [(column.name, column.holds, column.unit) for column in found.profile.columns] == [("two", holds, unit)]
    told = f"'two', {float(number):g} and so on, is proposed as {holds} in {unit}"
    assert found.questions[0] == f"which column holds the pressure or the level? none of the headings says: {told}"


def test_of_two_columns_of_one_kind_the_first_is_proposed() -> None:
    found = proposed("when,level 1 (m),level 2 (m)", *[f"2026-06-01 {h:02d}:00,3.5,4.5" for h in range(5)])
    assert [column.name for column in found.profile.columns] == ["level 1 (m)"]


def test_a_column_with_more_than_one_word_in_twenty_cells_is_none_of_numbers() -> None:
    for words, kept in ((1, True), (2, False)):
        rows = [f"2026-06-{day:02d},{'dry' if day <= words else '3.5'},7.5" for day in range(1, 21)]
        found = proposed("when,level (m),depth two (m)", *rows)
        assert found.profile.columns[0].name == ("level (m)" if kept else "depth two (m)")


def test_names_are_the_last_line_above_the_data_that_is_no_line_of_units() -> None:
    found = propose_profile(b"Well,MF-02\nwhen,press,temp\n,(kPa),[C]\n2026-06-01,120.5,9\n2026-06-02,120.6,9\n")
    assert found.profile.header_line == 2
    assert [column.name for column in found.profile.columns] == ["press", "temp"]


def test_a_file_without_names_numbers_its_columns() -> None:
    found = propose_profile(b"2026-06-01,120.5\n2026-06-02,120.6\n")
    assert found.profile.header_line == 0
    assert (found.profile.clock.date, found.profile.columns[0].name) == ("1", "2")


def test_first_lines_are_cut_at_thirty_lines_of_two_hundred_signs() -> None:
    data = ("x" * 250 + "\n").encode() * 40
    assert first_lines(data) == ["x" * 200] * 30
    assert first_lines(b"a\tb\n\x07c\n", most=5) == ["a\tb", "\N{MIDDLE DOT}c"]


def test_only_the_first_four_hundred_lines_are_looked_at() -> None:
    above = b"a remark\n" * 399
    assert propose_profile(above + b"2026-06-01,120.5\n").profile.clock.date == "1"
    with pytest.raises(NotATable, match="no line begins a table"):
        propose_profile(above + b"a remark\n2026-06-01,120.5\n")


@pytest.mark.parametrize(("zone", "minutes"), [
    ("UTC", 0), ("+00:00", 0), ("-03:30", -210), ("+0545", 345), ("+14:00", 840), ("Europe/London", None),
    ("1:00", None),
])  # fmt: skip
def test_a_fixed_zone_is_so_many_minutes_ahead(zone: str, minutes: int | None) -> None:
    assert offset_minutes(zone) == minutes
