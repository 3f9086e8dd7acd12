"""Hold and cut of a chalked tape: swapped, or one of them taken from another lowering."""

from __future__ import annotations

from collections.abc import Iterator

from tapedown.engine.explaining.case import Candidate, Case, altered, mending
from tapedown.values.readings import ChalkedTape


def swapped(case: Case) -> Iterator[Candidate]:
    """Hold written as cut and cut as hold, in every repeat or in one of them."""
    read = case.read
    if not isinstance(read, ChalkedTape):
        return
    turned = tuple(pair._replace(hold=pair.cut, cut=pair.hold) for pair in read.readings)
    by_m = [2 * (pair.cut.si - pair.hold.si) * case.numbers[i][0].slope for i, pair in enumerate(read.readings)]
    ways = 1 if len(turned) == 1 else 1 + len(turned)
    first = read.readings[0]
    words = f"hold {first.cut}, cut {first.hold} was meant"
    yield Candidate(words, tuple(d + b for d, b in zip(case.depths_m, by_m)), ways,
                    mend=mending(read._replace(readings=turned), case.scene))  # fmt: skip
    for place in range(len(turned) if len(turned) > 1 else 0):
        yield _one_swapped(case, read, place, by_m[place], ways)


def _one_swapped(case: Case, read: ChalkedTape, place: int, by_m: float, ways: float) -> Candidate:
    pair = read.readings[place]
    rows = list(read.readings)
    rows[place] = pair._replace(hold=pair.cut, cut=pair.hold)
    depths = list(case.depths_m)
    depths[place] += by_m
    words = f"repeat {place + 1}: hold {pair.cut}, cut {pair.hold} was meant"
    return Candidate(words, tuple(depths), ways, mend=mending(read._replace(readings=tuple(rows)), case.scene))


def wrong_one(case: Case) -> Iterator[Candidate]:
    """The hold (or the cut) of another repeat written with this one."""
    if not isinstance(case.read, ChalkedTape):
        return
    found = [
        (number, other.written)
        for repeat in case.numbers
        for number in repeat
        for others in case.numbers
        for other in others
        if other.field == number.field and other.written.text != number.written.text
    ]
    for number, meant in found:
        depths = list(case.depths_m)
        depths[number.repeat] += number.slope * (meant.si - number.written.si)
        words = f"repeat {number.repeat + 1}, {number.words}: the {number.field} was {meant}, as in another repeat"
        mended = altered(case.read, number, meant)
        yield Candidate(words, tuple(depths), len(found), mend=mending(mended, case.scene))
