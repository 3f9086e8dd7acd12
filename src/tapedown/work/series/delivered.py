"""What loggers recorded, as it is handed on: a corrected series and its daily means, their rows left in the cache."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from tempfile import mkstemp

import polars as pl

from tapedown.engine.uncertainty.student import coverage_factor
from tapedown.exchange.delivery.contents import Recorded, RowSource
from tapedown.exchange.delivery.recorded import DAILY, ROWS, texts_of
from tapedown.record import Held
from tapedown.values.results import GOOD, MANY, MISSING
from tapedown.work.networks import GearShelf, OpenNetwork
from tapedown.work.refusals import NoSuchWell
from tapedown.work.series.corrected import Corrected, SeriesInputs, corrected_among, daily, named_by, told_story
from tapedown.work.wells.files import WellFile, file_of, series_of
from tapedown.work.wells.history import History, history_of

LEVEL = "depth_to_water_below_land_surface"


class Stories:
    """What is said of the series of a network, from entries that were read once; each well worked out at most once."""

    def __init__(self, network: OpenNetwork, held: Mapping[str, Sequence[Held]], shelf: GearShelf) -> None:
        self._network, self._held, self._shelf = network, held, shelf
        self._histories: dict[str, History] = {}
        self._inputs: dict[tuple[str, str], SeriesInputs] = {}

    def history(self, code: str) -> History:
        """The history of a well. Raises NoSuchWell."""
        if code not in self._held:
            raise NoSuchWell(code, [])
        if code not in self._histories:
            file = file_of(code, self._held[code], self._network)
            self._histories[code] = history_of(file, self._network, self._shelf)
        return self._histories[code]

    def of(self, code: str, name: str) -> SeriesInputs:
        """What is said of a series. Raises NoSuchWell, NoSuchSeries."""
        if (code, name) not in self._inputs:
            well = self.history(code)
            self._inputs[code, name] = told_story(well.file, name, well.rows)
        return self._inputs[code, name]

    def behind(self, code: str) -> set[str]:
        """Wells, this one among them, whose entries decide the series of a well."""
        codes, left = set[str](), [(code, name) for name in series_of(self.history(code).file)]
        seen = set(left)
        while left:
            well, name = left.pop()
            codes.add(well)
            others = {(other.partition("/")[0], other.partition("/")[2]) for other in named_by(self.of(well, name))}
            left += others - seen
            seen |= others
        return codes

    def close(self) -> None:
        """Let go of the entries; what was told already stays, for rows that are opened later."""
        self._held, self._histories = {}, {}


def delivered_series(network: OpenNetwork, file: WellFile, stories: Stories) -> tuple[Recorded, ...]:
    """The logger series of a well that are depths to water, each with its daily means; a barometer's is left out."""
    parts: list[Recorded] = []
    for name in series_of(file):
        again = partial(corrected_among, network, file.code, name, stories.of)
        series = again()
        if series.rows.select(pl.col("depth_m").is_not_null().any()).collect().item():
            parts.append(_recorded(network, series, ROWS, "UTC", _Opened(network, again, _levels)))
            parts.append(_recorded(network, series, DAILY, network.facts.zone, _Opened(network, again, _daily_means)))
    return tuple(parts)


class _Opened:
    """Calling it opens the rows, worked out again where the cache has let go of them."""

    def __init__(
        self,
        network: OpenNetwork,
        again: Callable[[], Corrected],
        rows: Callable[[OpenNetwork, Corrected], pl.LazyFrame],
    ) -> None:
        self._network, self._again, self._rows = network, again, rows

    def __call__(self) -> pl.LazyFrame:
        return self._rows(self._network, self._again())


def _recorded(
    network: OpenNetwork, series: Corrected, kind: str, zone: str, opened: Callable[[], pl.LazyFrame]
) -> Recorded:
    time = pl.col("time")
    ends = opened().select(pl.len().alias("count"), time.first().alias("first"), time.last().alias("last")).collect()
    first, last = texts_of(ends["first"], zone)[0], texts_of(ends["last"], zone)[0]
    source = RowSource(f"{series.place.name} {_daily_name(network) if kind == DAILY else ''}", opened)
    story = series.story
    return Recorded(story.file.code, LEVEL, kind, story.name, zone, int(ends["count"][0]), first, last, source)


def _levels(network: OpenNetwork, series: Corrected) -> pl.LazyFrame:
    return series.rows.select(
        "time",
        pl.col("depth_m").fill_nan(None).alias("value_m"),
        pl.col("u_depth_m").fill_nan(None).alias("u_m"),
        (pl.col("u_depth_m").fill_nan(None) * _factor(network)).alias("expanded_m"),
        pl.col("quality").fill_null(MISSING),
        pl.col("flag").cast(pl.Int8),
    )


def _daily_means(network: OpenNetwork, series: Corrected) -> pl.LazyFrame:
    """Daily means, kept beside the rows they are of once they were worked out."""
    place = series.place / f"{_daily_name(network)}.parquet"
    if not place.is_file():
        days = daily(series, network)
        handle, making = mkstemp(dir=series.place, prefix="making-")
        os.close(handle)
        days.with_columns(_beginnings(network.facts.zone)).write_parquet(making)
        Path(making).replace(place)
    mean = pl.col("mean_depth_m").fill_nan(None)
    u_m = pl.col("u_mean_m").fill_nan(None)
    return pl.scan_parquet(place).select(
        "time",
        mean.alias("value_m"),
        u_m.alias("u_m"),
        (u_m * _factor(network)).alias("expanded_m"),
        pl.when(mean.is_null()).then(pl.lit(MISSING)).otherwise(pl.lit(GOOD)).alias("quality"),
        pl.when(mean.is_null()).then(9).otherwise(1).cast(pl.Int8).alias("flag"),
        "rows",
        "share",
        "shallowest_m",
        "deepest_m",
    )


def _daily_name(network: OpenNetwork) -> str:
    share = network.settings.si("day_share_min")
    return f"daily {network.facts.zone.replace('/', '-')} {share:g}"


def _beginnings(zone: str) -> pl.Expr:
    """When each day began, UTC; where the clocks skipped midnight, an hour after it."""
    midnight = pl.col("day").cast(pl.Datetime("us"))
    beginning = midnight.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    later = (midnight + pl.duration(hours=1)).dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    return beginning.fill_null(later).dt.convert_time_zone("UTC").dt.replace_time_zone(None).alias("time")


def _factor(network: OpenNetwork) -> float:
    return float(coverage_factor(MANY, network.settings.si("coverage")))
