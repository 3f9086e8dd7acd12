"""A delivery as a spreadsheet: a sheet a table, numbers as numbers, times as times, text as text that is no formula."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from tapedown.exchange.delivery.columns import Flat, LongTable, Rounded
from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.formats.csv_package import network_to_json
from tapedown.values.errors import TapedownError

LONGEST_CELL = 32_767
"""Characters a cell takes (ECMA-376)."""
MOST_ROWS = 1_048_575
"""Rows a sheet takes under its header."""
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")


class TooManyRows(TapedownError):
    """A table with more rows than a sheet takes."""

    def __init__(self, name: str, rows: int) -> None:
        super().__init__(
            f"{name} has {rows:,} rows; a sheet takes {MOST_ROWS:,}",
            hint="deliver fewer wells (--well), or another format: csv, geoparquet",
        )


def xlsx_files(made: Tables) -> Iterator[tuple[str, bytes]]:
    """The book.

    Raises
    ------
    TooManyRows
    """
    book = Workbook(write_only=True)
    bold = Font(bold=True)
    left_out = [table for table in made.recorded if table.size > MOST_ROWS]
    _about(book, made.delivery, left_out)
    for table in made.all:
        if len(table.rows) > MOST_ROWS:
            raise TooManyRows(table.name, len(table.rows))
        _sheet(book, table, table.rows, bold)
    for long in made.recorded:
        if long not in left_out:
            _sheet(book, long, (row for rows in long.batches() for row in rows.iter_rows()), bold)
    out = io.BytesIO()
    book.save(out)
    yield "readings.xlsx", out.getvalue()


def _about(book: Any, delivery: Delivery, left_out: Sequence[LongTable]) -> None:
    sheet = book.create_sheet("about")
    sheet.column_dimensions["A"].width = 24
    sheet.column_dimensions["B"].width = 80
    rows = [("title", delivery.title), *network_to_json(delivery).items()]
    rows += [("local time", "times in the sheets are local, in the zone above; a sheet's times cannot carry an offset")]
    if any(well.series for well in delivery.wells):
        rows += [("logger rows", "their times are UTC, so that none stands twice when clocks are put back")]
    rows += [(table.name, too_long(table)) for table in left_out]
    for name, value in rows:
        settings = "; ".join(f"{k} {v}" for k, v in value.items()) if isinstance(value, dict) else value
        sheet.append([name.replace("_", " "), _text(sheet, str(settings or ""))])


def too_long(table: LongTable) -> str:
    """Why a table has no sheet, and where it is."""
    return (
        f"{table.size:,} rows are more than the {MOST_ROWS:,} a sheet takes, so they are not in this book; "
        f"{table.name}.csv of the format csv and {table.name}.parquet of geoparquet hold them all"
    )


def _sheet(book: Any, table: Flat | LongTable, rows: Iterable[tuple[Any, ...]], bold: Font) -> None:
    sheet = book.create_sheet(table.name.replace("_", " "))
    sheet.freeze_panes = "B2"
    for place, column in enumerate(table.columns, 1):
        sheet.column_dimensions[get_column_letter(place)].width = min(40, max(10, len(column.name) + 1))
    head = [WriteOnlyCell(sheet, value=column.name) for column in table.columns]
    for cell in head:
        cell.font = bold
    sheet.append(head)
    kinds = [column.kind for column in table.columns]
    for row in rows:
        sheet.append([_cell(sheet, kind, value) for kind, value in zip(kinds, row)])


def _cell(sheet: Any, kind: str, value: Any) -> Any:
    if value is None:
        return None
    if kind == "text":
        return _text(sheet, value)
    if kind == "time":
        return _time(sheet, value)
    if isinstance(value, Rounded):
        cell = WriteOnlyCell(sheet, value=value.number)
        cell.number_format = f"0.{'0' * value.decimals}" if value.decimals else "0"
        return cell
    return value


def _time(sheet: Any, value: str) -> Any:
    """The time of day as it is written: a sheet's times have no offset."""
    moment = datetime.fromisoformat(value).replace(tzinfo=None, microsecond=0)
    if moment.year < 1901:
        return _text(sheet, value)
    cell = WriteOnlyCell(sheet, value=moment)
    cell.number_format = "yyyy-mm-dd hh:mm"
    return cell


def _text(sheet: Any, text: str) -> Any:
    clean = _UNPRINTABLE.sub("\ufffd", text)[:LONGEST_CELL]
    if not clean.startswith("="):
        return clean
    cell = WriteOnlyCell(sheet, value=clean)
    cell.data_type = "s"
    return cell
