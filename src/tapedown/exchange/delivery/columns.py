"""What a flat table is made of: columns with their units and meanings, numbers as they are reported, rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import polars as pl


class Column(NamedTuple):
    """One column.

    kind     "text", "number", "whole", "flag" or "time"
    unit     UCUM code, "" for none
    meaning  in a sentence
    choices  the words it may hold, () for any
    """

    name: str
    kind: str
    meaning: str
    unit: str = ""
    choices: tuple[str, ...] = ()


class Rounded(NamedTuple):
    """A number as it is reported: its digits are part of it."""

    text: str

    @property
    def number(self) -> float:
        """The number."""
        return float(self.text)

    @property
    def decimals(self) -> int:
        """How many digits stand after the point."""
        return len(self.text.partition(".")[2])


class Flat(NamedTuple):
    """A table: rows are as long as columns; None where there is nothing. A number is a float or a `Rounded`.

    key      columns that name a row
    belongs  column -> the table and column it refers to
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    rows: list[tuple[Any, ...]]
    key: tuple[str, ...]
    belongs: dict[str, tuple[str, str]]


class LongTable(NamedTuple):
    """A table whose rows come in batches: frames with a column for each of `columns`, `time` as text with its offset.

    key, belongs  as of a Flat
    size          how many rows
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    belongs: dict[str, tuple[str, str]]
    size: int
    batches: Callable[[], Iterator[pl.DataFrame]]
