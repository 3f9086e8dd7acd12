"""Logger series of a network: what its entries say of them, and the corrected series worked out from the raw bytes.

The corrected series is a cache, kept in a folder of its own by the digest of everything it rests on: the bytes, how
they are read, every treatment in force, the tape readings, the settings, the version of the formulas. Deleting the
folder loses nothing; striking a treatment gives another digest, and so another series.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple, TypedDict

import polars as pl

from tapedown.engine.checks.at_the_well import DISTURBED, NOT_NOTED, PUMPING, RECOVERING, STATIC
from tapedown.engine.checks.named import by_weight
from tapedown.engine.methods.registry import ENGINE_VERSION
from tapedown.exchange.formats.series_rows import write_rows
from tapedown.exchange.loggers.files import read_logger_file
from tapedown.exchange.plain import plain
from tapedown.loggers.combine import Combined, combined
from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck, points
from tapedown.loggers.daily import daily_values
from tapedown.loggers.diagnostics import barometer_account, corrected_account, raw_account
from tapedown.loggers.epoch import between
from tapedown.loggers.excluded import main_column
from tapedown.loggers.treat import SERIES_VERSION, Treated, air_points, treat
from tapedown.record import blob
from tapedown.values.ledger.entries import canonical
from tapedown.values.results import Finding
from tapedown.values.series.series import LoggerFile, SeriesTreatment
from tapedown.values.series.treatments import (
    Barometer,
    BarometricEfficiency,
    QualityTests,
    SetAside,
    Treatment,
    treatment_body,
)
from tapedown.values.settings import Settings
from tapedown.values.times import instant
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.refusals import NoSuchSeries, SeriesInACircle
from tapedown.work.wells.files import WellFact, WellFile, series_of, well_file
from tapedown.work.wells.history import USABLE, Row, history_of

LEVELS = (STATIC, RECOVERING, DISTURBED, PUMPING, NOT_NOTED)
"""Uses of a reading a logger can be held to: the tape and the logger saw the same water, still or not."""
KEPT_VERSIONS = 4
"""Corrected versions of one series that stay in the cache; ours."""


class SeriesInputs(NamedTuple):
    """What the entries say of a series.

    files, treatments  those in force, in the order they were written; struck holds struck treatments
    levels             tape readings of the well that the series may be held to
    tried              treatments that are looked at before they are written
    """

    file: WellFile
    name: str
    files: tuple[WellFact, ...]
    treatments: tuple[WellFact, ...]
    struck: tuple[WellFact, ...]
    levels: tuple[Row, ...]
    tried: tuple[Treatment, ...] = ()

    @property
    def full_name(self) -> str:
        """ "MF-11/level"."""
        return f"{self.file.code}/{self.name}"

    @property
    def given(self) -> tuple[Treatment, ...]:
        """The treatments in force, and those that are tried."""
        return (*(part for fact in self.treatments for part in fact.value.given), *self.tried)


Told = Callable[[str, str], SeriesInputs]
"""Gives what is said of a series, by the code of its well and its name."""


class SeriesCheckJson(TypedDict):
    """A tape reading a series is held to: depth by tape, water above the logger's zero, depth of that zero."""

    at_s: float
    depth_m: float
    u_m: float
    entry: str
    water_m: float
    offset_m: float


class SegmentJson(TypedDict):
    """A stretch between two checks and how far the logger drifted over it."""

    from_s: float
    to_s: float
    drift_m: float
    refused: bool


class SeriesAbout(TypedDict):
    """What is kept of a corrected series beside its rows; times in seconds since 1970, UTC."""

    rows: int
    first_s: float
    last_s: float
    interval_s: float
    share: str
    walk_m: float | None
    checks: list[SeriesCheckJson]
    segments: list[SegmentJson]
    findings: list[Finding]


class Corrected(NamedTuple):
    """A corrected series as the cache holds it.

    rows   columns as in loggers.treat.Treated
    about  findings, checks with what they leave, segments, interval, as plain data
    place  its folder, named by the digest of everything it rests on
    """

    story: SeriesInputs
    rows: pl.LazyFrame
    about: SeriesAbout
    place: Path

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything a person should see, weightiest first."""
        return tuple(self.about["findings"])


def story_of(network: OpenNetwork, code: str, name: str) -> SeriesInputs:
    """Gather what is said of a series.

    Raises
    ------
    NoSuchWell, NoSuchSeries
    """
    file = well_file(network, code)
    return told_story(file, name, history_of(file, network, gear_shelf(network)).rows)


def told_story(file: WellFile, name: str, rows: Iterable[Row]) -> SeriesInputs:
    """What the facts of a well and its readings worked out say of a series. Raises NoSuchSeries."""
    ours = [f for f in file.facts if isinstance(f.value, (LoggerFile, SeriesTreatment)) and f.value.series == name]
    ours.sort(key=lambda fact: (fact.entry.written_at, fact.entry.id))
    files = tuple(f for f in ours if isinstance(f.value, LoggerFile) and f.struck_by is None)
    if not files:
        raise NoSuchSeries(f"{file.code}/{name}", [f"{file.code}/{known}" for known in series_of(file)])
    done = [f for f in ours if isinstance(f.value, SeriesTreatment)]
    levels = tuple(row for row in rows if _holds(row))
    return SeriesInputs(
        file,
        name,
        files,
        tuple(f for f in done if f.struck_by is None),
        tuple(f for f in done if f.struck_by is not None),
        levels,
    )


def _holds(row: Row) -> bool:
    """Whether a series may be held to this reading: a level with its time of day, not read by a logger."""
    if row.value is None or row.value.main is None or row.struck_by or "T" not in row.entry.measured_at:
        return False
    return row.value.use in LEVELS and row.quality in USABLE and row.what != "logger check"


def corrected(network: OpenNetwork, code: str, name: str) -> Corrected:
    """The corrected series, from the cache or worked out and kept there.

    Raises
    ------
    NoSuchWell, NoSuchSeries, SeriesInACircle
    """
    return corrected_among(network, code, name, partial(story_of, network))


def corrected_as_told(network: OpenNetwork, story: SeriesInputs) -> Corrected:
    """The series as its story has it, tried treatments among them; once one is written the cache has it already.

    Raises
    ------
    NoSuchWell, NoSuchSeries, SeriesInACircle
    """
    return _corrected(network, story, partial(story_of, network))


def daily(series: Corrected, network: OpenNetwork) -> pl.DataFrame:
    """Daily values by the days of the network's zone."""
    share_min = network.settings.si("day_share_min")
    return daily_values(series.rows, network.facts.zone, series.about["interval_s"], share_min).collect()


def corrected_among(network: OpenNetwork, code: str, name: str, told: Told) -> Corrected:
    """The corrected series, where `told` knows what is said of it and of the series it leans on.

    Raises
    ------
    NoSuchSeries, SeriesInACircle, and what `told` raises
    """
    return _corrected(network, told(code, name), told)


def _corrected(network: OpenNetwork, story: SeriesInputs, inputs_of: Told) -> Corrected:
    others = _others(story, inputs_of)
    place = _cache(network) / _digest([story.full_name])[:16] / _digest(_inputs(network, story, inputs_of, ()))
    if not (place / "about.json").is_file():
        _write(place, *_worked(network, story, others, inputs_of), network.settings)
    about = json.loads((place / "about.json").read_text(encoding="utf-8"))
    about["findings"] = [Finding(**found) for found in about["findings"]]
    return Corrected(story, pl.scan_parquet(place / "rows"), about, place)


def _worked(
    network: OpenNetwork, story: SeriesInputs, others: dict[str, SeriesInputs], inputs_of: Told
) -> tuple[Treated, list[Finding]]:
    """The series treated, and what its raw rows show."""
    raw = _raw(network, story)
    kept = raw.rows
    for part in story.given:
        if isinstance(part, SetAside):
            kept = kept.filter(~between(part.start, part.end))
    raw_findings = [*raw.findings, *raw_account(kept, raw.look, network.settings)]
    if main_column(raw.rows.collect_schema().names()) == "air_kpa":
        raw_findings += barometer_account(air_points(raw.rows, story.given), story.full_name)
    air, beside = {}, {}
    for name, other in others.items():
        if name in _air_names(story.given):
            air[name] = air_points(_raw(network, other).rows, other.given)
            raw_findings += barometer_account(air[name], name)
        else:
            beside[name] = _depths(corrected_among(network, other.file.code, other.name, inputs_of))
    context = SeriesContext(network.settings, _checks(story, network), air, beside)
    return treat(raw.rows, story.given, context, raw.look), raw_findings


def _depths(series: Corrected) -> PointSeries:
    return points(series.rows.select("time", "depth_m").collect(), "depth_m")


def _air_names(given: Sequence[Treatment]) -> set[str]:
    return {part.series for part in given if isinstance(part, (Barometer, BarometricEfficiency))}


def named_by(story: SeriesInputs) -> set[str]:
    """Full names of the series that this one's treatments lean on."""
    tests = {part.neighbour for part in story.given if isinstance(part, QualityTests) and part.neighbour}
    return _air_names(story.given) | tests


def _others(story: SeriesInputs, inputs_of: Told) -> dict[str, SeriesInputs]:
    """The series this one's treatments name, by full name."""
    beside = {}
    for name in sorted(named_by(story)):
        code, _, series = name.partition("/")
        beside[name] = inputs_of(code, series)
    return beside


def raw_rows(network: OpenNetwork, story: SeriesInputs) -> pl.LazyFrame:
    """The rows of all files of a series, laid into one."""
    return _raw(network, story).rows


def _raw(network: OpenNetwork, story: SeriesInputs) -> Combined:
    """All files of a series, read and laid into one."""
    read = []
    for fact in story.files:
        rows = read_logger_file(blob(network.record, fact.value.sha256).bytes, fact.value.profile).frame
        read.append((fact.value.file, rows))
    return combined(read, main_column(read[0][1].collect_schema().names()))


def _checks(story: SeriesInputs, network: OpenNetwork) -> tuple[TapeCheck, ...]:
    checks = []
    for row in story.levels:
        main = row.value.main if row.value else None
        if main is not None:
            at_s = instant(row.entry.measured_at, network.facts.zone).timestamp()
            checks.append(TapeCheck(at_s, float(main.value_m), float(main.u_m), row.entry.id))
    return tuple(checks)


def _inputs(network: OpenNetwork, story: SeriesInputs, inputs_of: Told, asked: tuple[str, ...]) -> list[Any]:
    """Everything a corrected series rests on, as plain data."""
    path = (*asked, story.full_name)
    if story.full_name in asked:
        circle = " -> ".join(path)
        raise SeriesInACircle(
            f"{circle}: a series cannot be corrected by itself", hint="strike one of these treatments"
        )
    return [
        ENGINE_VERSION,
        SERIES_VERSION,
        [fact.entry.data for fact in story.files],
        [treatment_body(part) for part in story.given],
        [list(check) for check in _checks(story, network)],
        [network.unit, network.settings.changed],
        {name: _inputs(network, other, inputs_of, path) for name, other in _others(story, inputs_of).items()},
    ]


def _digest(data: Any) -> str:
    return hashlib.sha256(canonical({"data": data}).encode("utf-8")).hexdigest()


def _cache(network: OpenNetwork) -> Path:
    """Where corrected series are kept: beside the record, or in this user's cache when the record is a server's."""
    where = network.record.where
    if "://" not in where:
        return Path(where).parent / "series"
    place = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return place / "tapedown" / "series" / _digest([where])[:16]


def _write(place: Path, treated: Treated, findings: list[Finding], settings: Settings) -> None:
    """Write a corrected series beside its place, then move it there: it is there whole or not at all."""
    place.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=place.parent, prefix="making-") as name:
        making = Path(name) / "series"
        written = treated._replace(rows=write_rows(treated.pieces(), making / "rows"))
        about = _about(written, by_weight([*findings, *corrected_account(written, settings)]))
        (making / "about.json").write_text(json.dumps(plain(about)), encoding="utf-8")
        try:
            making.rename(place)
        except OSError:
            if not (place / "about.json").is_file():  # else somebody else was first with the same series
                raise
    versions = sorted(
        (p for p in place.parent.iterdir() if (p / "about.json").is_file()), key=lambda p: p.stat().st_mtime
    )
    for old in versions[:-KEPT_VERSIONS]:
        shutil.rmtree(old, ignore_errors=True)


def _about(treated: Treated, found: Sequence[Finding]) -> SeriesAbout:
    pull = treated.pull
    return {
        "findings": list(found),
        "rows": treated.look.rows,
        "first_s": treated.look.first_s,
        "last_s": treated.look.last_s,
        "interval_s": treated.look.interval_s,
        "share": pull.share if pull else "",
        "walk_m": pull.walk.size_m if pull else None,
        "checks": [
            {
                "at_s": offset.check.at_s,
                "depth_m": offset.check.depth_m,
                "u_m": offset.check.u_m,
                "entry": offset.check.entry,
                "water_m": offset.water_m,
                "offset_m": offset.offset_m,
            }
            for offset in (pull.offsets if pull else ())
        ],
        "segments": [
            {"from_s": s.from_s, "to_s": s.to_s, "drift_m": s.drift_m, "refused": s.refused}
            for s in (pull.segments if pull else ())
        ],
    }


def exported(series: Corrected, path: Path) -> int:
    """Write a corrected series to a file, CSV or Parquet by its name; gives the number of rows.

    Lengths are in m; times are UTC.
    """
    columns = ["time", "depth_m", "u_depth_m", "quality", "flag", "aside", "water_m", "offset_m"]
    rows = series.rows.select(columns)
    if path.suffix == ".parquet":
        rows.sink_parquet(path)
    else:
        rows.sink_csv(path, datetime_format="%Y-%m-%dT%H:%M:%SZ", float_precision=4)
    return int(series.about["rows"])
