"""Days and times as written, without a clock: checked, counted, turned back into text.

By hand and small: in a browser the engine starts half a second sooner without the standard library's datetime.
"""

from __future__ import annotations

_BEFORE_MONTH = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)


def day_number(text: str) -> int:
    """Days from 0001-01-01 (day 1) to the date at the start of `text`, by the Gregorian calendar.

    Parameters
    ----------
    text
        A date or time in ISO 8601; what follows the date is not looked at.

    Returns
    -------
    int
        Day number, from 1.

    Raises
    ------
    ValueError
        The text does not begin with a date such as 2026-05-14.

    Example
    -------
    >>> day_number("2026-05-14T10:20+01:00") - day_number("2025-05-14")
    365
    """
    digits = text[:4] + text[5:7] + text[8:10]
    if len(digits) != 8 or not _plain(digits) or text[4] != "-" or text[7] != "-":
        raise ValueError(f"{text!r} does not begin with a date such as 2026-05-14")
    year, month, day = int(digits[:4]), int(digits[4:6]), int(digits[6:])
    if not (year >= 1 and 1 <= month <= 12 and 1 <= day <= _days_in(year, month)):
        raise ValueError(f"{text[:10]} is not a day of the calendar")
    return _before_year(year) + _before(year, month) + day


def date_text(number: int) -> str:
    """The date of a day number.

    Parameters
    ----------
    number
        Days from 0001-01-01, which is day 1.

    Returns
    -------
    str
        Date in ISO 8601: "2026-05-14".

    Example
    -------
    >>> date_text(day_number("2024-02-28") + 2)
    '2024-03-01'
    """
    year = number * 400 // 146097 + 2  # never too early: the loop only goes back
    while _before_year(year) >= number:
        year -= 1
    left, month = number - _before_year(year), 12
    while _before(year, month) >= left:
        month -= 1
    return f"{_padded(year, 4)}-{_padded(month, 2)}-{_padded(left - _before(year, month), 2)}"


def check_time(text: str) -> None:
    """Check a time as entries carry it: a date, or a date with T, hours and minutes, perhaps seconds and an offset.

    Parameters
    ----------
    text
        The time as written; up to six digits of a second.

    Raises
    ------
    ValueError
        It is something else; the message says what.

    Example
    -------
    >>> check_time("2026-05-14T10:20:05.5+01:00")
    """
    day_number(text)
    rest = text[10:]
    if not rest:
        return
    clock, offset = _offset_apart(rest[1:])
    parts = clock.split(":")
    seconds, _, fraction = parts[2].partition(".") if len(parts) == 3 else ("00", "", "")
    good = rest[0] == "T" and len(parts) in (2, 3) and (fraction == "" or (_plain(fraction) and len(fraction) <= 6))
    if not good or not (_below(parts[0], 24) and _below(parts[1], 60) and _below(seconds, 60)):
        raise ValueError(f"{rest[1:]} is not a time of day such as 10:20")
    if offset and not (_below(offset[1:3], 24) and offset[3:4] == ":" and _below(offset[4:], 60)):
        raise ValueError(f"{offset} is not an offset such as +01:00")


def clock_text(text: str) -> str:
    """A time of day as two digits each.

    Parameters
    ----------
    text
        Hours and minutes as a person writes them: "9:40".

    Returns
    -------
    str
        "09:40".

    Raises
    ------
    ValueError
        It is no time of day.

    Example
    -------
    >>> clock_text("9:40")
    '09:40'
    """
    hours, _, minutes = text.strip().partition(":")
    hours = _padded(int(hours), 2) if _plain(hours) else hours
    if not (_below(hours, 24) and _below(minutes, 60)):
        raise ValueError(f"{text!r} is not a time of day such as 10:20")
    return f"{hours}:{minutes}"


def _offset_apart(clock: str) -> tuple[str, str]:
    if clock.endswith("Z"):
        return clock[:-1], ""
    for sign in "+-":
        if sign in clock:
            place = clock.index(sign)
            return clock[:place], clock[place:]
    return clock, ""


def _below(digits: str, limit: int) -> bool:
    return len(digits) == 2 and _plain(digits) and int(digits) < limit


def _plain(digits: str) -> bool:
    return digits != "" and digits.strip("0123456789") == ""


def _leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def _before_year(year: int) -> int:
    past = year - 1
    return past * 365 + past // 4 - past // 100 + past // 400


def _before(year: int, month: int) -> int:
    return _BEFORE_MONTH[month - 1] + (month > 2 and _leap(year))


def _days_in(year: int, month: int) -> int:
    return _BEFORE_MONTH[month] - _BEFORE_MONTH[month - 1] + (month == 2 and _leap(year))


def _padded(number: int, width: int) -> str:
    return str(number).rjust(width, "0")
