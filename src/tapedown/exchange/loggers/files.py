"""Bytes of a logger's file and its profile -> rows in SI, with an account of every line.

Two ways lead to the same rows. A file whose lines are all shaped alike is streamed: it is never in memory as a whole,
however long it is; that is why a path is taken beside bytes, and handed on unopened. The streaming reader is strict,
and whatever it refuses (a quote that never closes, a line with a cell too many) is read line by line instead, so that
the line can be named.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple, TypeAlias

import polars as pl

from tapedown.exchange.loggers.diagnostics import (
    LINE,
    Account,
    LinesAside,
    account_of,
    lines_aside,
    no_row,
    number_of,
    told_aside,
)
from tapedown.exchange.loggers.times import time_of
from tapedown.exchange.tables.reading import Table, TableRow, read_table
from tapedown.exchange.tables.spreadsheets import looks_like_spreadsheet
from tapedown.values.errors import TapedownError
from tapedown.values.results import Finding
from tapedown.values.series.logger_files import DELIMITERS, Profile, SeriesColumn
from tapedown.values.units import UNITS, known_unit

Source: TypeAlias = bytes | Path
_HEAD_BYTES = 1 << 20
_CHUNK_BYTES = 1 << 22
_NUMBERED = pl.col(LINE).alias("line")


class ProfileDoesNotFit(TapedownError):
    """The profile names a column that the file does not have, or has twice."""


class LoggerRead(NamedTuple):
    """Rows of a logger's file in the order of its lines, and the account of the lines.

    frame    `line`, `time` (UTC), then a column in SI for every column of the profile
    """

    frame: pl.LazyFrame
    account: Account


def read_logger_file(source: Source, profile: Profile, *, into: Path | None = None) -> LoggerRead:
    """Rows and account of a logger's file.

    Parameters
    ----------
    source : bytes of a text file or a spreadsheet, or the path of a text file
    profile : its layout
    into : Parquet file the rows are written to, so that they need not be held in memory

    Raises
    ------
    NotATable, TableTooLarge
        No table can be read.
    ProfileDoesNotFit
        A column of the profile is not there, or there twice.
    """
    if not looks_like_spreadsheet(_head(source)):
        streamed = _streamed(source, profile, into)
        if streamed is not None:
            return streamed
    return _line_by_line(source if isinstance(source, bytes) else source.read_bytes(), profile, into)


def in_si(number: pl.Expr, column: SeriesColumn) -> pl.Expr:
    """A column's numbers in SI, depth positive down, under the name the quantity has inside."""
    factor, offset = UNITS[column.quantity][known_unit(column.unit, column.quantity)]
    if column.positive == "up" and column.holds == "depth to water":
        factor = -factor
    moved = number + offset if offset else number
    return (moved * factor if factor != 1.0 else moved).alias(column.si_name)


def column_names(header: tuple[str, ...], profile: Profile) -> tuple[str, ...]:
    """Names of the file's columns, "1", "2", ... when it has no header; those of the profile are there once each.

    Raises
    ------
    ProfileDoesNotFit
    """
    names = header if profile.header_line else tuple(str(place) for place in range(1, len(header) + 1))
    clock = profile.clock
    for wanted in (clock.date, *([clock.time] if clock.time else []), *(column.name for column in profile.columns)):
        if names.count(wanted) != 1:
            there = "stands twice" if wanted in names else "is not there"
            known = ", ".join(repr(name) for name in names[:40] if name)
            raise ProfileDoesNotFit(f"column {wanted!r} {there}", hint=f"the columns are: {known}; is it header_row?")
    return tuple(name if names.count(name) == 1 and name else f"{name} ({place})" for place, name in enumerate(names))


def _streamed(source: Source, profile: Profile, into: Path | None) -> LoggerRead | None:
    """Rows by the streaming reader; None when the file is not shaped for it."""
    head = _head(source)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in head:
        return None
    first = b"".join(head.splitlines(keepends=True)[: max(profile.header_line, 1)])
    names = column_names(_table(first, profile, max(profile.header_line, 1)).header, profile)
    lines, quoted = _counted(source)
    try:
        rows = _scan(source, profile, names, quoted=quoted, numbers=True)
        numbers = [in_si(pl.col(column.name), column) for column in profile.columns]
        kept = _kept(rows.select(_NUMBERED, time_of(profile.clock, clean=True).alias("time"), *numbers), into)
        account = account_of(kept, (), lines, profile, ())
        if account.above + account.rows + account.no_rows != lines:
            return None
        if not account.no_rows:
            return LoggerRead(kept, account)
        odd = kept.filter(no_row(profile)).select("line").collect(engine="streaming")["line"]
        cells = _cells_of(_scan(source, profile, names, quoted=quoted, numbers=False), odd)
    except pl.exceptions.PolarsError:
        return None
    aside = lines_aside(cells, profile)
    if sum(group.number for group in aside) != account.no_rows:  # blanks around cells, which the streaming reader minds
        return None
    return _read(kept, aside, lines, profile, ())


def _scan(source: Source, profile: Profile, names: tuple[str, ...], *, quoted: bool, numbers: bool) -> pl.LazyFrame:
    """The lines below the header: text cells, those of the profile's columns as numbers when asked for."""
    floats = {column.name for column in profile.columns} if numbers else set()
    return pl.scan_csv(
        source,
        schema={name: pl.Float64 if name in floats else pl.String for name in names},
        has_header=False,
        skip_lines=profile.header_line,
        row_index_name=LINE,
        row_index_offset=profile.header_line + 1,
        separator=DELIMITERS[profile.delimiter],
        quote_char='"' if quoted else None,
        decimal_comma=profile.decimal_comma,
        null_values=[word for word in profile.blanks if word] if numbers else None,
        ignore_errors=numbers,
        encoding="utf8-lossy",
    )


def _cells_of(rows: pl.LazyFrame, lines: pl.Series) -> pl.DataFrame:
    return rows.filter(pl.col(LINE).is_in(lines.implode())).collect(engine="streaming")


def _line_by_line(data: bytes, profile: Profile, into: Path | None) -> LoggerRead:
    table = _table(data, profile, max(profile.header_line, 1))
    names = column_names(table.header, profile)
    rows = table.rows if profile.header_line else [TableRow(1, table.header), *table.rows]
    good = [row for row in rows if not row.problem]
    cells = pl.DataFrame(
        {
            LINE: pl.Series([row.number for row in good], dtype=pl.UInt32),
            **{name: pl.Series([row.cells[at] for row in good], dtype=pl.String) for at, name in enumerate(names)},
        }
    )
    broken = pl.DataFrame(
        {
            LINE: pl.Series([row.number for row in rows if row.problem], dtype=pl.UInt32),
            "reason": pl.Series([row.problem for row in rows if row.problem], dtype=pl.String),
        }
    )
    numbers = [in_si(number_of(column, profile), column) for column in profile.columns]
    kept = _kept(cells.lazy().select(_NUMBERED, time_of(profile.clock).alias("time"), *numbers), into)
    aside = (*told_aside(broken), *lines_aside(cells, profile))
    return _read(kept, aside, profile.header_line + len(rows), profile, table.findings)


def _read(
    kept: pl.LazyFrame, aside: tuple[LinesAside, ...], lines: int, profile: Profile, findings: tuple[Finding, ...]
) -> LoggerRead:
    rows = kept.filter(~no_row(profile)) if aside else kept
    return LoggerRead(rows, account_of(kept, aside, lines, profile, findings))


def _kept(rows: pl.LazyFrame, into: Path | None) -> pl.LazyFrame:
    if into is None:
        return rows.collect(engine="streaming").lazy()
    rows.sink_parquet(into, compression="uncompressed")  # read back at once, several times
    return pl.scan_parquet(into)


def _table(data: bytes, profile: Profile, header_row: int) -> Table:
    delimiter = DELIMITERS.get(profile.delimiter, "")
    return read_table(data, header_row=header_row, sheet=profile.sheet, delimiter=delimiter)


def _head(source: Source) -> bytes:
    if isinstance(source, bytes):
        return source[:_HEAD_BYTES]
    with source.open("rb") as file:
        return file.read(_HEAD_BYTES)


def _counted(source: Source) -> tuple[int, bool]:
    """How many lines the file has, and whether there is a quotation mark in it."""
    lines, quoted, last = 0, False, b"\n"
    for chunk in _chunks(source):
        lines += chunk.count(b"\n")
        quoted = quoted or b'"' in chunk
        last = chunk[-1:]
    return lines + (last != b"\n"), quoted


def _chunks(source: Source) -> Iterator[bytes]:
    if isinstance(source, bytes):
        yield source
        return
    with source.open("rb") as file:
        while chunk := file.read(_CHUNK_BYTES):
            yield chunk
