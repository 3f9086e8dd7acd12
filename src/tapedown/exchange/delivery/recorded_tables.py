"""What loggers recorded as flat tables: every row of a corrected series, and its daily means.

They may be longer than memory holds, so their rows come some at a time, in columns. Depths are below land surface.
"""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl

from tapedown.exchange.delivery.columns import Column, LongTable
from tapedown.exchange.delivery.contents import Delivery, Recorded
from tapedown.exchange.delivery.recorded import DAILY, ROWS, batches, recorded_of, texts_of
from tapedown.values.results import QUALITIES

_LEVEL = (
    Column("zone", "text", "time zone of the wells, IANA name"),
    Column("depth_below_land_surface_m", "number", "depth to water below land surface, full precision", "m"),
    Column("u_depth_below_land_surface_m", "number", "its standard uncertainty", "m"),
    Column("expanded_depth_below_land_surface_m", "number", "its expanded uncertainty", "m"),
    Column("quality", "text", "quality by the OGC vocabulary", choices=QUALITIES),
    Column("qartod_flag", "whole", "flag of the quality tests: 1 pass, 2 not evaluated, 3 suspect, 4 fail, 9 missing"),
)
_WHOSE = (Column("well", "text", "code of the well"), Column("series", "text", "name of the logger's series"))
_ROWS = (*_WHOSE, Column("time", "time", "when it was recorded, clock corrected"), *_LEVEL)
_DAYS = (
    *_WHOSE,
    Column("time", "time", "beginning of the day by the clocks of the zone; the value holds for the day after it"),
    *_LEVEL,
    Column("rows", "whole", "rows the mean is of"),
    Column("share_of_day", "number", "how much of the day they cover", "1"),
    Column("shallowest_m", "number", "least depth of the day", "m"),
    Column("deepest_m", "number", "greatest depth of the day", "m"),
)
_KEPT = ("value_m", "u_m", "expanded_m", "quality", "flag")
_KEPT_OF_DAYS = (*_KEPT, "rows", "share", "shallowest_m", "deepest_m")


def recorded_tables(delivery: Delivery) -> list[LongTable]:
    """The tables of a delivery with loggers in it; none without."""
    listed = (
        ("logger_rows", ROWS, "what loggers recorded, pulled onto the readings by hand", _ROWS, _KEPT),
        ("daily_means", DAILY, "daily means of what loggers recorded", _DAYS, _KEPT_OF_DAYS),
    )
    return [
        _table(name, meaning, columns, kept, recorded, delivery.network.zone)
        for name, kind, meaning, columns, kept in listed
        if (recorded := recorded_of(delivery, kind))
    ]


def _table(
    name: str, meaning: str, columns: tuple[Column, ...], kept: tuple[str, ...], series: list[Recorded], zone: str
) -> LongTable:
    def frames() -> Iterator[pl.DataFrame]:
        for one in series:
            for rows in batches(one):
                yield _named(rows, one, columns, kept, zone)

    size = sum(one.size for one in series)
    return LongTable(name, meaning, columns, ("well", "series", "time"), {"well": ("wells", "well")}, size, frames)


def _named(
    rows: pl.DataFrame, one: Recorded, columns: tuple[Column, ...], kept: tuple[str, ...], zone: str
) -> pl.DataFrame:
    data: list[pl.Series] = [
        pl.Series([one.well], dtype=pl.String).new_from_index(0, rows.height),
        pl.Series([one.name], dtype=pl.String).new_from_index(0, rows.height),
        pl.Series(texts_of(rows["time"], one.zone), dtype=pl.String),
        pl.Series([zone], dtype=pl.String).new_from_index(0, rows.height),
        *(rows[name] for name in kept),
    ]
    return pl.DataFrame([part.alias(column.name) for part, column in zip(data, columns)])
