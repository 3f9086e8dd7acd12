"""Bytes of a CSV file or a spreadsheet -> a table of text cells, with the line of the file each row starts on.

A row that cannot be read is kept, with its problem and the mend, so that every line of a file can be accounted for.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.exchange.tables.spreadsheets import looks_like_spreadsheet, sheet_rows
from tapedown.values.results import Finding

LARGEST_BYTES = 200_000_000
"""Larger files are refused; ours: some two million lines."""
DELIMITERS = ",;\t|"


class TableRow(NamedTuple):
    """One row under the header.

    number   line of the file it starts on, counted from 1 (in a spreadsheet: the row)
    cells    text cells, as many as the header has; () when the row could not be read
    problem, mend  why it could not be read and what to do, else ""
    """

    number: int
    cells: Sequence[str]
    problem: str = ""
    mend: str = ""


class Table(NamedTuple):
    """A table: column names, rows, and findings about the file as a whole."""

    header: tuple[str, ...]
    rows: list[TableRow]
    findings: tuple[Finding, ...] = ()


def read_table(data: bytes, *, header_row: int = 1, sheet: str = "", delimiter: str = "") -> Table:
    """Read the bytes of a CSV file or a spreadsheet (xlsx).

    header_row is the row the column names stand in, from 1; sheet the name of a spreadsheet's sheet, "" for the first;
    delimiter is found by itself when "".

    Raises
    ------
    NotATable
        Empty, no readable spreadsheet, no such sheet or header row.
    TableTooLarge
        More bytes, or more when unpacked, than is sensible.

    Example
    -------
    >>> read_table(b"well;depth\\r\\nMF-07;84,30\\r\\n").rows
    [TableRow(number=2, cells=['MF-07', '84,30'], problem='', mend='')]
    """
    if len(data) > LARGEST_BYTES:
        raise TableTooLarge(f"the file has {len(data):,} bytes", hint=f"split it; the limit is {LARGEST_BYTES:,}")
    if looks_like_spreadsheet(data):
        rows: Iterator[TableRow] = (TableRow(number, cells) for number, cells in sheet_rows(data, sheet))
        return _shaped(rows, header_row, ())
    if sheet:
        raise NotATable(f"the file is no spreadsheet, but sheet {sheet!r} is asked for", hint="leave sheet out")
    text, findings = decoded(data)
    lines = list(io.StringIO(text, newline=""))
    if not any(line.strip() for line in lines):
        raise NotATable("the file is empty", hint="export it again")
    return _shaped(_csv_rows(lines, delimiter or _delimiter(lines, header_row)), header_row, findings)


def decoded(data: bytes) -> tuple[str, tuple[Finding, ...]]:
    """The text of a file, and a finding when it had to be read as Latin-1."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace"), ()
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError as error:
        not_utf8 = finding(
            "not-utf-8",
            f"byte {error.start + 1} of the file is not UTF-8: the file was read as Latin-1",
            "look at letters with accents; if they are wrong, save the file as UTF-8 and import it again",
        )
        return data.decode("latin-1"), (not_utf8,)


def _delimiter(lines: list[str], header_row: int) -> str:
    """The candidate that cuts the header row into most cells."""
    header = lines[min(header_row, len(lines)) - 1]
    unquoted = "".join(header.split('"')[::2])
    return max(DELIMITERS, key=unquoted.count)


def _csv_rows(lines: list[str], delimiter: str) -> Iterator[TableRow]:
    """Rows of a CSV text. After a row whose quotes do not close, reading goes on at the line after its first."""
    at, damaged = 0, any("\0" in line for line in lines)
    while at < len(lines):
        first = at
        reader = csv.reader(map(lines.__getitem__, range(first, len(lines))), delimiter=delimiter, strict=True)
        try:
            for cells in reader:
                yield _nul(at + 1) if damaged and any("\0" in cell for cell in cells) else TableRow(at + 1, cells)
                at = first + reader.line_num
        except csv.Error as error:
            yield TableRow(at + 1, (), *_unreadable(str(error), delimiter))
            at += 1


def _nul(number: int) -> TableRow:
    return TableRow(
        number, (), "the line holds NUL bytes: it is damaged or not text", "export the file again as UTF-8 text"
    )


def _unreadable(error: str, delimiter: str) -> tuple[str, str]:
    if "limit" in error:
        limit = csv.field_size_limit()
        return f"a cell holds more than {limit:,} characters", "is a quote missing? else shorten it"
    if "end of data" in error:
        return "a quotation mark is opened and never closed", 'close it, or write a quote inside a cell as ""'
    return (
        "quotation marks do not stand around a whole cell",
        f'write a quote inside a quoted cell as "", and {delimiter!r} after it',
    )


def _shaped(rows: Iterator[TableRow], header_row: int, findings: tuple[Finding, ...]) -> Table:
    """The rows under the header, each with as many cells as the header."""
    if header_row < 1:
        raise ValueError(f"header_row is {header_row}; rows are counted from 1")
    header = next((row for place, row in enumerate(rows, 1) if place == header_row), None)
    if header is None or header.problem or not any(name.strip() for name in header.cells):
        why = header.problem if header is not None and header.problem else "it is empty or beyond the end"
        raise NotATable(f"there are no column names in row {header_row}: {why}", hint="set file.header_row")
    names = tuple(name.strip() for name in header.cells)
    return Table(names, [_fitted(row, len(names)) for row in rows], findings)


def _fitted(row: TableRow, width: int) -> TableRow:
    extra = len(row.cells) - width
    if row.problem:
        return row
    if not any(cell.strip() for cell in row.cells):
        return TableRow(row.number, (), "an empty line", "nothing to do")
    if extra == 0:
        return row
    if extra > 0 and not any(cell.strip() for cell in row.cells[width:]):
        return row._replace(cells=row.cells[:width])
    return TableRow(
        row.number,
        (),
        f"the line has {len(row.cells)} cells, the header has {width}",
        "is a quote or a delimiter missing? put the cells back under their columns",
    )


__all__ = ["NotATable", "Table", "TableRow", "TableTooLarge", "read_table"]
