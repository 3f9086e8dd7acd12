"""Rounds: which wells are due, in what order to visit them, what to load, and how far a round has come."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from tapedown.record import Held, append, entries
from tapedown.values.days import date_text, day_number
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.kinds import KINDS, about_round
from tapedown.values.ledger.entries import Entry
from tapedown.values.rounds import Round
from tapedown.values.seen import NOTHING_SEEN, OIL, Seen, joined, seen_in, seen_words
from tapedown.values.times import EARLIEST, LATEST, is_measured_at, zone
from tapedown.values.wells import DIRTIER, Position, Well
from tapedown.work.authorship import Author, now
from tapedown.work.entry.entering import strike
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NoSuchWell, NotADate, WrittenWrong
from tapedown.work.rounds.route import Spot, length_m, on_plane, short_route

LOOKED_BACK = 3
"""Newest stops at a well that say whether its water is dirty; ours."""
MOST_WELLS = 200
"""More wells than one round can hold; ours."""


class NoSuchRound(TapedownError):
    """There is no such round."""

    def __init__(self, which: str) -> None:
        super().__init__(f"no round {which!r}", hint="see `tapedown rounds`, or the page of rounds")


class RoundTooLong(TapedownError):
    """More wells than a round holds."""

    def __init__(self, count: int) -> None:
        super().__init__(f"{count} wells are more than a round holds ({MOST_WELLS})", hint="make several rounds")


class Stop(NamedTuple):
    """One time somebody was at a well: when, and what went on."""

    measured_at: str
    seen: Seen

    @property
    def noted(self) -> list[str]:
        """What went on, in short phrases."""
        return seen_words(self.seen)


class Outline(NamedTuple):
    """What planning needs of a well. stops: its newest, newest first; days: every day it was visited or read, sorted.

    cleanness  place in DIRTIER: 0 clean, 1 between, 2 dirty
    """

    code: str
    name: str
    every_d: int
    cleanness: int
    position_deg: tuple[float, float] | None
    stops: tuple[Stop, ...]
    days: tuple[str, ...]


class WellDue(NamedTuple):
    """A well and whether it is due.

    last       day of the last visit or reading, "" for never
    noted      what went on then, in short phrases
    overdue_d  days past the day it is due, negative before it; None when it was never visited
    """

    code: str
    name: str
    every_d: int
    last: str
    noted: tuple[str, ...]
    due_on: str
    overdue_d: int | None
    cleanness: int
    due: bool


class RoundNow(NamedTuple):
    """A round as it stands. visited: well -> the first day on or after the round's day that somebody was there."""

    entry: Entry
    planned: Round
    struck_by: str | None
    visited: Mapping[str, str]

    @property
    def open(self) -> bool:
        """A round closes when it is struck or when every well of it was visited."""
        return self.struck_by is None and any(code not in self.visited for code in self.planned.wells)


def today(network: OpenNetwork, clock: Callable[[], datetime] = now) -> str:
    """The day it is where the wells are."""
    return clock().astimezone(zone(network.facts.zone)).date().isoformat()


def outlines(network: OpenNetwork) -> dict[str, Outline]:
    """What planning needs of every well, by code, from one pass over the record."""
    kinds = ("well", "position", "visit", "readings")
    by_well: dict[str, list[Held]] = defaultdict(list)
    for held in entries(network.record, kinds=kinds, as_of=network.as_of):
        by_well[held.entry.subject].append(held)
    return {code: _outline(code, by_well[code], network) for code in sorted(by_well)}


def _outline(code: str, held: Sequence[Held], network: OpenNetwork) -> Outline:
    identity: Well | None = _newest(held, "well", network)
    there = sorted((h.entry for h in held if h.entry.kind in {"visit", "readings"}), key=lambda e: e.measured_at)
    stops = tuple(newest_stops(there))
    every = identity.visit_every.si if identity and identity.visit_every else network.settings.si("visit_every")
    return Outline(
        code,
        identity.name if identity else "",
        max(1, round(every / 24)),
        cleanness(identity, stops),
        _position_deg(_newest(held, "position", network)),
        stops,
        tuple(sorted({entry.measured_at[:10] for entry in there if entry.measured_at})),
    )


def _newest(held: Sequence[Held], kind: str, network: OpenNetwork) -> Any:
    """The value of the newest entry of a kind that can be read."""
    of_kind = sorted((h.entry for h in held if h.entry.kind == kind), key=lambda e: (e.measured_at, e.written_at))
    values = (KINDS[kind].read(entry.data, network.unit)[0] for entry in reversed(of_kind))
    return next((value for value in values if value is not None), None)


def cleanness(identity: Well | None, stops: Sequence[Stop]) -> int:
    """A well's place in DIRTIER: as its entry says; oil noted lately makes it dirty whatever that says."""
    if any(OIL in stop.seen.in_the_hole for stop in stops):
        return len(DIRTIER) - 1
    return DIRTIER.index(identity.dirtier or DIRTIER[0]) if identity else 0


def newest_stops(there: Sequence[Entry]) -> list[Stop]:
    """The newest stops of a well's visits and readings in order of time: a visit and its reading sets are one."""
    seen_at: dict[str, Seen] = {}
    for entry in reversed(there):
        if entry.measured_at not in seen_at and len(seen_at) == LOOKED_BACK:
            break
        seen_at[entry.measured_at] = joined(seen_in(entry.data), seen_at.get(entry.measured_at, NOTHING_SEEN))
    return [Stop(when, seen) for when, seen in seen_at.items()]


def _position_deg(position: Position | None) -> tuple[float, float] | None:
    if position is None or position.latitude is None or position.longitude is None:
        return None
    return position.latitude.si, position.longitude.si


def wells_due(known: Mapping[str, Outline], day: str) -> list[WellDue]:
    """Every well with the day it is due, those longest overdue first; never visited before all others."""
    wells = [_due(outline, day) for outline in known.values()]
    return sorted(wells, key=lambda w: (not w.due, w.overdue_d is not None, -(w.overdue_d or 0), w.code))


def _due(outline: Outline, day: str) -> WellDue:
    last = outline.days[-1] if outline.days else ""
    seen = outline.stops[0].seen if outline.stops else NOTHING_SEEN
    due_number = day_number(last) + outline.every_d if last else day_number(day)
    overdue = day_number(day) - due_number if last else None
    return WellDue(
        outline.code,
        outline.name,
        outline.every_d,
        last,
        tuple(seen_words(seen)),
        date_text(due_number),
        overdue,
        outline.cleanness,
        not seen.gone and (overdue is None or overdue >= 0),
    )


def in_order(known: Mapping[str, Outline], codes: Sequence[str]) -> list[str]:
    """Wells in the order of a round: cleaner before dirtier, a short way within each group.

    Wells without a position come last in their group, by code. Cleanest to dirtiest is published practice (tape and
    pump go from the least to the most contaminated well).

    Raises
    ------
    NoSuchWell, RoundTooLong
    """
    for code in codes:
        if code not in known:
            raise NoSuchWell(code, [])
    if len(codes) > MOST_WELLS:
        raise RoundTooLong(len(codes))
    at = _spots(known, codes)
    order: list[str] = []
    here: str | None = None
    for cleanness in range(len(DIRTIER)):
        group = sorted({code for code in codes if known[code].cleanness == cleanness})
        route = short_route([code for code in group if code in at], at, here)
        here = route[-1] if route else here
        order += route + [code for code in group if code not in at]
    return order


def way_m(known: Mapping[str, Outline], order: Sequence[str]) -> float:
    """Length of the way through the wells that have a position, as the crow flies, m."""
    at = _spots(known, order)
    return length_m([code for code in order if code in at], at)


def _spots(known: Mapping[str, Outline], codes: Collection[str]) -> dict[str, Spot]:
    placed = ((code, known[code].position_deg) for code in sorted(codes))
    return on_plane({code: position for code, position in placed if position is not None})


def make_round(network: OpenNetwork, given: Mapping[str, Any], author: Author, *, as_given: bool = False) -> Entry:
    """Plan a round: name, day, wells, who, remarks. The wells are put in order unless they stay `as_given`.

    Raises
    ------
    WrittenWrong
        A field is missing or wrong; nothing was written.
    NoSuchWell, RoundTooLong
    """
    planned, problems = KINDS["round"].read(given, network.unit)
    if planned is not None and not is_measured_at(planned.day):
        problems = [Problem("day", f"{planned.day} lies before {EARLIEST} or after {LATEST}", "correct the year")]
    if planned is None or problems:
        raise WrittenWrong("the round", problems)
    order = in_order(outlines(network), planned.wells)
    body = KINDS["round"].body(planned._replace(wells=planned.wells if as_given else tuple(order)))
    draft = author.draft("round", about_round(planned.name), body, measured_at=planned.day)
    return append(network.record, author.device, [draft])[0]


def rounds_now(network: OpenNetwork, known: Mapping[str, Outline], *, struck: bool = False) -> list[RoundNow]:
    """Rounds, newest first, with how far each has come by the days known of its wells."""
    held = entries(network.record, kinds=["round"], as_of=network.as_of, struck=True)
    read = [(h, KINDS["round"].read(h.entry.data, network.unit)[0]) for h in held]
    rounds = [
        RoundNow(h.entry, planned, h.struck_by, _visited(planned, known))
        for h, planned in read
        if planned is not None and (struck or h.struck_by is None)
    ]
    return sorted(rounds, key=lambda r: (r.planned.day, r.entry.written_at), reverse=True)


def _visited(planned: Round, known: Mapping[str, Outline]) -> dict[str, str]:
    visited = {}
    for code in planned.wells:
        days = known[code].days if code in known else ()
        first = bisect_left(days, planned.day)
        if first < len(days):
            visited[code] = days[first]
    return visited


def planned_round(network: OpenNetwork, round_id: str) -> tuple[Entry, Round]:
    """The round with this id, struck or not, without a look at its wells.

    Raises
    ------
    NoSuchRound
    """
    for held in entries(network.record, kinds=["round"], as_of=network.as_of, struck=True):
        planned, _ = KINDS["round"].read(held.entry.data, network.unit)
        if held.entry.id == round_id and planned is not None:
            return held.entry, planned
    raise NoSuchRound(round_id)


def round_now(network: OpenNetwork, which: str) -> RoundNow:
    """The round with this id, or of this name: the newest that is not struck.

    Raises
    ------
    NoSuchRound
    """
    rounds = [r for r in rounds_now(network, outlines(network), struck=True) if which in {r.entry.id, r.planned.name}]
    if not rounds:
        raise NoSuchRound(which)
    return next((r for r in rounds if r.struck_by is None), rounds[0])


def withdraw_round(network: OpenNetwork, which: str, reason: str, author: Author) -> None:
    """Strike a round: it will not be made.

    Raises
    ------
    NoSuchRound, ReasonMissing, AlreadyStruck
    """
    strike(network, round_now(network, which).entry.id, reason, author)


def day_or_today(network: OpenNetwork, written: str) -> str:
    """A day as written, or today.

    Raises
    ------
    NotADate
    """
    if not written:
        return today(network)
    try:
        if date_text(day_number(written)) == written:
            return written
    except ValueError:
        pass
    raise NotADate(written, "")
