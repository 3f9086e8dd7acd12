"""Dates and times of a table as entries carry them: ISO 8601 with an offset, or the date alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tapedown.engine.checks.named import TIME_NOT_KNOWN, finding
from tapedown.exchange.tables.mapping import ClockColumns
from tapedown.values.results import Finding
from tapedown.values.times import EARLIEST, LATEST, is_measured_at, offset_text, offsets

_ISO = re.compile(
    r"(\d{4}-\d{2}-\d{2})(?:[T ]\s*(\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?)\s*(Z|[+-]\d{2}:?\d{2})?)?", re.ASCII
)
_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})", re.ASCII)
_NO_TIME = (TIME_NOT_KNOWN,)


class When(NamedTuple):
    """A time as entries carry it, and what was noticed about it; `problem` and `mend` when there is none."""

    measured_at: str
    findings: tuple[Finding, ...] = ()
    problem: str = ""
    mend: str = ""


def zone_problem(name: str) -> str:
    """What is wrong with the zone a mapping names, or "".

    Example
    -------
    >>> zone_problem("Europe/London"), zone_problem("-08:00"), zone_problem("PST8")
    ('', '', "'PST8' is not a zone")
    """
    if not name:
        return "the clock's zone is not said"
    try:
        _zone(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return f"{name!r} is not a zone"
    return ""


def clock_reader(clock: ClockColumns) -> Callable[[str, str], When]:
    """A function from the cells (date, time) to a When. The time cell is "" when the date cell holds both.

    Example
    -------
    >>> read = clock_reader(ClockColumns("date", zone="Europe/London", unknown_times=frozenset({"00:00"})))
    >>> read("1987-06-03 10:20", "").measured_at, read("1987-06-03 00:00", "").measured_at
    ('1987-06-03T10:20+01:00', '1987-06-03')
    """
    zone = _zone(clock.zone)
    offset = offset_text(zone.utcoffset(None)) if isinstance(zone, timezone) else ""

    def read(date: str, time: str) -> When:
        text = f"{date.removesuffix('T00:00:00')} {time}" if time else date
        match = _ISO.fullmatch(_by_format(text, clock.formats) if clock.formats else text)
        if match is None:
            return _not_a_time(text, clock)
        day, of_day, written = match.groups()
        try:
            moment = datetime.fromisoformat(f"{day}T{of_day or '00:00'}")
        except ValueError as error:
            return When("", problem=f"{text!r} is not a time: {error}", mend="correct the date or the time")
        if not is_measured_at(day):
            return When("", problem=f"the date {day} lies before {EARLIEST} or after {LATEST}", mend="correct the year")
        if of_day is None or not clock.unknown_times.isdisjoint(_spellings(of_day, written or "")):
            return When(day, _NO_TIME)
        if zone is None:
            return _with_written_zone(day, of_day, written)
        if written and not clock.false_zone:
            return When(
                "",
                problem=f"{text!r} carries a zone, the mapping says {clock.zone}",
                mend='say time.zone = "written" if the cells are right, time.false_zone = true if they are wrong',
            )
        return When(f"{day}T{of_day}{offset}") if offset else _local(day, of_day, moment, zone)

    return read


def _zone(name: str) -> tzinfo | None:
    if name == "written":
        return None
    match = _OFFSET.fullmatch(name)
    if match is None:
        return UTC if name == "UTC" else ZoneInfo(name)
    minutes = int(match[2]) * 60 + int(match[3])
    return timezone(timedelta(minutes=-minutes if match[1] == "-" else minutes))


def _spellings(of_day: str, written: str) -> tuple[str, ...]:
    """A time of day as a mapping may name it: with its zone or without, whole minutes with seconds or without."""
    minutes = of_day.removesuffix(":00") if len(of_day) == 8 else of_day
    return of_day, minutes, of_day + written, minutes + written


def _by_format(text: str, formats: tuple[str, ...]) -> str:
    """The text in ISO 8601 by the first of the formats that fits; as it is when none does."""
    for form in formats:
        try:
            moment = datetime.strptime(text, form)
        except ValueError:
            continue
        if not any(directive in form for directive in ("%H", "%I", "%c", "%X")):
            return moment.strftime("%Y-%m-%d").rjust(10, "0")
        timespec = "seconds" if "%S" in form or "%c" in form or "%X" in form else "minutes"
        plain = moment.replace(tzinfo=None).isoformat(timespec="microseconds" if moment.microsecond else timespec)
        return plain + (offset_text(moment.utcoffset()) if moment.tzinfo else "")
    return text


def _not_a_time(text: str, clock: ClockColumns) -> When:
    if not text.strip():
        return When("", problem="the date is blank", mend="write the date; a reading without one cannot be used")
    how = " or ".join(clock.formats) or "2026-05-14 10:20"
    return When("", problem=f"{text!r} is not a time written like {how}", mend="correct it, or name its time.formats")


def _with_written_zone(day: str, of_day: str, written: str | None) -> When:
    if not written:
        return When("", problem=f"{of_day} carries no zone", mend="say in time.zone which clock it was")
    text = f"{day}T{of_day}{_plain(written)}"
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return When("", problem=f"{written!r} is no zone", mend="correct it: an offset lies within a day")
    return When(text)


def _plain(written: str) -> str:
    return "+00:00" if written == "Z" else f"{written[:3]}:{written[-2:]}"


def _local(day: str, of_day: str, moment: datetime, zone: tzinfo) -> When:
    text = f"{day}T{of_day}"
    try:
        first, second = offsets(moment, zone)
    except OverflowError:
        return When("", problem=f"{text} lies outside the calendar", mend="correct the year")
    if first == second:
        return When(text + offset_text(first))
    doubt = finding(
        "time-skipped-or-twice",
        f"{text} was skipped or shown twice by the clocks of {zone} that day; {offset_text(first)} is taken",
        "write the offset in the table if it was the other one",
    )
    return When(text + offset_text(first), (doubt,))
