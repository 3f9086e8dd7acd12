"""Cells of a line by a mapping: texts, numbers as written, uncertainties. What cannot be read sets the line aside."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any, TypeAlias

from tapedown.exchange.tables.mapping import Cell, TableMapping
from tapedown.exchange.tables.reading import Table
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.units import UNITS, from_si
from tapedown.values.written import Written, written

Cells: TypeAlias = Sequence[str]
Text: TypeAlias = Callable[[Cells], str]
Number: TypeAlias = Callable[[Cells], Written | None]

LONGEST_NUMBER = 24
"""Digits of a number that somebody read; ours."""


class MappingDoesNotFit(TapedownError):
    """The mapping names a column that the table does not have, or has twice."""


class LineAside(Exception):
    """Why a line cannot be taken in, and the mend."""

    def __init__(self, reason: str, mend: str) -> None:
        super().__init__(reason)
        self.reason, self.mend = reason, mend


def checked(value: Any, problems: Sequence[Problem]) -> Any:
    """The value, or the line is set aside with the first problem."""
    if problems:
        raise LineAside(f"{problems[0].place}: {problems[0].message}", problems[0].mend)
    return value


class Columns:
    """The columns of one table, looked up by the names a mapping uses.

    Raises
    ------
    MappingDoesNotFit
        From every method, at once, when a column is not there or stands twice.
    """

    def __init__(self, table: Table, mapping: TableMapping) -> None:
        self.table, self.mapping = table, mapping

    def at(self, column: str) -> int:
        """The place of a column, from 0."""
        places = [place for place, name in enumerate(self.table.header) if name == column.strip()]
        if len(places) == 1:
            return places[0]
        if places:
            raise MappingDoesNotFit(f"column {column!r} stands {len(places)} times", hint="rename it in the table")
        named = ", ".join(repr(name) for name in self.table.header[:40])
        raise MappingDoesNotFit(
            f"there is no column {column!r} in the table", hint=f"its columns are: {named}; is it file.header_row?"
        )

    def raw(self, column: str) -> Text:
        """The cell as it stands, without the spaces around it; "" when no column is named."""
        if not column:
            return lambda _cells: ""
        at = self.at(column)
        return lambda cells: cells[at].strip()

    def text(self, cell: Cell | None) -> Text:
        """The text of a field, "" when nothing was written."""
        if cell is None or not cell.column:
            always = cell.always if cell else ""
            return lambda _cells: always
        at, blanks, words, column = self.at(cell.column), self.mapping.blanks | cell.blanks, cell.words, cell.column

        def read(cells: Cells) -> str:
            text = cells[at].strip()
            if words is not None and text in words:
                return words[text]
            if text in blanks:
                return ""
            if words is not None:
                raise LineAside(f"{column}: the mapping does not say what {text!r} means", f"add it to {column}.words")
            return text

        return read

    def number(self, cell: Cell | None, quantity: str = "length") -> Number:
        """The number of a field as written, None when nothing was written."""
        text = self.text(cell)
        unit = (cell.unit if cell else "") or (
            self.mapping.length_unit if quantity == "length" else next(iter(UNITS[quantity]))
        )
        decimals, comma = cell.decimals if cell else None, self.mapping.decimal_comma

        def read(cells: Cells) -> Written | None:
            cell_text = text(cells)
            return _number(cell_text, unit, quantity, decimals, comma) if cell_text else None

        return read

    def uncertainty(self, cell: Cell | None, quantity: str = "length") -> Text:
        """A standard uncertainty as text with its unit, "" when nothing was written."""
        number = self.number(cell, quantity)

        def read(cells: Cells) -> str:
            stated = number(cells)
            return _standard(stated, cell.means if cell else "") if stated is not None else ""

        return read


@lru_cache(maxsize=65536)
def _number(text: str, unit: str, quantity: str, decimals: int | None, comma: bool) -> Written:
    if ("." if comma else ",") in text:
        sign = "a point, but decimal_comma is true" if comma else "a comma"
        raise LineAside(
            f"{text!r} holds {sign}", "say decimal_comma if it is the decimal sign; else take it out of the thousands"
        )
    if len(text) > LONGEST_NUMBER:
        raise LineAside(f"{text[:LONGEST_NUMBER]!r}... is too long for a number", "correct the cell")
    try:
        number = written(text.replace(",", "."), unit, quantity)  # a comma left here is declared to be decimal
    except ValueError as error:
        raise LineAside(str(error), "correct the cell, or name it under blanks, instead or words") from None
    if decimals is None or number.decimals >= decimals:
        return number if decimals is None else _without_noise(number, decimals)
    whole, _, part = number.text.partition(".")
    return number._replace(text=f"{whole}.{part.ljust(decimals, '0')}")


def _without_noise(number: Written, decimals: int) -> Written:
    """12.299999999999999 with two decimals is 12.30; 12.345 keeps what was written."""
    rounded = f"{float(number.text):.{decimals}f}"
    return number._replace(text=rounded) if abs(float(rounded) - float(number.text)) < 1e-9 else number


@lru_cache(maxsize=1024)
def _standard(stated: Written, means: str) -> str:
    if float(stated.text) < 0:
        raise LineAside(f"an uncertainty of {stated}", "it cannot be negative")
    if means == "standard uncertainty":
        return str(stated)
    half = from_si(stated.si / math.sqrt(3), stated.unit, stated.quantity)
    return f"{half:.6f}".rstrip("0").rstrip(".") + f" {stated.unit}"


def negated(number: Written) -> Written:
    """The same number with the other sign, digits kept.

    Example
    -------
    >>> str(negated(Written("-8.60", "ft"))), str(negated(Written("3.2", "ft")))
    ('8.60 ft', '-3.2 ft')
    """
    text = number.text.lstrip("+-")
    return number._replace(text=text if number.text.startswith("-") or not float(text) else f"-{text}")
