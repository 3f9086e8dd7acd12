"""Days and times by hand agree with the standard library's calendar."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.values.days import check_time, date_text, day_number


@given(st.dates())
def test_every_day_of_the_calendar_counts_and_comes_back(day: date) -> None:
    assert day_number(day.isoformat()) == day.toordinal()
    assert date_text(day.toordinal()) == day.isoformat()


@given(
    st.datetimes(),
    st.sampled_from(["", "Z", "+01:00", "-05:30"]),
    st.sampled_from(["minutes", "seconds", "microseconds"]),
)
def test_every_time_the_standard_library_writes_is_taken(moment: datetime, offset: str, detail: str) -> None:
    check_time(moment.isoformat(timespec=detail) + offset)


@given(st.text(alphabet="0123456789-:T+Z. ", max_size=26))
def test_what_is_taken_is_a_time_to_the_standard_library_too(text: str) -> None:
    try:
        check_time(text)
    except ValueError:
        return
    shown = text.replace("Z", "+00:00")
    head, dot, rest = shown.partition(".")  # Python 3.11 reads three or six digits of a second only
    if dot:
        digits = len(rest) - len(rest.lstrip("0123456789"))
        shown = head + "." + rest[:digits].ljust(6, "0") + rest[digits:]
    datetime.fromisoformat(shown)


@pytest.mark.parametrize(
    "text",
    ["", "20260514", "2026-W01-1", "2026-02-29", "2026-13-01", "2026-05-14T", "2026-05-14T10", "2026-05-14T24:00",
     "2026-05-14T10:60", "2026-05-14T10:20+1", "2026-05-14 10:20", "２０２６-05-14", "2026-05-14T10:20:05.1234567"],
)  # fmt: skip
def test_what_is_no_day_or_time_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"is not|does not"):
        check_time(text)


def test_the_turn_of_every_year_comes_back() -> None:
    for year in range(1, 10_000):
        for day in (date(year, 1, 1), date(year, 12, 31)):
            assert date_text(day.toordinal()) == day.isoformat()
