"""A well's history: every reading worked out with what was known then, and the state of its bottom."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.engine.checks.at_the_well import RECOVERING, hours_since_pump
from tapedown.engine.checks.named import TIME_NOT_KNOWN, by_weight
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.dry import reduce_depth_reached
from tapedown.engine.methods.registry import REDUCERS, reduce_readings
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.engine.well.fill import Sounding, WellCondition, well_condition
from tapedown.engine.well.levels import Levelled, check_levels
from tapedown.record import entries
from tapedown.values.kinds import about_gear
from tapedown.values.ledger.entries import Entry
from tapedown.values.readings import Readings, Review, Visit
from tapedown.values.results import BELOW_LAND, Finding, Reduction
from tapedown.values.seen import Seen, seen_words, spoken_hours
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.refusals import NoSuchReading, SeveralReadings
from tapedown.work.wells.files import WellFact, WellFile, context_of, well_file

USABLE = ("good", "unchecked", "estimate")
"""Qualities that count for the state of the bottom."""
SHORTEST_END = 6
"""Fewest characters of an id's end that name an entry."""


class Row(NamedTuple):
    """One reading set, or one visit without a reading, in a well's history.

    seen       what went on at the well
    value      None when the visit gave no number
    struck_by  id of the entry that struck it, None while it stands
    """

    entry: Entry
    what: str
    seen: Seen
    value: Reduction | None
    struck_by: str | None
    review: Review | None
    remarks: str

    @property
    def noted(self) -> list[str]:
        """What went on, in short phrases."""
        return seen_words(self.seen)

    @property
    def stands_for(self) -> str:
        """What the value may stand for, a recovering level with the time since its pump stopped."""
        if self.value is None:
            return ""
        hours = self.hours_since_pump if self.value.use == RECOVERING else None
        return self.value.use if hours is None else f"{self.value.use}, {spoken_hours(hours)} after the pump stopped"

    @property
    def hours_since_pump(self) -> float | None:
        """Hours since the pump in this well stopped, None where that is not known or it ran."""
        return hours_since_pump(self.seen, self.entry.measured_at)

    @property
    def quality(self) -> str:
        """The reviewer's word where there is one, else what the checks leave."""
        if self.review is not None:
            return self.review.quality
        return self.value.quality if self.value else "missing"


class History(NamedTuple):
    """A well: rows oldest first, entries that could not be read, its bottom, what its levels say of the point."""

    file: WellFile
    rows: tuple[Row, ...]
    unreadable: tuple[WellFact, ...]
    bottom: WellCondition | None
    levels: tuple[Finding, ...]


def history(network: OpenNetwork, code: str, *, shelf: GearShelf | None = None) -> History:
    """Work out everything that was read at a well."""
    return history_of(well_file(network, code), network, shelf or gear_shelf(network))


def history_of(file: WellFile, network: OpenNetwork, shelf: GearShelf) -> History:
    """The history told by a well's file."""
    reviews = {f.value.entry: f.value for f in file.of_kind("review")}
    visit_ids = {f.value.visit for f in file.facts if isinstance(f.value, Readings)}
    read_at = visit_ids | {fact.entry.id for visit in visit_ids if (fact := file.visit_fact(visit))}
    rows = []
    for fact in file.facts:
        if isinstance(fact.value, Readings):
            rows.append(_row(fact, file, network, shelf, reviews.get(fact.entry.id)))
        elif isinstance(fact.value, Visit) and (_reached(fact.value) or fact.entry.id not in read_at):
            rows.append(_visit_row(fact, file, network, shelf))
    unreadable = tuple(f for f in file.facts if f.value is None)
    levels = check_levels(
        [Levelled(f.entry.measured_at, f.value) for f in file.of_kind("level check")],
        ReadingContext(settings=network.settings, when=rows[-1].entry.measured_at if rows else ""),
    )
    return History(file, tuple(rows), unreadable, _bottom(rows, file, network), tuple(levels))


def _row(fact: WellFact, file: WellFile, network: OpenNetwork, shelf: GearShelf, review: Review | None) -> Row:
    readings: Readings = fact.value
    context = context_of(file, fact.entry.measured_at, shelf, network, readings)
    value = _time_noted(reduce_readings(readings.method, readings.read, context), fact.entry)
    visit = file.visit(readings.visit)
    remarks = readings.read.remarks or (visit.remarks if visit else "")
    return Row(fact.entry, readings.method, context.seen, value, fact.struck_by, review, remarks)


def _time_noted(value: Reduction, entry: Entry) -> Reduction:
    if "T" in entry.measured_at:
        return value
    return value._replace(findings=by_weight([*value.findings, TIME_NOT_KNOWN]))


def _reached(visit: Visit) -> bool:
    """Whether the visit says how far a tape went without a reading."""
    return visit.seen.depth_reached is not None or visit.seen.hung_up_at is not None


def _visit_row(fact: WellFact, file: WellFile, network: OpenNetwork, shelf: GearShelf) -> Row:
    visit: Visit = fact.value
    context = context_of(file, fact.entry.measured_at, shelf, network, visit)
    value = reduce_depth_reached(context)
    return Row(fact.entry, "visit", visit.seen, value, fact.struck_by, None, visit.remarks)


def soundings(rows: list[Row] | tuple[Row, ...]) -> list[Sounding]:
    """The total depths among the rows that may count."""
    sounded = []
    for row in rows:
        if row.value is None or row.struck_by or row.value.use != TOTAL_DEPTH or row.quality not in USABLE:
            continue
        below = row.value.result(BELOW_LAND)
        if below is not None:
            sounded.append(Sounding(row.entry.measured_at[:10], below.value_m, tuple(row.value.parts)))
    return sounded


def _bottom(rows: list[Row], file: WellFile, network: OpenNetwork) -> WellCondition | None:
    sounded = soundings(rows)
    if not sounded:
        return None
    last = max(sounded).on
    context = context_of(file, last, GearShelf({}, {}), network, Visit())
    return well_condition(sounded, context)


def find_row(told: History, which: str) -> Row:
    """The row a person means: "last", a date, a time, the end of an entry's id, a method, or a date and a method.

    Raises
    ------
    NoSuchReading, SeveralReadings
    """
    rows = [row for row in told.rows if row.value is not None]
    method = next((name for name in REDUCERS if which.endswith(name)), "")
    rows = [row for row in rows if method in ("", row.what)]
    point = which.removesuffix(method).strip()
    if point not in {"", "last"}:
        rows = [row for row in rows if row.entry.measured_at.startswith(point) or _ends(row.entry.id, point)]
    matching = [row for row in rows if row.struck_by is None] or rows
    if point in {"", "last"}:
        matching = matching[-1:]
    if not matching:
        raise NoSuchReading(told.file.code, which)
    if len(matching) > 1:
        raise SeveralReadings(told.file.code, which, [(row.entry.id, row.what) for row in matching])
    return matching[0]


def _ends(identity: str, end: str) -> bool:
    return len(end) >= SHORTEST_END and identity.endswith(end.lower())


def entry_meant(network: OpenNetwork, about: str, which: str) -> str:
    """Id of the entry a person means: about a well or a piece of gear, by the end of its id, or a reading's words.

    Raises
    ------
    NoSuchWell, NoSuchReading, SeveralReadings
    """
    gear = entries(network.record, about=about_gear(about), struck=True)
    ids = [held.entry.id for held in gear if _ends(held.entry.id, which)]
    if not ids and not (gear and which == "last"):
        ids = [fact.entry.id for fact in well_file(network, about).facts if _ends(fact.entry.id, which)]
    elif not ids:
        ids = [gear[-1].entry.id]
    return ids[0] if len(ids) == 1 else find_row(history(network, about), which).entry.id
