"""Lines of a table of wells, or of lengths of screen or casing -> identities, positions, constructions."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

from tapedown.engine.checks.wells import check_construction, check_position
from tapedown.exchange.tables.cells import Cells, Columns, LineAside, checked
from tapedown.exchange.tables.lines import SAME, Known, Proposed, TableLine, filled
from tapedown.exchange.tables.mapping import Cell, TableMapping
from tapedown.exchange.tables.reading import Table, TableRow
from tapedown.values.forms import Field, Form
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.progress import Watch, counted, unwatched
from tapedown.values.results import Finding
from tapedown.values.wells import INTERVAL, Construction, Interval, Position

_WHY = "completed from an imported table"


@lru_cache(maxsize=65536)
def about_of(code: str) -> str:
    """What entries about the well with this code are about. Raises LineAside for a code no well can have."""
    if not code:
        raise LineAside("the well's code is blank", "write it; a line without its well cannot be used")
    value, problems = KINDS["well"].read({"code": code}, "m")
    if value is None:
        raise LineAside(f"the well's code: {problems[0].message}", problems[0].mend)
    return about_well(value.code)


class FieldsReader:
    """The fields a mapping names for one form, ready to read from lines."""

    def __init__(self, columns: Columns, kind: str) -> None:
        self.form: Form = INTERVAL if kind in ("screen", "casing") else KINDS[kind]
        self.unit = columns.mapping.length_unit
        fields = {field.name: field for field in self.form.fields}
        mapped = columns.mapping.fields.get(kind, {})
        self.names = tuple(mapped)
        self.readers = tuple(_reader(columns, fields[name], cell) for name, cell in mapped.items())
        self.varies = tuple(not isinstance(cell, Cell) or bool(cell.column) for cell in mapped.values())

    def read(self, cells: Cells, **more: str) -> Any | None:
        """The value; None when nothing but what always holds is told. Raises LineAside."""
        given = [reader(cells) for reader in self.readers]
        if not more and not any(one and varies for one, varies in zip(given, self.varies)):
            return None
        value, problems = self.form.read({**dict(zip(self.names, given)), **more}, self.unit)
        return checked(value, problems)


def _reader(columns: Columns, field: Field, cell: Cell | tuple[Cell, ...]) -> Callable[[Cells], Any]:
    if not isinstance(cell, Cell):
        texts = [columns.text(one) for one in cell]
        return lambda cells: [written for text in texts if (written := text(cells))]
    if field.kind in ("text", "choice", "when", "flag"):
        return columns.text(cell)
    if cell.means:
        return columns.uncertainty(cell, field.kind)
    number = columns.number(cell, field.kind)
    return lambda cells: str(written) if (written := number(cells)) is not None else ""


def well_lines(table: Table, mapping: TableMapping, known: Known, watch: Watch = unwatched) -> list[TableLine]:
    """One Line for every row of a table of wells. Raises MappingDoesNotFit."""
    reader = _WellReader(table, mapping, known)
    return [or_aside(row, reader.line) for row in counted(table.rows, "lines read", watch)]


def length_lines(table: Table, mapping: TableMapping, known: Known, watch: Watch = unwatched) -> list[TableLine]:
    """One Line for every row of a table of screens or of casings. Raises MappingDoesNotFit.

    All screens (or casings) of a well become one construction, together with what the record knows of it already. It
    stands with the first of the well's lines. When one of them cannot be read, none is taken: half of them would be a
    wrong fact.
    """
    reader = _LengthReader(table, mapping, known)
    rows = counted(table.rows, "lines read", watch)
    asides = {row.number: line for row in rows if (line := or_aside(row, reader.take)).outcome == "set aside"}
    lines = {line.number: line for about in reader.lengths for line in reader.lines(about)}
    return [asides.get(row.number) or lines[row.number] for row in table.rows]


def or_aside(row: TableRow, read: Callable[[TableRow], TableLine]) -> TableLine:
    """A row read, or set aside with the reason."""
    if row.problem:
        return TableLine(row.number, "set aside", reason=row.problem, mend=row.mend)
    try:
        return read(row)
    except LineAside as aside:
        return TableLine(row.number, "set aside", reason=aside.reason, mend=aside.mend)


class _WellReader:
    """Wells, one line each."""

    def __init__(self, table: Table, mapping: TableMapping, known: Known) -> None:
        columns = Columns(table, mapping)
        self.known, self.code = known, columns.text(mapping.code)
        self.well = FieldsReader(columns, "well")
        self.facts = {kind: FieldsReader(columns, kind) for kind in ("position", "construction")}
        self.first: dict[str, tuple[int, list[Any]]] = {}

    def line(self, row: TableRow) -> TableLine:
        """The line. Raises LineAside."""
        about = about_of(self.code(row.cells))
        well = self.well.read(row.cells, code=about.partition("/")[2])
        facts = {kind: value for kind, reader in self.facts.items() if (value := reader.read(row.cells)) is not None}
        values = {"well": well, **facts}
        number, before = self.first.setdefault(about, (row.number, [*values.items()]))
        if number != row.number:
            if before != [*values.items()]:
                raise LineAside(f"line {number} says otherwise about the same well", "keep the one that is right")
            return TableLine(row.number, "already there", reason=SAME, same_as=number)
        return _told(row.number, about, values, self.known)


class _LengthReader:
    """Screens or casings, many lines a well."""

    def __init__(self, table: Table, mapping: TableMapping, known: Known) -> None:
        columns = Columns(table, mapping)
        self.what = mapping.makes
        self.known, self.code = known, columns.text(mapping.code)
        self.length = FieldsReader(columns, self.what.removesuffix("s"))
        self.lengths: dict[str, dict[int, Interval]] = {}
        self.spoilt: dict[str, int] = {}

    def take(self, row: TableRow) -> TableLine:
        """Keep the length with its well. Raises LineAside."""
        about = about_of(self.code(row.cells))
        if self.known.latest("well", about) is None:
            raise LineAside(f"no well {about.partition('/')[2]} in the record", "import the table of wells first")
        try:
            length = self.length.read(row.cells)
        except LineAside:
            self.spoilt.setdefault(about, row.number)
            raise
        if length is None:
            raise LineAside("neither top nor bottom was written", "write both, or take the line out")
        self.lengths.setdefault(about, {})[row.number] = length
        return TableLine(row.number, "enter")

    def lines(self, about: str) -> list[TableLine]:
        """The lines of one well."""
        lengths = self.lengths[about]
        if about in self.spoilt:
            why = f"line {self.spoilt[about]} of the same well cannot be read"
            return [TableLine(number, "set aside", reason=why, mend="mend that line first") for number in lengths]
        first = {length: number for number, length in reversed(lengths.items())}
        ordered = tuple(sorted(first, key=lambda length: (length.top.si, length.bottom.si)))
        casings, screens = ((), ordered) if self.what == "screens" else (ordered, ())
        nothing_else = Construction(None, None, casings, screens, None, None, (), "", "")
        leading, *others = lengths
        head = _told(leading, about, {"construction": nothing_else}, self.known)
        lines = [head]
        for number in others:
            twin = first[lengths[number]]
            if twin != number:
                lines.append(TableLine(number, "already there", reason=SAME, same_as=twin))
            else:
                lines.append(head._replace(number=number, drafts=(), findings=(), carried_by=leading))
        return lines


def _told(number: int, about: str, values: Mapping[str, Any], known: Known) -> TableLine:
    """What a line tells about a well, beside what the record knows."""
    drafts: list[Proposed] = []
    otherwise: list[Finding] = []
    findings: list[Finding] = []
    for kind, value in values.items():
        new, other = filled(known.latest(kind, about), kind, about, KINDS[kind].body(value), _WHY)
        drafts += new
        otherwise += other
        if isinstance(value, Position):
            findings += check_position(value)
        if isinstance(value, Construction):
            whole = KINDS[kind].read(json.loads(new[0].body), known.length_unit)[0] if new else value
            findings += check_construction(whole or value)
    if not drafts and otherwise:
        return TableLine(number, "set aside", (), (), otherwise[0].message, otherwise[0].hint)
    reason = "" if drafts else "the record says the same"
    return TableLine(number, "enter" if drafts else "already there", tuple(drafts), (*otherwise, *findings), reason)
