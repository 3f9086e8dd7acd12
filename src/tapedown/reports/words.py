"""Values as words: numbers with their uncertainty, times, the state of a bottom. One wording for every face."""

from __future__ import annotations

import unicodedata
from datetime import datetime

from tapedown.engine.expected.next_reading import range_of
from tapedown.engine.uncertainty.digits import own_step, rounded, spread
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.engine.well.fill import Projection, WellCondition
from tapedown.values.results import MANY, Digits, OneSided, Reduction, Result
from tapedown.values.units import from_si

_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Unicode categories of characters that show nothing by themselves, or turn what follows about."""
_JOINS = {0x00AD, 0x200C, 0x200D}
"""Of these the ones that some scripts need inside a word."""


def visible(words: str) -> str:
    """Words in which nothing works unseen: control characters and changes of direction stand there as their code.

    Line ends and tabs become spaces, so that a line stays a line.

    Example
    -------
    >>> visible("MF-07" + chr(0x202E) + "gate"), visible("two" + chr(10) + "lines")
    ('MF-07[U+202E]gate', 'two lines')
    """
    if words.isascii() and words.isprintable():
        return words
    return "".join(_shown(character) for character in words)


def _shown(character: str) -> str:
    if character in "\n\r\t":
        return " "
    unseen = unicodedata.category(character) in _UNSEEN and ord(character) not in _JOINS
    return f"[U+{ord(character):04X}]" if unseen else character


def length_text(length_m: float, unit: str, step: float = 0.01) -> str:
    """A length in `unit`, rounded to a step: "82.10 ft".

    Example
    -------
    >>> length_text(25.024, "ft")
    '82.10 ft'
    """
    return f"{rounded(from_si(length_m, unit, 'length'), step)} {unit}"


def value_text(result: Result, digits: Digits) -> str:
    """A value with its uncertainty: "82.10 ft ± 0.05"."""
    step = own_step(result, digits)
    return f"{length_text(result.value_m, digits.unit, step)} ± {spread(result.expanded_m, digits.unit, step)}"


def headline(value: Reduction) -> str:
    """The value of a reduction in one line, a bound as a bound."""
    if value.main is None:
        return "no value"
    if value.use in {"deeper than", "no value"}:
        bound = length_text(value.main.value_m, value.digits.unit, value.digits.step)
        return f"deeper than {bound}" if value.use == "deeper than" else f"no value (tape reached {bound})"
    return value_text(value.main, value.digits)


def when_text(measured_at: str) -> str:
    """A written time for people: "14 May 2026 10:20 +0100"; "time not known" when there is a date alone.

    Example
    -------
    >>> when_text("2026-05-14T10:20+01:00"), when_text("2026-05-14"), when_text("")
    ('14 May 2026 10:20 +0100', '14 May 2026, time not known', 'undated')
    """
    if not measured_at:
        return "undated"
    moment = datetime.fromisoformat(measured_at)
    day = f"{moment.day} {moment:%b %Y}"
    return f"{day} {moment:%H:%M} {moment:%z}".rstrip() if "T" in measured_at else f"{day}, time not known"


def day_text(measured_at: str) -> str:
    """A written time for people, when a day alone says enough: "14 May 2026"."""
    return when_text(measured_at).removesuffix(", time not known")


def month_text(day: str) -> str:
    """A day far ahead, for people: "Aug 2026"."""
    return f"{datetime.fromisoformat(day):%b %Y}"


def dof_text(dof: float) -> str:
    """Degrees of freedom: a number, or "many"."""
    return "many" if dof > min(MANY, 1000) else f"{dof:.0f}"


def one_sided_text(effect: OneSided, unit: str) -> str:
    """How far the truth may lie to one side: "up to 0.013 ft less"."""
    less = f"up to {spread(-effect.low_m, unit)} {unit} less" if effect.low_m else ""
    more = f"up to {spread(effect.high_m, unit)} {unit} more" if effect.high_m else ""
    return " or ".join(part for part in (less, more) if part)


def expected_text(predictive: Predictive, unit: str) -> str:
    """Where a reading is expected, and what that rests on: "10.09 ft to 11.19 ft in 19 readings of 20: read on ..."."""
    between = range_of(predictive)
    low, high = length_text(between.low_m, unit), length_text(between.high_m, unit)
    return f"{low} to {high} in 19 readings of 20: {between.how}"


def bottom_words(condition: WellCondition, unit: str) -> list[str]:
    """State of a well's bottom, a sentence a line."""
    lines = [_fill_words(condition, unit)]
    for buried in condition.screens:
        lines.append(f"screen {buried.screen.top} to {buried.screen.bottom}: {buried.share:.0%} buried")
    if condition.rate is not None:
        size = spread(condition.rate.expanded_m, unit, 0.01)
        lines.append(f"rate: {rate_text(condition.rate, unit)} {unit} a year ± {size} (+ is filling)")
    if condition.projection is not None:
        p = condition.projection
        lines.append(f"{p.share:.0%} of the lowest screen buried {projection_text(p)}")
    return lines


def rate_text(rate: Result, unit: str) -> str:
    """How fast the bottom comes up, a year, signed: "+0.620"."""
    return f"{from_si(rate.value_m, unit, 'length'):+.3f}"


def fill_text(fill: Result, unit: str) -> str:
    """How far the bottom has come up: "3.34 ft ± 0.13"."""
    return f"{length_text(fill.value_m, unit)} ± {spread(fill.expanded_m, unit, 0.01)}"


def projection_text(p: Projection) -> str:
    """About when, and between when and when: "about Aug 2026 (from Jul 2026 to Sep 2026)"."""
    latest = month_text(p.latest) if p.latest else "beyond foresight"
    return f"about {month_text(p.on)} (from {month_text(p.earliest)} to {latest})"


def _fill_words(condition: WellCondition, unit: str) -> str:
    fill = condition.fill
    if fill is None:
        return f"one sounding, {condition.since}, and no depth at completion: fill cannot be said yet"
    verdict = "larger than its uncertainty" if condition.real else "within its uncertainty"
    return f"fill since {condition.since}: {fill_text(fill, unit)}, {verdict}"
