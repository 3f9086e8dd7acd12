"""Dates and times of tables."""

from __future__ import annotations

from typing import Any

import pytest

from tapedown.exchange.tables.clock import clock_reader
from tapedown.exchange.tables.mapping import ClockColumns


def read(text: str, time: str = "", **clock: Any) -> tuple[str, list[str], str]:
    stated = {"date": "date", "zone": "Europe/London", **clock}
    found = clock_reader(ClockColumns(**stated))(text, time)
    return found.measured_at, [one.check for one in found.findings], found.problem


@pytest.mark.parametrize(
    ("text", "measured_at"),
    [
        ("1998-05-14 10:20", "1998-05-14T10:20+01:00"),
        ("1998-11-14T10:20:05", "1998-11-14T10:20:05+00:00"),
        ("1998-11-14 10:20:05.5", "1998-11-14T10:20:05.5+00:00"),
    ],
)
def test_a_local_time_gets_the_offset_of_its_zone_that_day_and_keeps_its_seconds(text: str, measured_at: str) -> None:
    assert read(text) == (measured_at, [], "")


def test_a_date_alone_is_a_reading_whose_time_is_not_known() -> None:
    assert read("1998-05-14") == ("1998-05-14", ["time-not-known"], "")


@pytest.mark.parametrize("placeholder", ["12:00:00Z", "12:00:00", "12:00"])
def test_a_placeholder_time_is_not_taken_for_a_time(placeholder: str) -> None:
    clock: dict[str, Any] = {"zone": "written", "unknown_times": frozenset({placeholder})}
    assert read("1970-07-29T12:00:00Z", **clock) == ("1970-07-29", ["time-not-known"], "")
    assert read("1970-07-29T18:00:00Z", **clock)[0] == "1970-07-29T18:00:00+00:00"


def test_a_false_zone_is_replaced_by_the_clock_it_really_was() -> None:
    found = read("2004-03-01T08:10:00Z", zone="-08:00", false_zone=True)
    assert found == ("2004-03-01T08:10:00-08:00", [], "")


def test_a_written_zone_beside_a_stated_one_is_not_decided_silently() -> None:
    measured_at, _, problem = read("2004-03-01T08:10:00Z", zone="-08:00")
    assert not measured_at
    assert "carries a zone" in problem


def test_a_cell_without_zone_is_a_problem_when_the_zone_is_to_be_written() -> None:
    assert "carries no zone" in read("2004-03-01 08:10", zone="written")[2]


def test_a_written_zone_that_is_none_is_a_problem() -> None:
    assert "no zone" in read("2004-03-01 08:10+99:99", zone="written")[2]
    assert read("2004-03-01 08:10-0800", zone="written")[0] == "2004-03-01T08:10-08:00"


def test_times_skipped_or_shown_twice_are_found() -> None:
    assert read("2026-03-29 01:30")[1] == ["time-skipped-or-twice"]
    assert read("2026-10-25 01:30")[1] == ["time-skipped-or-twice"]


def test_formats_are_tried_in_order_and_iso_dates_of_spreadsheets_still_count() -> None:
    clock: dict[str, Any] = {"formats": ("%d/%m/%Y %H:%M", "%d/%m/%Y")}
    assert read("14/05/1998 10:20", **clock)[0] == "1998-05-14T10:20+01:00"
    assert read("14/05/1998", **clock)[0] == "1998-05-14"
    assert read("1998-05-14T10:20:00", **clock)[0] == "1998-05-14T10:20:00+01:00"
    assert read("1998-05-14T00:00:00", "10:20:00", **clock)[0] == "1998-05-14T10:20:00+01:00"


@pytest.mark.parametrize("text", ["", "yesterday", "1998-02-30", "14/05/1998", "1998-05-14 25:00", "٢٠٢٦-٠٥-١٤"])
def test_what_is_no_time_is_a_problem_not_a_guess(text: str) -> None:
    measured_at, _, problem = read(text)
    assert (measured_at, bool(problem)) == ("", True)


def test_the_ends_of_the_calendar_do_not_crash() -> None:
    for zone in ("Asia/Tokyo", "America/Denver"):
        for text in ("0001-01-01 00:00", "9999-12-31 23:59"):
            measured_at, _, problem = read(text, zone=zone)
            assert measured_at.startswith(text[:10]) or problem
