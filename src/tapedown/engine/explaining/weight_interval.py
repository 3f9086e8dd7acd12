"""The weight interval of a sounding: left out, counted twice, or that of another weight."""

from __future__ import annotations

from collections.abc import Iterator

from tapedown.engine.explaining.case import Candidate, Case, mending, shifted
from tapedown.values.readings import WeightedTape
from tapedown.values.written import Written

_SAME_M = 0.0005
"""Intervals nearer to each other than this are one."""


def left_out(case: Case) -> Iterator[Candidate]:
    """No interval was added: it is that of the weight noted, or of any weight on record.

    Parameters
    ----------
    case
        The case; only a weighted tape without an interval in use can have it.

    Yields
    ------
    Candidate
        One a weight that may have hung there: every repeat shifted by its interval.
    """
    if isinstance(case.read, WeightedTape) and _in_use_m(case) == 0:
        known = _on_record(case)
        for serial, interval in known:
            words = f"the interval of {serial}, {interval}, is missing"
            yield _with(case, case.read, interval, words, len(known))


def counted_twice(case: Case) -> Iterator[Candidate]:
    """The figures on the tape already counted from the bottom of the weight.

    Parameters
    ----------
    case
        The case; only a weighted tape with an interval in use can have it.

    Yields
    ------
    Candidate
        One: every repeat less the interval.
    """
    interval_m = _in_use_m(case)
    if isinstance(case.read, WeightedTape) and interval_m > 0:
        words = f"the readings have the interval of {case.say(interval_m)} in them already"
        zero = Written("0.00", case.read.readings[0].unit)
        yield _with(case, case.read, zero, words, 1)


def of_another_weight(case: Case) -> Iterator[Candidate]:
    """The interval of another weight than the one that hung there: an old one, or another's on record.

    Parameters
    ----------
    case
        The case; only a weighted tape with an interval in use can have it.

    Yields
    ------
    Candidate
        One an interval on record that differs from the one in use: every repeat shifted by their difference.
    """
    if not isinstance(case.read, WeightedTape) or _in_use_m(case) == 0:
        return
    others = [(s, i) for s, i in _on_record(case, own=False) if abs(i.si - _in_use_m(case)) > _SAME_M]
    for serial, interval in others:
        words = f"{case.say(_in_use_m(case))} was added; {serial} has {interval}"
        yield _with(case, case.read, interval, words, len(others))


def _with(case: Case, read: WeightedTape, interval: Written, words: str, ways: float) -> Candidate:
    depths = shifted(case, (interval.si - _in_use_m(case)) * case.numbers[0][0].slope)
    mended = read._replace(weight_interval=interval)
    return Candidate(words, depths, ways, mend=mending(mended, case.context))


def _in_use_m(case: Case) -> float:
    read = case.read
    if not isinstance(read, WeightedTape):
        return 0.0
    weight = case.context.gear.get(read.weight)
    interval = read.weight_interval or (weight.weight_interval if weight else None)
    return interval.si if interval else 0.0


def _on_record(case: Case, *, own: bool = True) -> list[tuple[str, Written]]:
    """Weights with their intervals: the one noted alone when it is wanted and known, else every one."""
    weight = str(getattr(case.read, "weight", ""))
    known = [
        (f"weight {serial}", gear.weight_interval) for serial, gear in case.context.gear.items() if gear.weight_interval
    ]
    noted = [row for row in known if row[0] == f"weight {weight}"]
    return noted if noted and own else known
