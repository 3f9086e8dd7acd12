"""Wells to be measured again without sight of what was read: asked for by a person, or drawn from a round.

The draw can be repeated by anybody: the wells of the round that were read are ordered by the SHA-256 of the round's
name, a blank and its day, a line feed and the well's code, in UTF-8, and the first ones are taken.
"""

from __future__ import annotations

import hashlib
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from tapedown.analysis.repeat_error import Pair, RepeatError, repeat_error
from tapedown.engine.checks.at_the_well import NOTHING
from tapedown.engine.uncertainty.budget import difference
from tapedown.record import Held, append, entries
from tapedown.values.errors import TapedownError
from tapedown.values.kinds import KINDS, about_round, about_well
from tapedown.values.ledger.entries import Draft, Entry
from tapedown.values.ledger.reviews import Remeasure
from tapedown.values.results import BELOW_LAND
from tapedown.values.times import instant, zone
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.rounds.planning import planned_round
from tapedown.work.wells.files import file_of
from tapedown.work.wells.history import Row, history_of
from tapedown.work.wells.standing import held_by_well, may_be_bottom


class AskedAlready(TapedownError):
    """The reading is already to be repeated."""

    def __init__(self, code: str) -> None:
        super().__init__(f"{code} is already to be measured again for this reading", hint="see `tapedown rounds`")


class DrawnAlready(TapedownError):
    """A round is drawn from once: a second draw could be a choice."""

    def __init__(self, name: str, entry_id: str) -> None:
        super().__init__(f"wells of {name} were drawn already (id ends {entry_id[-8:]})", hint="look at that drawing")


class NoWellRead(TapedownError):
    """No well of the round was read yet."""

    def __init__(self, name: str) -> None:
        super().__init__(
            f"no well of {name} was read yet", hint="draw when the round is done: who measures must not know before"
        )


class Again(NamedTuple):
    """A request to measure a well again.

    original  the reading to be repeated, its correction where it was corrected; None when it is gone
    answer    the first reading made after the request, None while it is open
    """

    entry: Entry
    code: str
    request: Remeasure
    original: Entry | None
    answer: Entry | None

    @property
    def drawn(self) -> bool:
        """Whether chance chose the well; only such repeats tell the repeat error."""
        return bool(self.request.drawing)


class Repeat(NamedTuple):
    """A drawn well measured twice. late: the second came too late to count.

    difference_m  second less first, m; u_m its claimed standard uncertainty, what both share left out
    """

    again: Again
    first: Row
    second: Row
    difference_m: float
    u_m: float
    late: bool


class Repeats(NamedTuple):
    """All drawn repeats, those still waited for, and what they say: together, and by method of the first reading."""

    repeats: tuple[Repeat, ...]
    waiting: tuple[Again, ...]
    error: RepeatError
    by_method: Mapping[str, RepeatError]


def ask_again(network: OpenNetwork, code: str, entry_id: str, why: str, author: Author) -> Entry:
    """Ask for a well to be measured again; it is proposed for the next round.

    Raises
    ------
    AskedAlready, NoSuchWell, WrittenWrong
    """
    if any(one.request.entry == entry_id for one in open_remeasures(network).get(code, ())):
        raise AskedAlready(code)
    given = {"entry": entry_id, "why": why}
    return enter_fact(network, "re-measure", code, given, author, measured_at=_moment(network, author)).entry


def _moment(network: OpenNetwork, author: Author) -> str:
    return author.clock().astimezone(zone(network.facts.zone)).isoformat(timespec="seconds")


def drawn(key: str, candidates: Iterable[str], share: float) -> list[str]:
    """The wells drawn: the lowest digests of key, line feed and code; a share of them rounded up, at least one.

    Example
    -------
    >>> drawn("May round 2026-05-14", ["MF-01", "MF-02", "MF-03", "MF-04"], 0.06)
    ['MF-03']
    """
    ordered = sorted(set(candidates), key=lambda code: hashlib.sha256(f"{key}\n{code}".encode()).digest())
    return ordered[: max(1, math.ceil(share * len(ordered) - 1e-9))]


def draw(network: OpenNetwork, round_id: str, author: Author) -> list[Entry]:
    """Draw the blind share of a round: the drawing, and a request for each well drawn, in one piece.

    Raises
    ------
    NoSuchRound, NothingRead, DrawnAlready
    """
    entry, planned = planned_round(network, round_id)
    if (before := drawing_of(network, planned.name, entry.id)) is not None:
        raise DrawnAlready(planned.name, before.id)
    read = _read_on(network, planned.wells, planned.day)
    if not read:
        raise NoWellRead(planned.name)
    share, key = network.settings.text("blind_share"), f"{planned.name} {planned.day}"
    wells = drawn(key, read, network.settings.si("blind_share"))
    body = {"round": entry.id, "share": share, "key": key, "candidates": sorted(read), "wells": wells}
    drawing = author.draft("drawing", about_round(planned.name), body, measured_at=planned.day)
    drafts = [drawing, *(_request(network, code, read[code], drawing, author) for code in wells)]
    return append(network.record, author.device, drafts)


def drawing_of(network: OpenNetwork, name: str, round_id: str) -> Entry | None:
    """The standing drawing from a round, None while nothing was drawn."""
    held = entries(network.record, kinds=["drawing"], about=about_round(name), as_of=network.as_of)
    return next((one.entry for one in held if one.entry.data.get("round") == round_id), None)


def _request(network: OpenNetwork, code: str, read: Entry, drawing: Draft, author: Author) -> Draft:
    body = {"entry": read.id, "why": "drawn for a blind repeat", "drawing": drawing.id}
    return author.draft("re-measure", about_well(code), body, measured_at=_moment(network, author))


def _read_on(network: OpenNetwork, wells: Sequence[str], day: str) -> dict[str, Entry]:
    """Well -> its first standing reading on or after a day; of one time a level before a sounding."""
    by_well: dict[str, list[Held]] = defaultdict(list)
    for held in entries(network.record, kinds=["readings"], as_of=network.as_of):
        code = held.entry.subject
        if code in wells and held.entry.measured_at[:10] >= day:
            by_well[code].append(held)
    first = {code: min(read, key=lambda h: (h.entry.measured_at, may_be_bottom(h))) for code, read in by_well.items()}
    return {code: held.entry for code, held in first.items()}


def remeasures(network: OpenNetwork) -> list[Again]:
    """Every standing request, oldest first, with what answered it; from one pass over the record."""
    by_well: dict[str, list[Held]] = defaultdict(list)
    for held in entries(network.record, kinds=["readings", "re-measure"], as_of=network.as_of, struck=True):
        by_well[held.entry.subject].append(held)
    asked = [again for code, held in by_well.items() for again in _of_well(code, held, network)]
    return sorted(asked, key=lambda again: again.entry.written_at)


def _of_well(code: str, held: Sequence[Held], network: OpenNetwork) -> list[Again]:
    read = [h for h in held if h.entry.kind == "readings"]
    asked = []
    for one in held:
        if one.entry.kind != "re-measure" or one.struck_by is not None:
            continue
        request, _ = KINDS["re-measure"].read(one.entry.data, network.unit)
        if request is not None:
            original = standing_for(request.entry, read)
            answer = _answer(one.entry, original, read, network.facts.zone)
            asked.append(Again(one.entry, code, request, original.entry if original else None, answer))
    return asked


def standing_for(entry_id: str, read: Sequence[Held]) -> Held | None:
    """The reading of this id, or the correction that took its place; None when it was withdrawn."""
    by_id = {held.entry.id: held for held in read}
    held = by_id.get(entry_id)
    while held is not None and held.struck_by is not None:
        held = by_id.get(held.struck_by)
    return held


def _answer(request: Entry, original: Held | None, read: Sequence[Held], zone_name: str) -> Entry | None:
    """The first standing reading of the same kind made after the request."""
    if original is None:
        return None
    asked = instant(request.measured_at, zone_name)
    after = [
        h.entry
        for h in read
        if h.struck_by is None
        and h.entry.id != original.entry.id
        and may_be_bottom(h) == may_be_bottom(original)
        and instant(h.entry.measured_at, zone_name, end_of_day=True) > asked
    ]
    return min(after, key=lambda e: instant(e.measured_at, zone_name), default=None)


def open_remeasures(network: OpenNetwork) -> Mapping[str, Sequence[Again]]:
    """Well -> requests nothing has answered yet; a request whose reading was withdrawn asks for nothing any more."""
    by_well: dict[str, list[Again]] = defaultdict(list)
    for again in remeasures(network):
        if again.answer is None and again.original is not None:
            by_well[again.code].append(again)
    return by_well


def blind_repeats(network: OpenNetwork) -> Repeats:
    """The repeat error that drawn repeats show, beside what was claimed."""
    asked = [again for again in remeasures(network) if again.drawn]
    shelf, by_well = gear_shelf(network), held_by_well(network)
    repeats = [r for again in asked if (r := _repeat(again, by_well[again.code], network, shelf)) is not None]
    pairs: dict[str, list[Pair]] = defaultdict(list)
    for one in repeats:
        if not one.late:
            pairs[one.first.what].append(Pair(one.difference_m, one.u_m))
    level = network.settings.si("coverage")
    by_method = {method: repeat_error(listed, level) for method, listed in sorted(pairs.items())}
    waiting = tuple(again for again in asked if again.answer is None and again.original is not None)
    together = repeat_error([pair for listed in pairs.values() for pair in listed], level)
    return Repeats(tuple(repeats), waiting, together, by_method)


def _repeat(again: Again, held: Sequence[Held], network: OpenNetwork, shelf: GearShelf) -> Repeat | None:
    """A request with both its values; None while there is only one, or one of them is no depth."""
    if again.original is None or again.answer is None:
        return None
    wanted = {again.original.id, again.answer.id}
    telling = [h for h in held if h.entry.kind != "readings" or h.entry.id in wanted]
    rows = {row.entry.id: row for row in history_of(file_of(again.code, telling, network), network, shelf).rows}
    first, second = rows.get(again.original.id), rows.get(again.answer.id)
    if first is None or second is None:
        return None
    change = _change(first, second)
    return None if change is None else Repeat(again, first, second, *change, _late(first, second, network))


def _change(first: Row, second: Row) -> tuple[float, float] | None:
    """Second less first and the uncertainty claimed for it, m; what both share cancels."""
    if first.value is None or second.value is None or NOTHING in {first.value.use, second.value.use}:
        return None
    before, after = first.value.result(BELOW_LAND), second.value.result(BELOW_LAND)
    if before is None or after is None:
        before, after = first.value.main, second.value.main
    if before is None or after is None or before.name != after.name:
        return None
    u_m, _ = difference(second.value.parts, first.value.parts)
    return after.value_m - before.value_m, u_m


def _late(first: Row, second: Row, network: OpenNetwork) -> bool:
    name = network.facts.zone
    apart = instant(second.entry.measured_at, name) - instant(first.entry.measured_at, name)
    return apart.total_seconds() / 3600 > network.settings.si("blind_within")
