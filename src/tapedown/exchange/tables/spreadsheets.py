"""Bytes of a spreadsheet (xlsx) -> rows of text cells.

A spreadsheet keeps numbers without the zeros written at their end: 84.30 comes out as 84.3. A mapping may state how
many decimals a column was written with.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from python_calamine import CalamineError, CalamineWorkbook, WorksheetNotFound, load_workbook

from tapedown.exchange.tables.errors import NotATable, TableTooLarge

LARGEST_UNPACKED = 500_000_000
"""A spreadsheet that unpacks to more bytes is refused; ours."""
LARGEST_CELLS = 20_000_000
"""A sheet that spans more cells, counted from its first corner, is refused; ours."""
_ZIP, _OLD = b"PK", b"\xd0\xcf\x11\xe0"
_CELL = re.compile(rb"<(?:\w+:)?c\b[^<>]*?\sr\s*=\s*[\"']([A-Za-z]{1,3})(\d{1,7})", re.ASCII)


def looks_like_spreadsheet(data: bytes) -> bool:
    """Whether the bytes start like a spreadsheet file."""
    return data.startswith((_ZIP + b"\x03\x04", _ZIP + b"\x05\x06", _OLD))


def sheet_rows(data: bytes, sheet: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of a sheet with their numbers from 1; the first sheet when `sheet` is "".

    Raises
    ------
    NotATable, TableTooLarge
    """
    if data.startswith(_OLD):
        raise NotATable("the spreadsheet is in an old or locked form", hint="save it as xlsx without a password")
    _safe_to_load(data)
    try:
        with load_workbook(io.BytesIO(data)) as book:
            rows = _cells_of(book, sheet)
    except (CalamineError, OSError, ValueError) as error:
        raise NotATable(f"the spreadsheet cannot be read: {error}", hint="save it again as xlsx, or as CSV") from error
    return ((number, [_text(cell) for cell in row]) for number, row in enumerate(rows, 1))


def _cells_of(book: CalamineWorkbook, sheet: str) -> list[list[object]]:
    names = book.sheet_names
    if not names:
        raise NotATable("the spreadsheet has no sheets", hint="save it again")
    try:
        cells = book.get_sheet_by_name(sheet or names[0])
    except WorksheetNotFound:
        raise NotATable(f"no sheet {sheet!r}", hint=f"the sheets are: {', '.join(names)}") from None
    return [[*row] for row in cells.to_python(skip_empty_area=False)]


def _safe_to_load(data: bytes) -> None:
    """Refuse what would fill the memory: the reader lays out every cell between the first corner and the last cell."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            if "[Content_Types].xml" not in {part.filename for part in parts}:
                raise NotATable("the file is a zip archive, no xlsx", hint="unpack it and import the file inside")
            unpacked = sum(part.file_size for part in parts)
            if unpacked > LARGEST_UNPACKED:
                raise TableTooLarge(
                    f"the spreadsheet unpacks to {unpacked:,} bytes", hint="save the sheet as CSV and split it"
                )
            for part in parts:
                if part.filename.endswith(".xml"):
                    _not_too_wide(archive.read(part))
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError) as error:
        raise NotATable(f"the spreadsheet is damaged: {error}", hint="save it again, or export it as CSV") from error


def _not_too_wide(xml: bytes) -> None:
    places = {(column.upper(), int(row)) for column, row in _CELL.findall(xml)}
    if not places:
        return
    height = max(row for _, row in places)
    width = max(_column_number(column) for column in {column for column, _ in places})
    if height * width > LARGEST_CELLS:
        raise TableTooLarge(
            f"a sheet spans {height:,} rows and {width:,} columns",
            hint="delete what stands far outside the table, or save the sheet as CSV",
        )


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _text(cell: object) -> str:
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        return f"{cell:.0f}" if cell.is_integer() else repr(cell)
    if isinstance(cell, datetime):
        return (cell + timedelta(milliseconds=500)).replace(microsecond=0).isoformat()
    if isinstance(cell, time):
        return cell.replace(microsecond=0).isoformat()
    return cell.isoformat() if isinstance(cell, date) else "" if cell is None else str(cell)
