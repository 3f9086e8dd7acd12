"""Hold and cut of a chalked tape: swapped, or one of them taken from another lowering."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from tapedown.engine.explaining.case import Candidate, Case, Number, altered, mending
from tapedown.engine.explaining.misreads import plus
from tapedown.values.readings import ChalkedTape
from tapedown.values.written import Written

MARKS = (1, 2, 3, 4, 5)
"""Whole marks by which the hold of one lowering differs from that of the next; ours."""


def swapped(case: Case) -> Iterator[Candidate]:
    """Hold written as cut and cut as hold, in every repeat or in one of them.

    Parameters
    ----------
    case
        The case; only a chalked tape has holds and cuts.

    Yields
    ------
    Candidate
        Every repeat turned, then, of several, each alone; all share the chance alike.

    Notes
    -----
    Depth = hold - cut, so a swap shifts a repeat by 2 (cut - hold) as written.
    """
    read = case.read
    if not isinstance(read, ChalkedTape):
        return
    turned = tuple(pair._replace(hold=pair.cut, cut=pair.hold) for pair in read.readings)
    by_m = [2 * (pair.cut.si - pair.hold.si) * case.numbers[i][0].slope for i, pair in enumerate(read.readings)]
    ways = 1 if len(turned) == 1 else 1 + len(turned)
    first = read.readings[0]
    words = f"hold {first.cut}, cut {first.hold} was meant"
    yield Candidate(words, tuple(d + b for d, b in zip(case.depths_m, by_m)), ways,
                    mend=mending(read._replace(readings=turned), case.context))  # fmt: skip
    for place in range(len(turned) if len(turned) > 1 else 0):
        yield _one_swapped(case, read, place, by_m[place], ways)


def _one_swapped(case: Case, read: ChalkedTape, place: int, by_m: float, ways: float) -> Candidate:
    pair = read.readings[place]
    rows = list(read.readings)
    rows[place] = pair._replace(hold=pair.cut, cut=pair.hold)
    depths = list(case.depths_m)
    depths[place] += by_m
    words = f"repeat {place + 1}: hold {pair.cut}, cut {pair.hold} was meant"
    return Candidate(words, tuple(depths), ways, mend=mending(read._replace(readings=tuple(rows)), case.context))


def wrong_one(case: Case) -> Iterator[Candidate]:
    """The hold of another repeat written again, some whole marks from the true one; or two repeats' holds exchanged.

    Two holds written alike are evidence by themselves: a good hand holds another mark at each lowering.

    Parameters
    ----------
    case
        The case; only a chalked tape with at least two repeats can have it.

    Yields
    ------
    Candidate
        For each hold that stands in another repeat too, the marks of `MARKS` to either side; then each pair of holds
        that differ, exchanged, with a tenth of the chance.
    """
    read = case.read
    if not isinstance(read, ChalkedTape) or len(read.readings) < 2:
        return
    again = [repeat[0] for repeat in case.numbers if _written_elsewhere(case, repeat[0])]
    marks = [sign * mark for mark in MARKS for sign in (1, -1)]
    for number in again:
        for mark in marks:
            meant = plus(number.written, float(mark))
            if meant.si >= 0:
                words = f"repeat {number.repeat + 1}, {number.words} stands in another repeat too: {meant} was held"
                yield _hold_meant(case, {number.repeat: meant}, words, len(again) * len(marks))
    pairs = [(a, b) for a in range(len(read.readings)) for b in range(a) if _holds_differ(case, a, b)]
    for a, b in pairs:
        holds = {a: read.readings[b].hold, b: read.readings[a].hold}
        yield _hold_meant(case, holds, f"the holds of repeats {b + 1} and {a + 1} were exchanged", 10 * len(pairs))


def _hold_meant(case: Case, holds: Mapping[int, Written], words: str, ways: float) -> Candidate:
    depths, read = list(case.depths_m), case.read
    for place, meant in holds.items():
        number = case.numbers[place][0]
        depths[place] += number.slope * (meant.si - number.written.si)
        read = altered(read, number, meant)
    return Candidate(words, tuple(depths), ways, mend=mending(read, case.context))


def _written_elsewhere(case: Case, hold: Number) -> bool:
    return any(r[0].written.text == hold.written.text for r in case.numbers if r[0].repeat != hold.repeat)


def _holds_differ(case: Case, a: int, b: int) -> bool:
    return case.numbers[a][0].written.text != case.numbers[b][0].written.text
