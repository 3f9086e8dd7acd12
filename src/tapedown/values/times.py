"""Times of day with their zones: read, brought to an offset, put in order, written. Days alone are in `days`."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tapedown.values.days import check_time
from tapedown.values.forms import Problem

EARLIEST, LATEST = "1800", "2199"
"""First and last year in which something can have been measured; ours."""


@lru_cache(maxsize=64)
def zone(name: str) -> ZoneInfo:
    """The time zone of that name.

    Parameters
    ----------
    name
        IANA name.

    Returns
    -------
    ZoneInfo

    Raises
    ------
    ValueError
        The name is not known.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(f"{name!r} is not a time zone; write it like Europe/London or Etc/GMT+8") from None


def is_measured_at(text: str) -> bool:
    """Whether something can have been measured at a written time.

    Parameters
    ----------
    text
        A date, or a date with a time of day and perhaps an offset, ISO 8601.

    Returns
    -------
    bool
        False also for a day that no calendar has, and for years before `EARLIEST` or after `LATEST`.

    Example
    -------
    >>> [is_measured_at(text) for text in ("2026-02-28T10:20-05:00", "2026-02-30", "1066-10-14")]
    [True, False, False]
    """
    try:
        check_time(text)
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return EARLIEST <= text[:4] <= LATEST


def offset_text(offset: timedelta | None) -> str:
    """An offset from UTC, to the minute.

    Parameters
    ----------
    offset
        Positive east of Greenwich; None is none.

    Returns
    -------
    str

    Example
    -------
    >>> offset_text(timedelta(hours=-3, minutes=-30))
    '-03:30'
    """
    minutes = round((offset or timedelta()).total_seconds() / 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def offsets(local: datetime, there: tzinfo) -> tuple[timedelta | None, timedelta | None]:
    """The offsets a clock without a zone may have shown there: two different ones where the clocks were changed."""
    first, second = (local.replace(tzinfo=there, fold=fold).utcoffset() for fold in (0, 1))
    return first, second


def with_offset(text: str, zone_name: str, place: str = "when") -> tuple[str, list[Problem]]:
    """A time as written with the offset its zone had then; dates and times that have an offset stay as they are.

    A local time that the clocks skipped, or went through twice, is a problem: the person must say which.

    Parameters
    ----------
    text
        ISO 8601.
    zone_name
        IANA name of the zone of a time without offset.
    place
        Where the time was written, for the problem.

    Returns
    -------
    tuple[str, list[Problem]]
        The time, and what is wrong with it.

    Example
    -------
    >>> with_offset("2026-05-14T10:20", "Europe/London")
    ('2026-05-14T10:20+01:00', [])
    >>> with_offset("2026-10-25T01:30", "Europe/London")[1][0].message
    '2026-10-25T01:30 happened twice in Europe/London'
    """
    if "T" not in text or text.endswith("Z") or "+" in text[10:] or "-" in text[10:]:
        return text, []
    local, there = datetime.fromisoformat(text), zone(zone_name)
    first, second = offsets(local, there)
    if first == second:
        return text + offset_text(first), []
    back = local.replace(tzinfo=there).astimezone(UTC).astimezone(there).replace(tzinfo=None)
    what = "happened twice" if back == local else "was skipped by the clocks"
    return text, [Problem(place, f"{text} {what} in {zone_name}", f"write the offset: {text}{offset_text(first)}")]


def instant(measured_at: str, zone_name: str, *, end_of_day: bool = False) -> datetime:
    """The instant a written time stands for, to put facts and readings in order.

    Parameters
    ----------
    measured_at
        ISO 8601. A date alone is the start of that day; "" is before everything.
    zone_name
        IANA name of the zone of a date, or of a time without offset.
    end_of_day
        A date alone is the end of that day: a reading of a day comes after a fact of that day.

    Returns
    -------
    datetime
        With its zone.

    Example
    -------
    >>> instant("2026-05-14", "Europe/London") < instant("2026-05-14T00:30+01:00", "Europe/London")
    True
    """
    if not measured_at:
        return datetime.min.replace(tzinfo=UTC)
    if "T" in measured_at:
        moment = datetime.fromisoformat(measured_at)
        return moment if moment.tzinfo else moment.replace(tzinfo=zone(zone_name))
    at = time.max if end_of_day else time.min
    return datetime.combine(date.fromisoformat(measured_at), at, zone(zone_name))


def in_utc(text: str | None) -> datetime | None:
    """A written time in UTC; None for none. A time without offset is taken as this machine's."""
    return datetime.fromisoformat(text).astimezone(UTC) if text else None


def seconds(text: str) -> float:
    """Seconds since 1970 of a moment.

    Parameters
    ----------
    text
        ISO 8601 with its offset.

    Returns
    -------
    float
        Seconds, of UTC.

    Raises
    ------
    ValueError
        The text has no offset, so that it is no moment.

    Example
    -------
    >>> seconds("1970-01-01T01:00+01:00")
    0.0
    """
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"{text!r} does not say its offset")
    return moment.timestamp()


def written_form(moment: datetime) -> str:
    """A time as entries carry it.

    Parameters
    ----------
    moment
        With its zone.

    Returns
    -------
    str
        UTC, microseconds, Z: texts of this form sort as the moments do.

    Example
    -------
    >>> written_form(datetime(2026, 5, 14, 9, 20, tzinfo=UTC))
    '2026-05-14T09:20:00.000000Z'
    """
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
