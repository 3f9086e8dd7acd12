"""Lines of a table of readings -> reading sets, visits without one, and the points and elevations they rest on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tapedown.engine.checks.named import finding
from tapedown.engine.checks.wells import DEEPEST_WELL_M, beyond_well, check_depth, check_elevation, check_position
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.registry import reduce_readings
from tapedown.exchange.tables.cells import Cells, Columns, LineAside
from tapedown.exchange.tables.clock import When, clock_reader
from tapedown.exchange.tables.lines import SAME, Known, Outcome, Proposed, TableLine
from tapedown.exchange.tables.mapping import ClockColumns, Meaning, TableMapping
from tapedown.exchange.tables.reading import Table, TableRow
from tapedown.exchange.tables.reading_parts import (
    Numbers,
    PointTold,
    ReportedDetails,
    both_meanings,
    hold_cut,
    reported_body,
    visit_body,
)
from tapedown.exchange.tables.well_lines import FieldsReader, about_of
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import canonical
from tapedown.values.progress import Watch, counted, unwatched
from tapedown.values.reading_forms import readings_body
from tapedown.values.readings import Readings
from tapedown.values.results import Finding
from tapedown.values.seen import Seen
from tapedown.values.settings import Settings
from tapedown.values.wells import PointHeight, Position
from tapedown.values.written import Written

_TAPE_CHECKS = ("cut-above-hold", "deeper-than-well")
_NOTHING = Meaning()


@dataclass(slots=True)
class _Sight:
    """A line as read, before it is seen together with the others.

    read  the value reported, the tape values in their form, or None for a line without a reading
    """

    number: int
    draft: Proposed
    read: Written | Readings | None
    findings: list[Finding]
    point: PointHeight | None
    position: Position | None


def reading_lines(
    table: Table, mapping: TableMapping, known: Known, settings: Settings, watch: Watch = unwatched
) -> list[TableLine]:
    """One Line for every row of a table of readings.

    Raises
    ------
    MappingDoesNotFit
    """
    reader = _LineReader(table, mapping, known)
    seen: list[_Sight | TableLine] = []
    for row in counted(table.rows, "lines read", watch):
        try:
            seen.append(reader.sight(row))
        except LineAside as aside:
            seen.append(TableLine(row.number, "set aside", reason=aside.reason, mend=aside.mend))
    sights = [sight for sight in seen if isinstance(sight, _Sight)]
    checks = _Checks(mapping, known, settings)
    for sight in counted(sights, "readings checked", watch):
        sight.findings += checks.of(sight)
    lines = _Lines(_facts_brought(sights, known, new_wells=mapping.new_wells))
    return [lines.line(sight) if isinstance(sight, _Sight) else sight for sight in seen]


class _LineReader:
    """The columns of one table, ready to read its rows."""

    def __init__(self, table: Table, mapping: TableMapping, known: Known) -> None:
        if mapping.clock is None or mapping.reading is None:
            raise ValueError(f"a mapping that makes {mapping.makes!r} has no readings")
        columns = Columns(table, mapping)
        self.mapping, self.known, self.part = mapping, known, mapping.reading
        self.code = columns.text(mapping.code)
        self.time = _times(columns, mapping.clock)
        self.status = columns.raw(mapping.status.column if mapping.status else "")
        self.words = mapping.status.words if mapping.status else {}
        self.numbers = Numbers(columns, mapping.reading)
        self.how, self.u = columns.text(self.part.how), columns.uncertainty(self.part.u)
        self.remarks = columns.text(self.part.remarks)
        self.point = PointTold(columns, mapping.point) if mapping.point else None
        self.position = FieldsReader(columns, "position") if "position" in mapping.fields else None

    def sight(self, row: TableRow) -> _Sight:
        """The line as read. Raises LineAside."""
        if row.problem:
            raise LineAside(row.problem, row.mend)
        cells = row.cells
        about = self._well(cells)
        when = self.time(cells)
        if when.problem:
            raise LineAside(when.problem, when.mend)
        meaning = self._meaning(cells)
        numbers = self.numbers.read(cells)
        point = self.point.read(cells) if self.point else None
        kind, body, read = self._body(cells, meaning, numbers, point.name if point else "")
        return _Sight(
            row.number,
            Proposed(kind, about, when.measured_at, body),
            read,
            list(when.findings),
            point,
            self.position.read(cells) if self.position else None,
        )

    def _well(self, cells: Cells) -> str:
        about = about_of(self.code(cells))
        if not self.mapping.new_wells and self.known.latest("well", about) is None:
            raise LineAside(
                f"no well {about.partition('/')[2]} in the record",
                "import the table of wells first, or say well.new_wells = true",
            )
        return about

    def _meaning(self, cells: Cells) -> Meaning:
        word = self.status(cells)
        if word not in self.words and word not in self.mapping.blanks:
            raise LineAside(f"the mapping does not say what status {word!r} means", "add it to status.words")
        meaning = self.words.get(word, _NOTHING)
        standing = self.numbers.raw(cells)
        if self.part.instead and standing in self.part.instead:
            meaning = both_meanings(meaning, self.part.instead[standing])
        elif meaning.no_reading and standing not in self.numbers.blanks:
            raise LineAside(
                f"status {word!r} says there is no reading, yet the line holds {standing!r}",
                "look at the source: strike out one of the two",
            )
        if meaning.set_aside:
            raise LineAside(meaning.set_aside, "nothing to do")
        return meaning

    def _body(
        self, cells: Cells, meaning: Meaning, numbers: tuple[Written, ...], point: str
    ) -> tuple[str, str, Written | Readings | None]:
        """Kind and body of the entry a line becomes, and what was read."""
        remarks = "; ".join(filter(None, (meaning.note, self.remarks(cells))))
        if not numbers:
            if not (meaning.no_reading or meaning.note or meaning.seen.explains_no_reading):
                raise LineAside(
                    "no number was written, and no reason for it",
                    "write it, or say in status.words or reading.instead what the line means",
                )
            return "visit", visit_body(_with_reason(meaning), remarks), None
        datum = f"elevation in {self.part.vertical_datum}" if self.part.vertical_datum else ""
        how = "; ".join(filter(None, (self.how(cells), datum)))
        details = ReportedDetails(self.part.reference, self.part.what, how, self.u(cells), remarks, meaning.seen, point)
        first, *cut = numbers
        if not cut:
            return "readings", reported_body(first, details), first
        tape = hold_cut(first, cut[0], details)
        return "readings", canonical(readings_body(tape)), tape


def _with_reason(meaning: Meaning) -> Seen:
    """What goes on, and why there is no reading; that the water was not reached is a reason by itself."""
    return meaning.seen._replace(no_reading=meaning.no_reading or meaning.seen.no_reading)


def _times(columns: Columns, clock: ClockColumns) -> Callable[[Cells], When]:
    date, time, read = columns.raw(clock.date), columns.raw(clock.time), clock_reader(clock)
    return lambda cells: read(date(cells), time(cells))


class _Checks:
    """What the engine says of a reading beside what is known about its well."""

    def __init__(self, mapping: TableMapping, known: Known, settings: Settings) -> None:
        if mapping.reading is None:
            raise ValueError(f"a mapping that makes {mapping.makes!r} has no readings")
        self.part, self.known, self.settings = mapping.reading, known, settings

    def of(self, sight: _Sight) -> Sequence[Finding]:
        """The findings about one line's reading."""
        value, below_m = sight.read, None
        if value is None:
            return []
        if isinstance(value, Readings):
            return self._of_tape(sight, value)
        if self.part.reference == "elevation":
            findings = check_elevation(value, "water")
            land = self._land(sight)
            below_m = land.si - value.si if land is not None else None
        else:
            findings = check_depth(value, shallowest_m=-DEEPEST_WELL_M)
            point = self._point(sight) if self.part.reference == "below measuring point" else None
            if point is not None or self.part.reference == "below land surface":
                below_m = value.si - (point.height_m if point else 0.0)
        construction = self.known.construction(sight.draft.about)
        if below_m is None or construction is None:
            return findings
        what = "bottom" if self.part.what == "total depth" else "water"
        return [*findings, *beyond_well(below_m, what, construction, self.settings)]

    def _of_tape(self, sight: _Sight, tape: Readings) -> list[Finding]:
        construction = self.known.construction(sight.draft.about)
        context = ReadingContext(self.settings, point=self._point(sight), construction=construction)
        reduction = reduce_readings(tape.method, tape.read, context)
        return [one for one in reduction.findings if one.check in _TAPE_CHECKS]

    def _point(self, sight: _Sight) -> PointHeight | None:
        if sight.point is not None:
            return sight.point
        fact = self.known.in_force("measuring point", sight.draft.about, sight.draft.measured_at)
        value: PointHeight | None = self.known.value(fact) if fact else None
        return value

    def _land(self, sight: _Sight) -> Written | None:
        if sight.position is not None:
            return sight.position.land_surface
        about = sight.draft.about
        fact = self.known.in_force("position", about, sight.draft.measured_at) or self.known.latest("position", about)
        value: Position | None = self.known.value(fact) if fact else None
        return value.land_surface if value else None


def _facts_brought(sights: Sequence[_Sight], known: Known, *, new_wells: bool) -> dict[int, list[Proposed]]:
    """Wells, points and elevations that are new with a line, by its number.

    A point or an elevation is new with the earliest reading of the well that uses it, unless the record says the same.
    """
    brought: dict[int, list[Proposed]] = {}
    current: dict[tuple[str, str], PointHeight | Position] = {}
    wells: set[str] = set()
    for sight in sorted(sights, key=lambda sight: (sight.draft.measured_at, sight.number)):
        about, at = sight.draft.about, sight.draft.measured_at
        if new_wells and about not in wells and known.latest("well", about) is None:
            wells.add(about)
            body = canonical({"code": about.partition("/")[2]})
            brought.setdefault(sight.number, []).append(Proposed("well", about, "", body))
        facts = (("measuring point", sight.point), ("position", sight.position))
        for kind, value in facts:
            if value is None or current.get((kind, about)) == value:
                continue
            current[kind, about] = value
            fact = known.in_force(kind, about, at)
            body_told, held = KINDS[kind].body(value), dict(fact.body) if fact else {}
            if {**held, **body_told} == held:
                continue
            if isinstance(value, Position):
                sight.findings += check_position(value)
                body_told = {**held, **body_told}
            brought.setdefault(sight.number, []).append(Proposed(kind, about, at, canonical(body_told)))
    return brought


class _Lines:
    """Lines seen together: what stands twice, and what stands twice differently."""

    def __init__(self, brought: dict[int, list[Proposed]]) -> None:
        self.brought = brought
        self.first: dict[Proposed, int] = {}
        self.at_time: dict[tuple[str, str], int] = {}

    def line(self, sight: _Sight) -> TableLine:
        """The line, or "already there" when an earlier one says the same."""
        draft, number = sight.draft, sight.number
        before = self.first.setdefault(draft, number)
        drafts = tuple(self.brought.get(number, ()))
        if before != number:
            outcome: Outcome = "enter" if drafts else "already there"
            return TableLine(number, outcome, drafts, tuple(sight.findings), SAME, same_as=before)
        if draft.kind == "readings":
            other = self.at_time.setdefault((draft.about, draft.measured_at), number)
            if other != number:
                sight.findings.append(_twice(draft, other))
        return TableLine(number, "enter", (*drafts, draft), tuple(sight.findings))


def _twice(draft: Proposed, other: int) -> Finding:
    return finding(
        "same-time-twice",
        f"line {other} holds another reading of {draft.about.partition('/')[2]} at {draft.measured_at}",
        "both are entered; if one is wrong, strike it with a reason",
    )
