"""A reading set to be explained, with what the well was expected to show, and what an explanation says of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from tapedown.engine.checks.at_the_well import DISTURBED, NOT_NOTED, RECOVERING, STATIC
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.registry import reduce_readings
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.readings import ReadingSet
from tapedown.values.results import BELOW_LAND, Reduction
from tapedown.values.sums import added
from tapedown.values.units import UNITS
from tapedown.values.wells import PointHeight
from tapedown.values.written import Written

EXPLAINED = (STATIC, NOT_NOTED, RECOVERING, DISTURBED, TOTAL_DEPTH)
"""Uses of a value that what is expected of the well speaks about."""
_RISING = {"standpipe": -1.0, "weighted tape": 1.0, "electric tape": 1.0}
_OWN_RULE = {"air line": "agree_gauge", "flowing gauge": "agree_gauge", "standpipe": "agree_standpipe"}
_PAIR_95 = 1.96 * math.sqrt(2)  # see engine.repeats.agreement
_LISTS = ("readings", "readings_as_water")


class OtherWell(NamedTuple):
    """Another well one might have stood at: its code, what it was expected to show, its measuring point's height, m.

    nearness  how easily it is taken for this one, beside the others
    """

    code: str
    expected: Predictive
    height_m: float
    nearness: float = 1.0


class Around(NamedTuple):
    """What is known beside the reading's own context.

    points  other heights the measuring point had or has
    others  other wells nearby or on the round
    bottom  what a sounding of this well was expected to show, None when not known
    """

    points: tuple[PointHeight, ...] = ()
    others: tuple[OtherWell, ...] = ()
    bottom: Predictive | None = None


ALONE = Around()
"""Nothing is known beside the context."""


class Number(NamedTuple):
    """One number written for one repeat.

    slope       m of depth below land surface for one SI unit more of it
    per_unit_m  the same for one more in the unit it is written in
    """

    repeat: int
    field: str
    written: Written
    slope: float
    per_unit_m: float

    @property
    def words(self) -> str:
        """As it is spoken of: "hold 84.30 ft"."""
        return f"{self.field or 'reading'} {self.written}"


class Case(NamedTuple):
    """A reading set against its well.

    value     the reduction as written
    depth_m   depth below land surface as written, m
    depths_m  the same of each repeat alone, m, shape (n,)
    numbers   what was written, by repeat
    """

    method: str
    read: ReadingSet
    context: ReadingContext
    expected: Predictive
    around: Around
    value: Reduction
    depth_m: float
    depths_m: tuple[float, ...]
    numbers: tuple[tuple[Number, ...], ...]

    @property
    def sounding(self) -> bool:
        """Whether the bottom was read, not the water."""
        return self.value.use == TOTAL_DEPTH

    @property
    def spread_m(self) -> float:
        """Standard deviation of a repeat that the network's rule lets expect, m."""
        settings, own = self.context.settings, _OWN_RULE.get(self.method)
        return (settings.si(own) if own else tolerance_m(self.depth_m, settings)) / _PAIR_95

    @property
    def serial(self) -> str:
        """Serial number of the tape that was read, "" when none was noted."""
        return str(getattr(self.read, "tape", ""))

    def say(self, length_m: float) -> str:
        """A length in the network's unit."""
        return self.context.say(length_m)


class Mended(NamedTuple):
    """A set, and the facts around it, as they would be without the blunder; worked out only for what is shown."""

    read: ReadingSet
    context: ReadingContext


class Candidate(NamedTuple):
    """One way in which the reading may have come about.

    words        what would have happened, one clause with the numbers, or what makes it: most are never asked
    corrected_m  depth below land surface of each repeat without the blunder, m, shape (n,); () when this well was not
                 read at all
    ways         how many like it share the chance of their explanation, weighted: its share is 1 / ways
    log_density  of the set as written, 1/m, where it is not that of the corrected value under what is expected
    mend         the set without the blunder; None where only the size is known
    spread_times repeats may scatter by so many times what is usual
    tells_of_tape  it accounts for the difference of a logger from the tape beside it
    """

    words: str | Callable[[], str]
    corrected_m: tuple[float, ...]
    ways: float = 1.0
    log_density: float | None = None
    mend: Callable[[], Mended] | None = None
    spread_times: float = 1.0
    tells_of_tape: bool = False

    def told(self) -> str:
        """What would have happened."""
        return self.words if isinstance(self.words, str) else self.words()


def case_of(
    method: str, read: ReadingSet, context: ReadingContext, expected: Predictive, around: Around = ALONE
) -> Case | None:
    """The case of a set: its value, that of each repeat alone, and every number that may have been written wrongly.

    Parameters
    ----------
    method
        Name of the method, "electric tape".
    read
        The set as written.
    context
        Facts in force at the time of the reading.
    expected
        What the well was expected to show, m below land surface.
    around
        What is known beside the context.

    Returns
    -------
    Case or None
        None where there is nothing to hold against the well: no value below land surface, or one that stands for
        something that is not expected of it (a pumping level, a dry well).

    Notes
    -----
    A repeat alone is the value plus how far its numbers lie from what the set was taken for, by the slope of depth on
    each number; where the slope is not plain (a leaning hole, a gauge) it is found by one more reduction.

    Example
    -------
    >>> from tapedown.values.readings import ElectricTape
    >>> point = PointHeight("MP-1", Written("1.50", "ft"), "above", None, False, "notch", "")
    >>> read = ElectricTape((Written("25.04", "ft"), Written("24.05", "ft")))
    >>> case = case_of("electric tape", read, ReadingContext(point=point), Predictive(22.55 * 0.3048, 0.015, 5.0))
    >>> [round(depth / 0.3048, 2) for depth in case.depths_m], case.numbers[0][0].words
    ([23.54, 22.55], 'reading 25.04 ft')
    """
    value = reduce_readings(method, read, context)
    main = value.result(BELOW_LAND)
    if main is None or value.use not in EXPLAINED:
        return None
    numbers = _numbers(method, read, context, main.value_m)
    alone = [added(number.slope * number.written.si for number in repeat) for repeat in numbers]
    used = _used(method, value, alone, read, context)
    depths = tuple(main.value_m + raw - used for raw in alone)
    return Case(method, read, context, expected, around, value, main.value_m, depths, numbers)


def altered(read: ReadingSet, number: Number, new: Written) -> ReadingSet:
    """The set with one number written otherwise.

    Parameters
    ----------
    read
        The set as written.
    number
        Which repeat and field.
    new
        The number in its place.

    Returns
    -------
    ReadingSet
        Another set; the given one stays as it is.
    """
    name = _list_of(read)
    rows: list[Any] = list(getattr(read, name))
    rows[number.repeat] = rows[number.repeat]._replace(**{number.field: new}) if number.field else new
    return replaced(read, **{name: tuple(rows)})


def replaced(read: ReadingSet, **changes: Any) -> ReadingSet:
    """The set with other values in some of its fields, which a caller knows it to have.

    Parameters
    ----------
    read
        The set as written.
    **changes
        Value by name of field.

    Returns
    -------
    ReadingSet
        Another set; the given one stays as it is.
    """
    named: Any = read
    changed: ReadingSet = named._replace(**changes)
    return changed


def mending(read: ReadingSet, context: ReadingContext) -> Callable[[], Mended]:
    """Hands over what is mended when asked."""
    return lambda: Mended(read, context)


def mean(values: Sequence[float]) -> float:
    """Arithmetic mean."""
    return added(values) / len(values)


def shifted(case: Case, by_m: float) -> tuple[float, ...]:
    """Every repeat's depth with the same amount added, m."""
    return tuple(depth + by_m for depth in case.depths_m)


def log_within(expected: Predictive, low_m: float, high_m: float) -> float:
    """Log of the probability that a depth lies between two others; a tiny one is kept from being nothing.

    Parameters
    ----------
    expected
        What the well was expected to show.
    low_m
        Lower end, m below land surface; -inf for none.
    high_m
        Upper end, m below land surface.

    Returns
    -------
    float
        Natural logarithm, at least that of 1e-12.

    Example
    -------
    >>> round(math.exp(log_within(Predictive(7.0, 0.02, 5.0), -math.inf, 7.0)), 3)
    0.5
    """
    return math.log(max(_below(expected, high_m) - _below(expected, low_m), 1e-12))


def _below(expected: Predictive, depth_m: float) -> float:
    tail = expected.beyond(depth_m) / 2
    return 1 - tail if depth_m > expected.middle_m else tail


def _list_of(read: ReadingSet) -> str:
    return next((name for name in _LISTS if getattr(read, name, ())), "readings")


def _numbers(method: str, read: ReadingSet, context: ReadingContext, depth_m: float) -> tuple[tuple[Number, ...], ...]:
    rows = getattr(read, _list_of(read))
    fields = ("",) if isinstance(rows[0], Written) else rows[0]._fields
    slopes = {field: _slope(method, read, context, field, depth_m) for field in fields}
    return tuple(
        tuple(_number(place, field, getattr(row, field) if field else row, slopes[field]) for field in fields)
        for place, row in enumerate(rows)
    )


def _number(repeat: int, field: str, written: Written, slope: float) -> Number:
    factor = UNITS[written.quantity][written.unit][0]
    return Number(repeat, field, written, slope, slope * factor)


def _slope(method: str, read: ReadingSet, context: ReadingContext, field: str, depth_m: float) -> float:
    hole = context.construction
    if hole is None or (hole.lean is None and not hole.survey):
        if method == "chalked tape":
            return 1.0 if field == "hold" else -1.0
        if method in _RISING:
            return _RISING[method]
        if method == "reported":
            return -1.0 if getattr(read, "reference", "") == "elevation" else 1.0
    return _slope_tried(method, read, context, field, depth_m)


def _slope_tried(method: str, read: ReadingSet, context: ReadingContext, field: str, depth_m: float) -> float:
    """By working the set out once more with a little more in that field of every repeat."""
    rows = getattr(read, _list_of(read))
    first = getattr(rows[0], field) if field else rows[0]
    more, changed = 0.0, read
    for place, row in enumerate(rows):
        number = _number(place, field, getattr(row, field) if field else row, 0.0)
        plus = number.written._replace(text=str(float(number.written.text) + 1))
        changed = altered(changed, number, plus)
        more = plus.si - first.si if place == 0 else more
    main = reduce_readings(method, changed, context).result(BELOW_LAND)
    return (main.value_m - depth_m) / more if main is not None else 0.0


def _used(method: str, value: Reduction, alone: Sequence[float], read: ReadingSet, context: ReadingContext) -> float:
    """What the reading itself contributed to the value: the agreeing repeats' mean."""
    steps = value.stages[0].steps
    hole = context.construction
    if hole is None or (hole.lean is None and not hole.survey):
        if method == "chalked tape":
            return float(steps[0].amount_m + steps[1].amount_m)
        if method in {"weighted tape", "electric tape", "standpipe"}:
            return float(steps[0].amount_m)
    if len(alone) == 1:
        return alone[0]
    first = replaced(read, **{_list_of(read): getattr(read, _list_of(read))[:1], "chosen": None})
    main, whole = reduce_readings(method, first, context).result(BELOW_LAND), value.result(BELOW_LAND)
    if main is None or whole is None:
        return mean(alone)
    return alone[0] + float(whole.value_m - main.value_m)
