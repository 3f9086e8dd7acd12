"""The review queue: values nobody has signed or sufficiently looked at, in the order a look is worth it.

Worked out again only for the wells about which something was written, like the start page.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from tapedown.engine.checks.at_the_well import NOT_NOTED, NOTHING, STATIC
from tapedown.engine.uncertainty.review_priority import Worth, chance_wrong, worth_of_look
from tapedown.record import Head, Held, heads
from tapedown.values.days import day_number
from tapedown.values.progress import Watch, counted, unwatched
from tapedown.values.results import BELOW_LAND
from tapedown.work.expected.explaining import blunder_chances
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.review.remeasures import Again, open_remeasures
from tapedown.work.review.reviewing import Reviewed, looks_of, reviewed
from tapedown.work.review.signing import signed_ids
from tapedown.work.wells.files import file_of
from tapedown.work.wells.history import History, Row, history_of
from tapedown.work.wells.standing import held_by_well, may_be_bottom

NEWEST = 24
"""Newest water levels of a well that are looked through; older ones are counted, not listed. Ours."""
Chances = Callable[[OpenNetwork, History, GearShelf], Mapping[str, float]]
"""Probability that a row is a blunder, as its well's own expectation gives it, by the id of the row's entry."""


class Item(NamedTuple):
    """A value that waits for a look. again: an open request to measure it again."""

    code: str
    row: Row
    review: Reviewed
    worth: Worth
    again: Again | None


class Queue(NamedTuple):
    """Values in the order in which a look is worth it, and how many older ones are not listed."""

    items: tuple[Item, ...]
    older: int


class _Waiting(NamedTuple):
    """A value that waits, before its age and what is asked of it are looked at."""

    row: Row
    review: Reviewed
    chance: float
    moves_m: float
    newest: bool


class _QueueKnown(NamedTuple):
    """What was worked out of one well, and from which entries."""

    entries: tuple[tuple[str, str | None, bool], ...]
    waiting: tuple[_Waiting, ...]
    older: int


class _Seen(NamedTuple):
    """What every well is looked at with: the network, its gear, what is signed."""

    network: OpenNetwork
    shelf: GearShelf
    signed: set[str]


class _Last(NamedTuple):
    """What the last look found: for which ends of chains, with which gear and settings, per well, what is asked."""

    ends: tuple[Head, ...] = ()
    shared: Any = None
    known: Mapping[str, _QueueKnown] = {}
    asked: Mapping[str, Sequence[Again]] = {}


class ReviewQueue:
    """Remembers what waited at the last look. Safe between threads: the worst is working something out twice."""

    def __init__(self, chances: Chances = blunder_chances) -> None:
        self._chances = chances
        self._last = _Last()

    def at(self, network: OpenNetwork, moment: datetime, watch: Watch = unwatched) -> Queue:
        """The queue of the network as it is, at a moment, from one pass over the record at most."""
        last, ends = self._last, tuple(heads(network.record))
        if last.ends != ends:
            last = self._last = self._look(network, ends, last, watch)
        asked = last.asked
        items = [
            _item(code, one, asked.get(code, ()), moment) for code, known in last.known.items() for one in known.waiting
        ]
        items.sort(key=lambda item: (-item.worth.worth_m, item.code, item.row.entry.measured_at))
        return Queue(tuple(items), sum(known.older for known in last.known.values()))

    def _look(self, network: OpenNetwork, ends: tuple[Head, ...], last: _Last, watch: Watch) -> _Last:
        shelf, signed, by_well = gear_shelf(network), signed_ids(network), held_by_well(network)
        shared = (shelf, network.settings, network.facts)
        before = last.known if last.shared == shared else {}
        seen = _Seen(network, shelf, signed)
        known = {
            code: self._well(code, by_well[code], before.get(code), seen)
            for code in counted(sorted(by_well), "wells looked at", watch, every=20)
        }
        return _Last(ends, shared, known, open_remeasures(network))

    def _well(self, code: str, held: list[Held], before: _QueueKnown | None, seen: _Seen) -> _QueueKnown:
        network, shelf, signed = seen
        entries = tuple((h.entry.id, h.struck_by, h.entry.id in signed) for h in held)
        if before is not None and before.entries == entries:
            return before
        if not any(_may_wait(h, signed) for h in held):
            return _QueueKnown(entries, (), 0)
        old = _old_levels(held)
        well_history = history_of(file_of(code, [h for h in held if h.entry.id not in old], network), network, shelf)
        judged = {str(h.entry.data.get("entry")) for h in held if h.entry.kind in {"review", "acceptance"}}
        return _QueueKnown(entries, tuple(self._waiting(well_history, seen)), len(old - signed - judged))

    def _waiting(self, well_history: History, seen: _Seen) -> list[_Waiting]:
        network, shelf, signed = seen
        looks, blunder = looks_of(well_history.file), self._chances(network, well_history, shelf)
        waiting = []
        standing = [
            row for row in well_history.rows if row.struck_by is None and row.value is not None and row.what != "visit"
        ]
        newest = {_purpose(row): row.entry.id for row in standing}
        for row in standing:
            state = reviewed(row, well_history.file, looks, network)
            if row.value is None or row.entry.id in signed or not state.missing:
                continue
            chance = chance_wrong(row.value.findings, repeats_of(row), blunder.get(row.entry.id, 0.0))
            is_newest = newest[_purpose(row)] == row.entry.id
            waiting.append(_Waiting(row, state, chance, moved_m(row, standing), is_newest))
        return waiting


def _item(code: str, one: _Waiting, asked: Sequence[Again], moment: datetime) -> Item:
    expanded = one.row.value.main.expanded_m if one.row.value and one.row.value.main else 0.0
    written = datetime.fromisoformat(one.row.entry.written_at)
    waited_d = (moment - written).total_seconds() / 86400
    worth = worth_of_look(one.chance, one.moves_m, float(expanded), newest=one.newest, unreviewed_d=waited_d)
    again = next((a for a in asked if a.original is not None and a.original.id == one.row.entry.id), None)
    return Item(code, one.row, one.review, worth, again)


def _may_wait(held: Held, signed: set[str]) -> bool:
    return held.entry.kind == "readings" and held.struck_by is None and held.entry.id not in signed


def _old_levels(held: Sequence[Held]) -> set[str]:
    """Ids of standing water levels that are not among the newest."""
    levels = [h for h in held if h.entry.kind == "readings" and h.struck_by is None and not may_be_bottom(h)]
    levels.sort(key=lambda h: h.entry.measured_at)
    return {h.entry.id for h in levels[:-NEWEST]}


def _purpose(row: Row) -> str:
    """What a value stands for: only values of one purpose are held against each other."""
    use = row.value.use if row.value is not None else ""
    return STATIC if use == NOT_NOTED else use


def repeats_of(row: Row) -> int:
    """How many times the value was read."""
    read = row.entry.data.get("read")
    readings = read.get("readings", ()) if isinstance(read, dict) else ()
    return max(1, len(readings))


def moved_m(row: Row, rows: Sequence[Row]) -> float:
    """How far the well's record would move at a row's day without it, m.

    Off the straight line between the values of the same purpose before and after it; off the nearest one when it is the
    first or the last; 0 when it is alone or gives no depth.
    """
    own = _depth_m(row)
    if own is None:
        return 0.0
    others = sorted(
        (day_number(other.entry.measured_at), depth)
        for other in rows
        if other.entry.id != row.entry.id and _purpose(other) == _purpose(row) and other.quality not in NOT_COMPARED
        if (depth := _depth_m(other)) is not None
    )
    expected = _between(others, day_number(row.entry.measured_at))
    return 0.0 if expected is None else abs(own - expected)


NOT_COMPARED = ("poor", "missing")
"""Qualities of values that others are not held against."""


def _depth_m(row: Row) -> float | None:
    if row.value is None or row.value.use == NOTHING or not row.entry.measured_at:
        return None
    below = row.value.result(BELOW_LAND)
    return None if below is None else float(below.value_m)


def _between(points: Sequence[tuple[int, float]], day: int) -> float | None:
    """The value at a day on the straight line between the points around it; beyond the ends, that of the end."""
    if not points:
        return None
    days = [on for on, _ in points]
    after, before = bisect_left(days, day), bisect_right(days, day) - 1
    if after < len(points) and days[after] == day:
        return points[after][1]
    if before < 0 or after >= len(points):
        return points[0][1] if before < 0 else points[-1][1]
    (x0, y0), (x1, y1) = points[before], points[after]
    return y0 + (y1 - y0) * (day - x0) / (x1 - x0)
