"""Columns of times as text -> times in UTC, as a lazy expression.

A zone that changes its clocks twice a year sets two traps. Times the clocks skipped in spring come out as null: nobody
can have read them, so the logger's clock was on another zone. Times shown twice in autumn are told apart by their
order in the file: once the clock has gone back, a time at or before one already passed is the second showing.
"""

from __future__ import annotations

import re

import polars as pl

from tapedown.values.series.logger_files import SeriesClock

_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})", re.ASCII)


def offset_minutes(zone: str) -> int | None:
    """Minutes that a fixed zone is ahead of UTC, None for a zone with a name.

    Example
    -------
    >>> offset_minutes("+01:00"), offset_minutes("UTC"), offset_minutes("Europe/London")
    (60, 0, None)
    """
    if zone == "UTC":
        return 0
    match = _OFFSET.fullmatch(zone)
    if match is None:
        return None
    minutes = int(match[2]) * 60 + int(match[3])
    return -minutes if match[1] == "-" else minutes


def text_of(clock: SeriesClock, *, clean: bool = False) -> pl.Expr:
    """The text a time is read from: the date column, or date and time with a space between; blanks around it stripped
    unless the cells are known to be clean.
    """
    date, time = pl.col(clock.date), pl.col(clock.time or clock.date)
    if not clean:
        date, time = date.str.strip_chars(), time.str.strip_chars()
    return date + pl.lit(" ") + time if clock.time else date


def time_of(clock: SeriesClock, *, clean: bool = False) -> pl.Expr:
    """UTC time of a line, Datetime in microseconds without a zone; null where it cannot be read."""
    shown = shown_time(clock, clean=clean)
    if clock.zone == "written":
        return shown
    minutes = offset_minutes(clock.zone)
    if minutes is not None:
        return shown.dt.offset_by(f"{-minutes}m") if minutes else shown
    second = shown <= shown.cum_max().shift(1)
    return pl.when(second).then(_utc(shown, clock.zone, "latest")).otherwise(_utc(shown, clock.zone, "earliest"))


def shown_time(clock: SeriesClock, *, clean: bool = False) -> pl.Expr:
    """The time a line shows, before any zone is applied."""
    text = text_of(clock, clean=clean)
    first, *further = (_parsed(text, form) for form in clock.formats)
    return pl.coalesce(first, *further) if further else first


def _parsed(text: pl.Expr, form: str) -> pl.Expr:
    read = text.str.to_datetime(form, strict=False, time_unit="us", cache=False)  # hardly any time stands there twice
    return read.dt.replace_time_zone(None) if "%z" in form else read


def _utc(shown: pl.Expr, zone: str, ambiguous: str) -> pl.Expr:
    placed = shown.dt.replace_time_zone(zone, ambiguous=ambiguous, non_existent="null")  # type: ignore[arg-type]
    return placed.dt.convert_time_zone("UTC").dt.replace_time_zone(None)
