"""Observations of several streams as one row: what was read by hand, and what loggers recorded, left where it is kept.

A logger may have millions of rows. A time window, an order by time or by result, a page and a count are answered by
the columns themselves; only rows that are shown, or that a filter has to look at one by one, become entities.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, NamedTuple

from tapedown.exchange.filter_grammar import Window
from tapedown.exchange.recorded import A_BATCH, texts_of

if TYPE_CHECKING:
    import polars as pl

    from tapedown.exchange.delivery import Recorded
    from tapedown.exchange.sensorthings import Entity

MOST_LOOKED = 200_000
"""Rows of loggers that a filter may look at one by one for an answer; ours."""
TIMES = (("phenomenonTime",), ("resultTime",))
_COLUMNS: dict[tuple[str, ...], str] = {**dict.fromkeys(TIMES, "time"), ("result",): "value_m"}
Order = tuple[tuple[tuple[str, ...], bool], ...]


class TooMuchToLookAt(Exception):
    """A filter would have to look at more rows of loggers than are looked at."""

    def __init__(self) -> None:
        super().__init__(
            f"more than {MOST_LOOKED:,} values of loggers would have to be looked at one by one; "
            "narrow it down: phenomenonTime ge ... and phenomenonTime le ..."
        )


class Wanted(NamedTuple):
    """Which observations: a window of time known beforehand, a test for each one (None for none), their order."""

    window: Window = Window()
    test: Callable[[Entity], bool] | None = None
    order: Order = ()

    @property
    def by_columns(self) -> bool:
        """Whether the columns of a logger's series can answer without looking at its rows one by one."""
        if self.test is not None and not self.window.whole:
            return False
        return not self.order or (len(self.order) == 1 and self.order[0][0] in _COLUMNS)


class LoggedRun:
    """The observations of one logger series. `make` makes an entity of a row."""

    def __init__(self, series: Recorded, make: Callable[[dict[str, Any]], Entity]) -> None:
        self.series, self._make = series, make

    def chosen(self, wanted: Wanted, start: int, most: int) -> tuple[list[Entity], int] | None:
        """A part of those that are wanted, and how many there are; None where they have to be looked at one by one."""
        if not wanted.by_columns:
            return None
        column = _COLUMNS[wanted.order[0][0]] if wanted.order else "time"
        rows, count = self._within(wanted.window)
        if column != "time":
            down = wanted.order[0][1]
            rows = rows.sort(column, descending=down, nulls_last=down, maintain_order=True)
        elif wanted.order and wanted.order[0][1]:
            most = max(0, min(most, count - start))
            found = rows.slice(max(0, count - start - most), most).collect()
            return self._entities(found)[::-1], count
        return self._entities(rows.slice(start, most).collect()), count

    def _within(self, window: Window) -> tuple[pl.LazyFrame, int]:
        import polars as pl

        rows = self.series.source.opened()
        if window.begin is None and window.end is None:
            return rows, self.series.size
        if window.begin is not None:
            rows = rows.filter(pl.col("time") >= _naive(window.begin))
        if window.end is not None:
            rows = rows.filter(pl.col("time") <= _naive(window.end))
        return rows, int(rows.select(pl.len()).collect().item())

    def each(self, wanted: Wanted) -> Iterator[Entity]:
        """Those that may be wanted, one after another. Raises TooMuchToLookAt."""
        rows, count = self._within(wanted.window)
        if count > MOST_LOOKED:
            raise TooMuchToLookAt
        for start in range(0, count, A_BATCH):
            yield from self._entities(rows.slice(start, A_BATCH).collect())

    def at(self, moment: datetime) -> Entity | None:
        """The observation of a time."""
        found, _ = self._within(Window(moment, moment))
        rows = self._entities(found.head(1).collect())
        return rows[0] if rows else None

    def _entities(self, rows: pl.DataFrame) -> list[Entity]:
        told = texts_of(rows["time"], self.series.zone)
        return [self._make({**row, "time": time}) for row, time in zip(rows.iter_rows(named=True), told)]


def _naive(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(tzinfo=None)
