"""Times as written: bringing them to an offset, and putting them in order."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tapedown.values.forms import Problem
from tapedown.work.authorship import written_form
from tapedown.work.refusals import NotADate


@lru_cache(maxsize=64)
def zone(name: str) -> ZoneInfo:
    """The time zone of that name. Raises ValueError when the name is not known."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(f"{name!r} is not a time zone; write it like Europe/London or Etc/GMT+8") from None


def with_offset(text: str, zone_name: str, place: str = "when") -> tuple[str, list[Problem]]:
    """A time as written with the offset its zone had then; dates and times that have an offset stay as they are.

    A local time that the clocks skipped, or went through twice, is a problem: the person must say which.

    Example
    -------
    >>> with_offset("2026-05-14T10:20", "Europe/London")
    ('2026-05-14T10:20+01:00', [])
    >>> with_offset("2026-10-25T01:30", "Europe/London")[1][0].message
    '2026-10-25T01:30 happened twice in Europe/London'
    """
    if "T" not in text or text.endswith("Z") or "+" in text[10:] or "-" in text[10:]:
        return text, []
    local = datetime.fromisoformat(text).replace(tzinfo=zone(zone_name))
    offsets = {local.replace(fold=fold).utcoffset() for fold in (0, 1)}
    if len(offsets) > 1:
        skipped = local.astimezone(UTC).astimezone(local.tzinfo).replace(tzinfo=None) != local.replace(tzinfo=None)
        said = "was skipped by the clocks" if skipped else "happened twice"
        return text, [
            Problem(place, f"{text} {said} in {zone_name}", f"write the offset: {text}{_say(local.utcoffset())}")
        ]
    return text + _say(local.utcoffset()), []


def _say(offset: timedelta | None) -> str:
    minutes = round((offset or timedelta()).total_seconds() / 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def instant(measured_at: str, zone_name: str, *, end_of_day: bool = False) -> datetime:
    """The instant a written time stands for, to put facts and readings in order.

    A date alone is the start of that day, or its end: a reading of that day comes after a fact of that day.
    "" is before everything.
    """
    if not measured_at:
        return datetime.min.replace(tzinfo=UTC)
    if "T" in measured_at:
        found = datetime.fromisoformat(measured_at)
        return found if found.tzinfo else found.replace(tzinfo=zone(zone_name))
    at = time.max if end_of_day else time.min
    return datetime.combine(date.fromisoformat(measured_at), at, zone(zone_name))


def as_of_text(written: str, zone_name: str) -> str:
    """A date (its end, in the network's zone) or a time as entries are stamped.

    Raises
    ------
    NotADate

    Example
    -------
    >>> as_of_text("2026-05-14", "Europe/London")
    '2026-05-14T22:59:59.999999Z'
    """
    try:
        if "T" not in written.strip().replace(" ", "T"):
            day = datetime.fromisoformat(written.strip()).date()
            return written_form(datetime.combine(day, time.max, zone(zone_name)))
        text, problems = with_offset(written.strip().replace(" ", "T"), zone_name, "--as-of")
        moment = datetime.fromisoformat(text).astimezone(UTC)
    except (ValueError, OverflowError):
        raise NotADate(written, "") from None
    if problems:
        raise NotADate(written, f": {problems[0].message}; {problems[0].mend}")
    return written_form(moment)
