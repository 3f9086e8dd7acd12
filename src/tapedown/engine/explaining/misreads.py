"""One number read, heard or written wrongly: a foot mark, two digits, one digit, the point, the unit.

A misread rarely repeats: with several repeats it is one of them, or, with a small chance, every one alike.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

from tapedown.engine.explaining.case import Candidate, Case, Mended, Number, altered, mean
from tapedown.engine.uncertainty.digits import rounded
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.units import UNITS
from tapedown.values.written import Written

MARKS = {"ft": (1.0, 5.0, 10.0), "m": (0.1, 0.5, 1.0, 10.0), "cm": (10.0, 50.0, 100.0, 1000.0)}
"""Whole marks a tape is numbered or counted by; other units (gauges): 1, 5 and 10 of them."""
ALIKE = (("1", "7"), ("3", "8"), ("6", "9"))
"""Digits that are read for one another, either way."""
OTHER_UNIT = {"ft": "m", "m": "ft"}


class Way(NamedTuple):
    """How one number may have been meant.

    key   the same slip in another repeat has the same key
    by    what was meant, less what was written, in the unit it was written in
    how   in words
    text  digits as they were meant; "" when they follow from `by`
    """

    key: str
    by: float
    how: str
    text: str = ""


def whole_marks(case: Case) -> Iterator[Candidate]:
    """A whole foot (metre, psi) too much or too little.

    Parameters
    ----------
    case
        The case; of a known tape no mark finer than its graduation is proposed.

    Returns
    -------
    Iterator
        Candidates: each number of each repeat by each of `MARKS`, either way, but none below zero; then the same slip
        in every repeat, with the share `misread_repeats` to the power of the other repeats.

    Example
    -------
    >>> from tapedown.engine.context import ReadingContext
    >>> from tapedown.engine.explaining.case import case_of
    >>> from tapedown.values.readings import ElectricTape
    >>> from tapedown.values.wells import PointHeight
    >>> point = PointHeight("MP-1", Written("1.50", "ft"), "above", None, False, "notch", "")
    >>> read, expected = ElectricTape((Written("25.04", "ft"),)), Predictive(22.55 * 0.3048, 0.015, 5.0)
    >>> case = case_of("electric tape", read, ReadingContext(point=point), expected)
    >>> for candidate in list(whole_marks(case))[:2]:
    ...     print(candidate.told(), round(candidate.corrected_m[0] / 0.3048, 2))
    reading 25.04 ft: 1 ft too little: 26.04 ft was meant 24.54
    reading 25.04 ft: 1 ft too much: 24.04 ft was meant 22.54
    """
    graduation = _graduation(case)
    least_si = graduation.resolution_si if graduation else 0.0

    def ways(number: Number) -> list[Way]:
        written, unit = number.written, number.written.unit
        if graduation and graduation.quantity == written.quantity:
            unit = graduation.unit
        value = float(written.text)
        return [
            Way(f"{number.field} {key}", by, how)
            for key, by, how in _marks(unit, written.unit, least_si)
            if value + by >= 0
        ]

    return _misread(case, ways)


def digits_swapped(case: Case) -> Iterator[Candidate]:
    """Two neighbouring digits in the wrong order.

    Parameters
    ----------
    case
        The case.

    Returns
    -------
    Iterator
        Candidates: each pair of unlike neighbours in each number, the decimal point passed over; then the same places
        in every repeat.
    """

    def ways(number: Number) -> list[Way]:
        text = number.written.text
        digits = [place for place, letter in enumerate(text) if letter.isdigit()]
        return [
            _way(number, f"swap {len(text) - a}", "two digits swapped",
                 text[:a] + text[b] + text[a + 1 : b] + text[a] + text[b + 1 :])
            for a, b in zip(digits, digits[1:])  # noqa: RUF007
            if text[a] != text[b]
        ]  # fmt: skip

    return _misread(case, ways)


def digit_misread(case: Case) -> Iterator[Candidate]:
    """One digit taken for another that looks or sounds like it.

    Parameters
    ----------
    case
        The case.

    Returns
    -------
    Iterator
        Candidates: each digit of each number that is in `ALIKE`, turned into its twin; then the same place in every
        repeat.
    """
    other = {**dict(ALIKE), **{b: a for a, b in ALIKE}}

    def ways(number: Number) -> list[Way]:
        text = number.written.text
        return [
            _way(number, f"digit {len(text) - place}", f"a {letter} for a {other[letter]}",
                 text[:place] + other[letter] + text[place + 1 :])
            for place, letter in enumerate(text)
            if letter in other
        ]  # fmt: skip

    return _misread(case, ways)


def point_moved(case: Case) -> Iterator[Candidate]:
    """The decimal point one place off.

    Parameters
    ----------
    case
        The case.

    Returns
    -------
    Iterator
        Candidates: each number ten times smaller where two digits stand before its point, ten times larger where one
        stands behind it; then the same in every repeat.
    """

    def ways(number: Number) -> list[Way]:
        whole, _, part = number.written.text.partition(".")
        shifts = []
        if len(whole.lstrip("+-")) > 1:
            moved = f"{whole[:-1] or '0'}.{whole[-1]}{part}"
            shifts.append(_way(number, "left", "the point one place too far right", moved))
        if part:
            moved = f"{whole}{part[0]}".lstrip("0") or "0"
            moved = f"{moved}.{part[1:]}".rstrip(".")
            shifts.append(_way(number, "right", "the point one place too far left", moved))
        return shifts

    return _misread(case, ways)


def other_amount(case: Case) -> Iterator[Candidate]:
    """One repeat misread by any amount, the others being right.

    Parameters
    ----------
    case
        The case; a single reading has nothing beside it that would be right.

    Yields
    ------
    Candidate
        For each repeat, its depth replaced by the mean of the others; none where it is that mean already or lies
        further off than the setting `misread_most`.

    Notes
    -----
    Density: p(mean of the others) / (2 L) with L `misread_most`, in place of the usual density of that repeat about the
    mean.
    """
    repeats = len(case.depths_m)
    most_m = case.context.settings.si("misread_most")
    for place in range(repeats if repeats > 1 else 0):
        rest = mean([depth for other, depth in enumerate(case.depths_m) if other != place])
        depths = tuple(rest if other == place else depth for other, depth in enumerate(case.depths_m))
        off_m = case.depths_m[place] - rest
        if off_m == 0 or abs(off_m) > most_m:
            continue
        freely = -math.log(2 * most_m) - Predictive(0.0, case.spread_m, 2.0).log_density(0.0)
        words = f"repeat {place + 1} is {case.say(abs(off_m))} too {'deep' if off_m > 0 else 'shallow'}"
        yield Candidate(words, depths, repeats, case.expected.log_density(mean(depths)) + freely)


def other_unit(case: Case) -> Iterator[Candidate]:
    """Feet written for metres, or metres for feet: the whole set, for a tape has one unit.

    Parameters
    ----------
    case
        The case; a set with a number in neither unit is left alone.

    Yields
    ------
    Candidate
        One: every number with its digits as written, in the other unit.
    """
    meant_depths, changed, depths = [], case.read, list(case.depths_m)
    for repeat in case.numbers:
        for number in repeat:
            if number.written.unit not in OTHER_UNIT:
                return
            meant = number.written._replace(unit=OTHER_UNIT[number.written.unit])
            changed = altered(changed, number, meant)
            depths[number.repeat] += number.slope * (meant.si - number.written.si)
            meant_depths.append(meant)
    if meant_depths:
        unit = meant_depths[0].unit
        words = f"the figures are {'metres' if unit == 'm' else 'feet'}: {meant_depths[0]}"
        yield Candidate(words, tuple(depths), mend=lambda: Mended(changed, case.context))


@lru_cache(maxsize=64)
def _marks(unit: str, written_in: str, least_si: float) -> tuple[tuple[str, float, str], ...]:
    """Whole marks of a tape numbered in a unit, not finer than its graduation: key, amount as written, in words."""
    own = UNITS["length"][unit][0] / UNITS["length"][written_in][0] if unit != written_in else 1.0
    least = least_si / UNITS["length"][unit][0] if least_si else 0.0
    return tuple(
        (str(by), by * own, f"{mark:g} {unit} too {'little' if by > 0 else 'much'}")
        for mark in MARKS.get(unit, MARKS["ft"])
        if mark >= least
        for by in (mark, -mark)
    )


def meant_by(number: Number, way: Way) -> Written:
    """The number as it was meant, with its own digits."""
    if way.text:
        return number.written._replace(text=way.text)
    return plus(number.written, way.by)


def plus(written: Written, by: float) -> Written:
    """A number with so much more in its own unit, with its own digits, finer only where the amount is.

    Parameters
    ----------
    written
        The number as written.
    by
        What is added, in the unit of the number.

    Returns
    -------
    Written
        In the same unit.

    Example
    -------
    >>> str(plus(Written("84.30", "ft"), -1.0)), str(plus(Written("84", "ft"), 0.5))
    ('83.30 ft', '84.5 ft')
    """
    step = 1.0 if written.decimals == 0 else float(f"1e-{written.decimals}")
    return written._replace(text=rounded(float(written.text) + by, min(step, 0.1) if by % 1 else step))


def _way(number: Number, key: str, how: str, text: str) -> Way:
    return Way(f"{number.field} {key}", float(text) - float(number.written.text), how, text)


def _graduation(case: Case) -> Written | None:
    gear = case.context.gear.get(case.serial)
    return gear.graduation if gear else None


def _misread(case: Case, ways: Callable[[Number], list[Way]]) -> Iterator[Candidate]:
    """A slip in one repeat, by every way of it; and the same slip in every repeat."""
    of_repeats = [[(number, way) for number in repeat for way in ways(number)] for repeat in case.numbers]
    singles, repeats = sum(len(own) for own in of_repeats), len(case.numbers)
    alike = case.context.settings.si("misread_repeats") ** (repeats - 1)
    share = singles / (1 - alike) if repeats > 1 else singles
    for own in of_repeats:
        for slip in own:
            yield _slipped(case, (slip,), share)
    if repeats > 1:
        by_key = [{way.key: (number, way) for number, way in own} for own in of_repeats]
        keys = [key for key in by_key[0] if all(key in other for other in by_key)]
        for key in keys:
            yield _slipped(case, tuple(own[key] for own in by_key), len(keys) / alike)


def _slipped(case: Case, slips: tuple[tuple[Number, Way], ...], ways: float) -> Candidate:
    depths = list(case.depths_m)
    for number, way in slips:
        depths[number.repeat] += number.per_unit_m * way.by

    def words() -> str:
        number, way = slips[0]
        many = len(case.depths_m) > 1
        which = "" if not many else "every repeat, as " if len(slips) > 1 else f"repeat {number.repeat + 1}, "
        return f"{which}{number.words}: {way.how}: {meant_by(number, way)} was meant"

    def mend() -> Mended:
        read = case.read
        for number, way in slips:
            read = altered(read, number, meant_by(number, way))
        return Mended(read, case.context)

    return Candidate(words, tuple(depths), ways, mend=mend)
