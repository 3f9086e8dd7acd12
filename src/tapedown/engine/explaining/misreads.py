"""One number read, heard or written wrongly: a foot mark, two digits, one digit, the point, the unit.

A misread rarely repeats: with several repeats it is one of them, or, with a small chance, every one alike.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from tapedown.engine.digits import rounded
from tapedown.engine.explaining.case import Candidate, Case, Mended, Number, altered, mean
from tapedown.engine.predictive import Predictive
from tapedown.values.written import Written

MARKS = {"ft": (1.0, 5.0, 10.0), "m": (0.1, 0.5, 1.0, 10.0), "cm": (10.0, 50.0, 100.0, 1000.0)}
"""Whole marks a tape is numbered or counted by; other units (gauges): 1, 5 and 10 of them."""
ALIKE = (("1", "7"), ("3", "8"), ("6", "9"))
"""Digits that are read for one another, either way."""
OTHER_UNIT = {"ft": "m", "m": "ft"}


class Way(NamedTuple):
    """How one number may have been meant. key: the same slip in another repeat has the same key."""

    key: str
    words: str
    meant: Written


def whole_marks(case: Case) -> Iterator[Candidate]:
    """A whole foot (metre, psi) too much or too little."""
    graduation = _graduation(case)

    def ways(number: Number) -> Iterator[Way]:
        unit = graduation.unit if graduation and graduation.quantity == number.written.quantity else number.written.unit
        for mark in MARKS.get(unit, MARKS["ft"]):
            if graduation and Written(f"{mark:g}", unit).si < graduation.resolution_si:
                continue
            for sign in (1, -1):
                meant = plus(number.written, sign * mark, unit)
                if meant is not None:
                    size = f"{mark:g} {unit} too {'little' if sign > 0 else 'much'}"
                    yield Way(f"{number.field} {sign * mark:g}", f"{size}: {meant} was meant", meant)

    return _misread(case, ways)


def digits_swapped(case: Case) -> Iterator[Candidate]:
    """Two neighbouring digits in the wrong order."""

    def ways(number: Number) -> Iterator[Way]:
        text = number.written.text
        digits = [place for place, letter in enumerate(text) if letter.isdigit()]
        for a, b in zip(digits, digits[1:]):  # noqa: RUF007
            if text[a] != text[b]:
                meant = text[:a] + text[b] + text[a + 1 : b] + text[a] + text[b + 1 :]
                yield _way(number, f"swap {len(text) - a}", "two digits swapped", meant)

    return _misread(case, ways)


def digit_misread(case: Case) -> Iterator[Candidate]:
    """One digit taken for another that looks or sounds like it."""
    other = {**dict(ALIKE), **{b: a for a, b in ALIKE}}

    def ways(number: Number) -> Iterator[Way]:
        text = number.written.text
        for place, letter in enumerate(text):
            if letter in other:
                meant = text[:place] + other[letter] + text[place + 1 :]
                yield _way(number, f"digit {len(text) - place}", f"a {letter} for a {other[letter]}", meant)

    return _misread(case, ways)


def point_moved(case: Case) -> Iterator[Candidate]:
    """The decimal point one place off."""

    def ways(number: Number) -> Iterator[Way]:
        whole, _, part = number.written.text.partition(".")
        left = whole[:-1] or "0"
        if len(whole.lstrip("+-")) > 1:
            yield _way(number, "left", "the point one place too far right", f"{left}.{whole[-1]}{part}")
        if part:
            moved = f"{whole}{part[0]}".lstrip("0") or "0"
            yield _way(number, "right", "the point one place too far left", f"{moved}.{part[1:]}".rstrip("."))

    return _misread(case, ways)


def other_amount(case: Case) -> Iterator[Candidate]:
    """One repeat misread by any amount, the others being right."""
    repeats = len(case.depths_m)
    most_m = case.scene.settings.si("misread_most")
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
    """Feet written for metres, or metres for feet: the whole set, for a tape has one unit."""
    found, changed, depths = [], case.read, list(case.depths_m)
    for repeat in case.numbers:
        for number in repeat:
            if number.written.unit not in OTHER_UNIT:
                return
            meant = number.written._replace(unit=OTHER_UNIT[number.written.unit])
            changed = altered(changed, number, meant)
            depths[number.repeat] += number.slope * (meant.si - number.written.si)
            found.append(meant)
    if found:
        unit = found[0].unit
        words = f"the figures are {'metres' if unit == 'm' else 'feet'}: {found[0]}"
        yield Candidate(words, tuple(depths), mend=lambda: Mended(changed, case.scene))


def _way(number: Number, key: str, words: str, meant: str) -> Way:
    new = number.written._replace(text=meant)
    return Way(f"{number.field} {key}", f"{words}: {new} was meant", new)


def plus(number: Written, marks: float, unit: str) -> Written | None:
    """The number with so many marks more, with its own digits; None below zero."""
    own = marks if unit == number.unit else marks * Written("1", unit).si / Written("1", number.unit, "length").si
    value = float(number.text) + own
    if value < 0:
        return None
    step = 1.0 if number.decimals == 0 else float(f"1e-{number.decimals}")
    return number._replace(text=rounded(value, min(step, 0.1) if marks % 1 else step))


def _graduation(case: Case) -> Written | None:
    gear = case.scene.gear.get(case.serial)
    return gear.graduation if gear else None


def _misread(case: Case, ways: Callable[[Number], Iterator[Way]]) -> Iterator[Candidate]:
    """A slip in one repeat, by every way of it; and the same slip in every repeat."""
    found = [[(number, list(ways(number))) for number in repeat] for repeat in case.numbers]
    singles = sum(len(own) for repeat in found for _, own in repeat)
    repeats = len(case.numbers)
    alike = case.scene.settings.si("misread_repeats") ** (repeats - 1)
    for repeat in found:
        for number, own in repeat:
            for way in own:
                yield _one(case, number, way, singles / (1 - alike) if repeats > 1 else singles)
    if repeats > 1:
        yield from _every(case, [[(n, way) for n, own in repeat for way in own] for repeat in found], alike)


def _one(case: Case, number: Number, way: Way, ways: float) -> Candidate:
    depths = list(case.depths_m)
    depths[number.repeat] += number.slope * (way.meant.si - number.written.si)
    which = f"repeat {number.repeat + 1}, " if len(depths) > 1 else ""
    words = f"{which}{number.words}: {way.words}"
    return Candidate(words, tuple(depths), ways, mend=lambda: Mended(altered(case.read, number, way.meant), case.scene))


def _every(case: Case, found: list[list[tuple[Number, Way]]], alike: float) -> Iterator[Candidate]:
    by_key = [{way.key: (number, way) for number, way in repeat} for repeat in found]
    keys = [key for key in by_key[0] if all(key in other for other in by_key)]
    for key in keys:
        slips = [repeat[key] for repeat in by_key]
        depths = [d + n.slope * (w.meant.si - n.written.si) for d, (n, w) in zip(case.depths_m, slips)]
        number, way = slips[0]
        words = f"every repeat, as {number.words}: {way.words}"
        yield Candidate(words, tuple(depths), len(keys) / alike, mend=_mend_every(case, slips))


def _mend_every(case: Case, slips: list[tuple[Number, Way]]) -> Callable[[], Mended]:
    def mend() -> Mended:
        read = case.read
        for number, way in slips:
            read = altered(read, number, way.meant)
        return Mended(read, case.scene)

    return mend
