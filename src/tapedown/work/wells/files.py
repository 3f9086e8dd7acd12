"""A well as its entries tell it: what is known, what held when, and the context of each reading."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any, NamedTuple

from tapedown.engine.context import ReadingContext
from tapedown.record import Held, entries
from tapedown.values.forms import Problem
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.ledger.entries import Entry
from tapedown.values.readings import Readings, Visit
from tapedown.values.seen import NOTHING_SEEN, together
from tapedown.values.times import instant
from tapedown.values.wells import Construction, PointHeight, Position, Well
from tapedown.work.networks import GearShelf, OpenNetwork
from tapedown.work.refusals import NoSuchWell, NotKnownYet


class WellFact(NamedTuple):
    """One entry about a well with its value; value is None when the body cannot be read (see problems)."""

    entry: Entry
    value: Any
    struck_by: str | None
    problems: tuple[Problem, ...]


class WellFile(NamedTuple):
    """All facts about one well, oldest first by the time they are about."""

    code: str
    facts: tuple[WellFact, ...]
    zone: str

    def of_kind(self, *kinds: str) -> list[WellFact]:
        """Facts of these kinds that can be read and are not struck, in order of time."""
        return [f for f in self.facts if f.entry.kind in kinds and f.value is not None and f.struck_by is None]

    @property
    def identity(self) -> Well | None:
        """What the newest well entry says."""
        facts = self.of_kind("well")
        return facts[-1].value if facts else None

    def fact_in_force(self, kind: str, measured_at: str) -> WellFact | None:
        """The fact of `kind` that holds at a time: the latest not after it; the earliest when all are later."""
        facts = self.of_kind(kind)
        at = instant(measured_at, self.zone, end_of_day=True) if measured_at else None
        before = [f for f in facts if at is None or instant(f.entry.measured_at, self.zone) <= at]
        if before:
            return before[-1]
        return facts[0] if facts and kind in {"position", "construction"} else None

    def in_force(self, kind: str, measured_at: str) -> Any | None:
        """The value of the fact in force, None without one."""
        fact = self.fact_in_force(kind, measured_at)
        return fact.value if fact else None

    def visit_fact(self, identity: str) -> WellFact | None:
        """The visit with this entry id, or the one that corrected it last; struck or not."""
        if not identity:
            return None
        visits = {f.entry.id: f for f in self.facts if isinstance(f.value, Visit)}
        fact = visits.get(identity)
        while fact is not None and fact.struck_by in visits:
            fact = visits[fact.struck_by]
        return fact

    def visit(self, identity: str) -> Visit | None:
        """What the visit with this entry id says, as it was corrected last."""
        fact = self.visit_fact(identity)
        return fact.value if fact else None


def well_codes(network: OpenNetwork) -> list[str]:
    """Codes of all wells, sorted."""
    held = entries(network.record, kinds=["well"], as_of=network.as_of)
    return sorted({h.entry.subject for h in held})


def series_of(file: WellFile) -> list[str]:
    """Names of the logger series of a well, sorted."""
    return sorted({fact.value.series for fact in file.of_kind("logger file")})


def well_file(network: OpenNetwork, code: str) -> WellFile:
    """Everything known about one well, struck entries included.

    Raises
    ------
    NoSuchWell
        No entry is about this well; the message offers codes spelt alike.
    """
    held = entries(network.record, about=about_well(code), as_of=network.as_of, struck=True)
    if not held and network.as_of and entries(network.record, about=about_well(code)):
        raise NotKnownYet(code, network.as_of)
    if not held:
        raise NoSuchWell(code, difflib.get_close_matches(code, well_codes(network), n=3))
    return file_of(code, held, network)


def file_of(code: str, held: Iterable[Held], network: OpenNetwork) -> WellFile:
    """The file of a well from its entries."""
    facts = [_fact(h, network.unit) for h in held]
    facts.sort(key=lambda fact: (instant(fact.entry.measured_at, network.facts.zone), fact.entry.written_at))
    return WellFile(code, tuple(facts), network.facts.zone)


def _fact(held: Held, length_unit: str) -> WellFact:
    entry = held.entry
    form = KINDS.get(entry.kind)
    if form is None:
        problem = Problem("kind", f"kind {entry.kind!r} is not known to this version", "use the newest version")
        return WellFact(entry, None, held.struck_by, (problem,))
    value, problems = form.read(entry.data, length_unit)
    return WellFact(entry, value, held.struck_by, tuple(problems))


def context_of(
    file: WellFile, measured_at: str, shelf: GearShelf, network: OpenNetwork, readings: Readings | Visit
) -> ReadingContext:
    """The facts in force when a set was read, or when a visit without readings was made."""
    visit = readings if isinstance(readings, Visit) else file.visit(readings.visit)
    own = readings.seen if isinstance(readings, Readings) else NOTHING_SEEN
    point = point_fact(file, measured_at, readings)
    position: Position | None = file.in_force("position", measured_at)
    construction: Construction | None = file.in_force("construction", measured_at)
    return ReadingContext(
        settings=network.settings,
        when=measured_at,
        point=point.value if point else None,
        position=position,
        construction=construction,
        gear=shelf.gear,
        calibrations=shelf.calibrated(measured_at),
        seen=together(visit.seen if visit else NOTHING_SEEN, own),
        vertical_datum=network.facts.vertical_datum,
    )


def point_fact(file: WellFile, measured_at: str, readings: Readings | Visit) -> WellFact | None:
    """The measuring point in force: of the name the set gives, else the latest."""
    name = "" if isinstance(readings, Visit) else readings.read.point
    if not name:
        return file.fact_in_force("measuring point", measured_at)
    named = file._replace(
        facts=tuple(f for f in file.facts if isinstance(f.value, PointHeight) and f.value.name == name)
    )
    return named.fact_in_force("measuring point", measured_at)
