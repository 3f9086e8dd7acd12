"""Lines of a table of measuring points -> the points with the days from which they held."""

from __future__ import annotations

from collections.abc import Callable

from tapedown.exchange.tables.cells import Cells, Columns, LineAside
from tapedown.exchange.tables.clock import clock_reader
from tapedown.exchange.tables.lines import SAME, Known, Proposed, TableLine, filled
from tapedown.exchange.tables.mapping import ClockColumns, TableMapping
from tapedown.exchange.tables.reading import Table, TableRow
from tapedown.exchange.tables.reading_parts import PointTold
from tapedown.exchange.tables.well_lines import about_of, or_aside
from tapedown.values.kinds import KINDS
from tapedown.values.progress import Watch, counted, unwatched
from tapedown.values.results import Finding

_WHY = "completed from an imported table"


def point_lines(table: Table, mapping: TableMapping, known: Known, watch: Watch = unwatched) -> list[TableLine]:
    """One Line for every row of a table of measuring points. A blank date says the point always held.

    Raises
    ------
    MappingDoesNotFit
    """
    reader = _PointReader(table, mapping, known)
    return [or_aside(row, reader.line) for row in counted(table.rows, "lines read", watch)]


class _PointReader:
    """Points, one line each; a well has one point of a name from one moment on."""

    def __init__(self, table: Table, mapping: TableMapping, known: Known) -> None:
        if mapping.clock is None or mapping.point is None:
            raise ValueError(f"a mapping that makes {mapping.makes!r} has no points")
        columns = Columns(table, mapping)
        self.known, self.code = known, columns.text(mapping.code)
        self.point, self.since = PointTold(columns, mapping.point), _since(columns, mapping.clock)
        self.first: dict[tuple[str, str, str], tuple[int, str]] = {}

    def line(self, row: TableRow) -> TableLine:
        """The line. Raises LineAside."""
        about = about_of(self.code(row.cells))
        if self.known.latest("well", about) is None:
            raise LineAside(f"no well {about.partition('/')[2]} in the record", "import the table of wells first")
        point = self.point.read(row.cells)
        if point is None:
            raise LineAside("no height of the point was written", "write it, or take the line out")
        since = self.since(row.cells)
        body = KINDS["measuring point"].body(point)
        number, before = self.first.setdefault((about, point.name, since), (row.number, str(body)))
        if number != row.number:
            if before != str(body):
                raise LineAside(f"line {number} says otherwise about the same point", "keep the one that is right")
            return TableLine(row.number, "already there", reason=SAME, same_as=number)
        held = self.known.named_at("measuring point", about, since, point.name)
        drafts, otherwise = filled(held, "measuring point", about, body, _WHY)
        drafts = [draft if held else draft._replace(measured_at=since) for draft in drafts]
        return _told(row.number, drafts, otherwise)


def _told(number: int, drafts: list[Proposed], otherwise: list[Finding]) -> TableLine:
    if not drafts and otherwise:
        return TableLine(number, "set aside", (), (), otherwise[0].message, otherwise[0].hint)
    reason = "" if drafts else "the record says the same"
    return TableLine(number, "enter" if drafts else "already there", tuple(drafts), tuple(otherwise), reason)


def _since(columns: Columns, clock: ClockColumns) -> Callable[[Cells], str]:
    date, time, read = columns.raw(clock.date), columns.raw(clock.time), clock_reader(clock)

    def since(cells: Cells) -> str:
        if not date(cells):
            return ""
        when = read(date(cells), time(cells))
        if when.problem:
            raise LineAside(when.problem, when.mend)
        return when.measured_at

    return since
