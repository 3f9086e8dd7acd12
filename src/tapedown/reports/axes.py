"""Axes: where ticks stand and what they say, and how numbers become places on paper."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import NamedTuple


class Scale(NamedTuple):
    """Numbers from `low` to `high` laid out between two places on paper."""

    low: float
    high: float
    at_low: float
    at_high: float

    def at(self, value: float) -> float:
        """The place of a value.

        Example
        -------
        >>> Scale(0.0, 10.0, 100.0, 200.0).at(2.5)
        125.0
        """
        return self.at_low + (value - self.low) / (self.high - self.low) * (self.at_high - self.at_low)

    @property
    def length(self) -> float:
        """Length on paper."""
        return abs(self.at_high - self.at_low)


def nice_step(span: float, most: int) -> float:
    """The smallest step of 1, 2 or 5 times a power of ten that cuts `span` into no more than `most` parts.

    Example
    -------
    >>> nice_step(83.0, 9), nice_step(0.7, 5)
    (10.0, 0.2)
    """
    rough = span / most
    decade = 10.0 ** math.floor(math.log10(rough))
    return next(decade * m for m in (1.0, 2.0, 5.0, 10.0) if decade * m >= rough * (1 - 1e-9))


def ticks(low: float, high: float, most: int) -> list[tuple[float, str]]:
    """Ticks at round numbers with their labels.

    Example
    -------
    >>> ticks(-3.0, 22.0, 4)
    [(0.0, '0'), (10.0, '10'), (20.0, '20')]
    >>> [label for _, label in ticks(-0.12, 0.03, 5)]
    ['-0.10', '-0.05', '0.00']
    """
    step = nice_step(high - low, most)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [(i * step, f"{i * step + 0.0:.{decimals}f}") for i in range(first, last + 1)]


def day_of(day: date) -> float:
    """A date as the number a time axis counts in: days."""
    return float(day.toordinal())


def time_ticks(low_d: float, high_d: float, most: int) -> list[tuple[float, str]]:
    """Ticks at the start of years, or of months or days where the span is short.

    Example
    -------
    >>> [label for _, label in time_ticks(day_of(date(2020, 2, 11)), day_of(date(2025, 9, 4)), 8)]
    ['2021', '2022', '2023', '2024', '2025']
    """
    years = (high_d - low_d) / 365.25
    if years >= 2.5:
        step = max(1, round(nice_step(years, most)))
        first, last = date.fromordinal(math.floor(low_d)).year, date.fromordinal(math.floor(high_d)).year
        days = [date(year, 1, 1) for year in range(first - first % step, last + 1, step) if year > 0]
        labelled = [(day_of(day), str(day.year)) for day in days]
    elif years * 12 >= 2.5:
        labelled = _months(low_d, high_d, max(1, math.ceil(years * 12 / most)))
    else:
        step = max(1, math.ceil((high_d - low_d) / most))
        start = date.fromordinal(math.ceil(low_d))
        days = [start + timedelta(days=n) for n in range(0, math.ceil(high_d - low_d) + 1, step)]
        labelled = [(day_of(day), f"{day.day} {day:%b %Y}") for day in days]
    return [(at, label) for at, label in labelled if low_d <= at <= high_d]


def _months(low_d: float, high_d: float, step: int) -> list[tuple[float, str]]:
    first = date.fromordinal(math.floor(low_d))
    months = range(first.year * 12 + first.month - 1, first.year * 12 + first.month + 40, step)
    days = [date(month // 12, month % 12 + 1, 1) for month in months]
    return [(day_of(day), f"{day:%b %Y}") for day in days if day_of(day) <= high_d]
