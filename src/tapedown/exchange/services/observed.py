"""Observations of several streams: read by hand, or recorded and left where they are.

A logger may have millions of rows. Bounds of time and result, an order by one of them, a page and a count are answered
by the columns themselves; only rows that are shown, or that a filter has to look at one by one, become entities.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from tapedown.exchange.delivery.recorded import A_BATCH, texts_of
from tapedown.exchange.services.entities import Entity, Looks, Related, Wanted
from tapedown.exchange.services.filter_functions import as_span
from tapedown.exchange.services.filter_grammar import Bound, Bounds

if TYPE_CHECKING:
    import polars as pl

    from tapedown.exchange.delivery.contents import Recorded

ROWS_LIKE_ONE = 200
"""Rows whose columns are passed over in the time that one entity is made and looked at; ours, measured."""
_COLUMNS = {"time": "time", "result": "value_m"}
"""Where a source keeps what is bounded or ordered by."""
_COMPARE = {"gt": operator.gt, "ge": operator.ge, "lt": operator.lt, "le": operator.le}


class LoggedRun(Related):
    """The observations of one logger series. `make` makes an entity of a row."""

    def __init__(self, series: Recorded, make: Callable[[dict[str, Any]], Entity]) -> None:
        super().__init__(series.size, lambda place: self.at_places([place])[place])
        self.series, self._of_row = series, make

    def __iter__(self) -> Iterator[Entity]:
        return self._walked(Bounds())

    def named(self, identity: str) -> Entity | None:
        """The one of an id, which ends with its time."""
        span = as_span(identity.rpartition(" ")[2])
        if span is None:
            return None
        this_moment = (Bound("time", "ge", span.begin), Bound("time", "le", span.end))
        return next((entity for entity in self._walked(Bounds(this_moment)) if entity.id == identity), None)

    def chosen(self, wanted: Wanted, start: int, most: int) -> tuple[list[Entity], int]:
        """A part of those that are wanted, and how many there are."""
        if not wanted.by_columns:
            return super().chosen(wanted, start, most)
        if wanted.column == "result":
            return _merged([self], wanted, start, most)
        count = self._count(wanted.bounds)
        most = min(most, count - start)
        if most <= 0:
            return [], count
        first = count - start - most if wanted.downwards else start
        entities = self._entities(self._rows(wanted.bounds).slice(first, most).collect())
        return entities[::-1] if wanted.downwards else entities, count

    def kept(self, wanted: Wanted) -> Iterator[Entity]:
        """Those that are wanted, as they stand."""
        return (one for one in self._walked(wanted.bounds) if wanted.test is None or wanted.test(one))

    def looks(self, wanted: Wanted) -> Looks:
        """What it costs to choose those that are wanted, before any is shown."""
        if wanted.by_columns:
            return Looks(self.count // ROWS_LIKE_ONE if wanted.bounds.each or wanted.order else 0)
        count = self._count(wanted.bounds)
        return Looks(count, count)

    def keys(self, wanted: Wanted) -> pl.DataFrame:
        """The place of each one that meets the bounds, and what it is ordered by."""
        import polars as pl

        key = pl.col(_COLUMNS[wanted.column]).cast(_kind(wanted.column))
        rows = _cut(self.series.source.opened().with_row_index("place"), wanted.bounds)
        return rows.select("place", key.alias("key")).collect()

    def at_places(self, places: list[int]) -> dict[int, Entity]:
        """The observations of these rows."""
        import polars as pl

        first, last = min(places), max(places)
        some = self.series.source.opened().slice(first, last - first + 1).with_row_index("place", first)
        rows = some.filter(pl.col("place").is_in(places)).collect().sort("place")
        return dict(zip(rows["place"].to_list(), self._entities(rows.drop("place"))))

    def _rows(self, bounds: Bounds) -> pl.LazyFrame:
        return _cut(self.series.source.opened(), bounds)

    def _count(self, bounds: Bounds) -> int:
        import polars as pl

        return int(self._rows(bounds).select(pl.len()).collect().item()) if bounds.each else self.count

    def _walked(self, bounds: Bounds) -> Iterator[Entity]:
        rows = self._rows(bounds)
        for start in range(0, self._count(bounds), A_BATCH):
            yield from self._entities(rows.slice(start, A_BATCH).collect())

    def _entities(self, rows: pl.DataFrame) -> list[Entity]:
        times = texts_of(rows["time"], self.series.zone)
        return [self._of_row({**row, "time": time}) for row, time in zip(rows.iter_rows(named=True), times)]


class Observations(Related):
    """Observations of several streams, one stream after another."""

    def __init__(self, runs: list[Related]) -> None:
        self.runs = runs
        super().__init__(sum(run.count for run in runs), lambda place: self.chosen(Wanted(), place, 1)[0][0])

    def __iter__(self) -> Iterator[Entity]:
        for run in self.runs:
            yield from run

    def named(self, identity: str) -> Entity | None:
        """The one of an id, None where it is not among them."""
        return next((entity for run in self.runs if (entity := run.named(identity))), None)

    def chosen(self, wanted: Wanted, start: int, most: int) -> tuple[list[Entity], int]:
        """A part of those that are wanted, and how many there are."""
        if wanted.order and len(self.runs) > 1:
            by_columns = wanted.by_columns and any(isinstance(run, LoggedRun) for run in self.runs)
            return _merged(self.runs, wanted, start, most) if by_columns else super().chosen(wanted, start, most)
        entities: list[Entity] = []
        count = 0
        for run in self.runs:
            part, more = run.chosen(wanted, max(0, start - count), most - len(entities))
            entities, count = entities + part, count + more
        return entities, count

    def kept(self, wanted: Wanted) -> Iterator[Entity]:
        """Those that are wanted, as they stand."""
        for run in self.runs:
            yield from run.kept(wanted)

    def looks(self, wanted: Wanted) -> Looks:
        """What it costs to choose those that are wanted, before any is shown."""
        of_runs = [run.looks(wanted) for run in self.runs]
        return Looks(sum(one.entities for one in of_runs), sum(one.rows for one in of_runs))


def _merged(runs: list[Related], wanted: Wanted, start: int, most: int) -> tuple[list[Entity], int]:
    """A part of the runs together, ordered by a column: places and keys of all, rows of those alone that are shown."""
    import polars as pl

    keys = [run.keys(wanted) if isinstance(run, LoggedRun) else _keys(run, wanted) for run in runs]
    merged = pl.concat(key.with_columns(run=pl.lit(number, pl.UInt32)) for number, key in enumerate(keys))
    down = wanted.downwards
    ordered = merged.select(
        pl.arg_sort_by("key", descending=down, nulls_last=down, maintain_order=True).slice(start, most)
    )
    shown = merged[ordered["key"]]
    entities: dict[tuple[int, int], Entity] = {}
    for number in shown["run"].unique():
        places = shown.filter(run=number)["place"].to_list()
        run = runs[number]
        made = run.at_places(places) if isinstance(run, LoggedRun) else {place: run.at(place) for place in places}
        entities |= {(number, place): entity for place, entity in made.items()}
    return [entities[one] for one in zip(shown["run"], shown["place"])], merged.height


def _keys(run: Related, wanted: Wanted) -> pl.DataFrame:
    """The same of observations that were read by hand."""
    import polars as pl

    path = wanted.order[0][0]
    passed = [
        (place, _key(entity.value(path)))
        for place, entity in enumerate(run)
        if wanted.test is None or wanted.test(entity)
    ]
    return pl.DataFrame(passed, schema={"place": pl.get_index_type(), "key": _kind(wanted.column)}, orient="row")


def _kind(column: str) -> pl.DataType:
    import polars as pl

    return pl.Datetime("us") if column == "time" else pl.Float64()


def _key(value: Any) -> Any:
    span = as_span(value)
    return _naive(span.begin) if span else value


def _cut(rows: pl.LazyFrame, bounds: Bounds) -> pl.LazyFrame:
    import polars as pl

    for column, how, limit in bounds.each:
        literal = pl.lit(_naive(limit)) if isinstance(limit, datetime) else pl.lit(limit)
        rows = rows.filter(_COMPARE[how](pl.col(_COLUMNS[column]), literal))
    return rows


def _naive(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(tzinfo=None)
