"""Readings of a well that are unlike it, explained from what was known before each: a question, never a change."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.expected.next_reading import bottom_on, level_on
from tapedown.engine.explaining.case import Around, Case, OtherWell, case_of
from tapedown.engine.explaining.weigh import Explained, explain, how_likely, in_percent, unlike_the_well
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.record import entries
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import Expectation
from tapedown.values.kinds import KINDS
from tapedown.values.readings import Readings
from tapedown.values.results import BELOW_LAND, Finding
from tapedown.values.wells import PointHeight, Position
from tapedown.work.expected.expecting import expectation, static_levels
from tapedown.work.networks import GearShelf, OpenNetwork
from tapedown.work.refusals import NoSuchWell
from tapedown.work.wells.files import WellFile, context_of
from tapedown.work.wells.history import USABLE, History, Row, history

if TYPE_CHECKING:
    from tapedown.analysis.record_blunders import Read, RecordBlunder

NEAREST = 3
"""Other wells looked at when a reading is unlike its own."""
LOOKED_AT = 8
"""Rows of a well worked out in full, the newest of those that stand out."""
STANDS_OUT = 2.0
"""One-step-ahead errors beyond which a row is worked out in full, in scales."""
SOUNDING_OFF_M = 0.1
"""A sounding further than this from the middle one is worked out in full."""
EASILY_MISTAKEN_M = 50.0
"""Wells closer than this are easily taken for one another; ours."""
EARTH_M = 6371000.0


class Surprise(NamedTuple):
    """A row with what explains it."""

    row: Row
    case: Case
    explained: Explained

    @property
    def finding(self) -> Finding | None:
        """The finding, None where the row is as the well was expected to show."""
        return next(iter(unlike_the_well(self.explained, self.case)), None)


def explain_row(network: OpenNetwork, told: History, row: Row, shelf: GearShelf) -> Surprise | None:
    """Explain one row from what was read before its day; None where nothing can be said of it.

    Other wells are looked at only where the row is unlike its own.
    """
    alone = _explained(network, told, row, shelf, ())
    if alone is None or not alone.explained.surprising or alone.case.sounding:
        return alone
    return _explained(network, told, row, shelf, nearby(network, told.file, row, shelf))


def surprises(network: OpenNetwork, told: History, shelf: GearShelf, *, struck: bool = False) -> list[Surprise]:
    """The rows of a well that are unlike it, newest first: of those that stand out, the newest LOOKED_AT."""
    rows = [row for row in told.rows if struck or row.struck_by is None]
    odd = _standing_out(rows)
    chosen = [row for row in reversed(rows) if row.entry.id in odd][:LOOKED_AT]
    explained = (explain_row(network, told, row, shelf) for row in chosen)
    return [one for one in explained if one is not None and one.explained.surprising]


def blunder_chances(network: OpenNetwork, told: History, shelf: GearShelf) -> dict[str, float]:
    """Probability that something went wrong with a row, for the standing rows that stand out, by the entry's id."""
    rows = [row for row in told.rows if row.struck_by is None]
    odd = _standing_out(rows)
    explained = [_explained(network, told, row, shelf, ()) for row in rows if row.entry.id in odd]
    return {one.row.entry.id: one.explained.wrong for one in explained if one is not None}


def _explained(
    network: OpenNetwork, well_history: History, row: Row, shelf: GearShelf, others: tuple[OtherWell, ...]
) -> Surprise | None:
    readings = next((f.value for f in well_history.file.facts if f.entry.id == row.entry.id), None)
    if not isinstance(readings, Readings) or row.value is None or row.value.result(BELOW_LAND) is None:
        return None
    day = row.entry.measured_at[:10]
    known = expectation(well_history, before=day)
    expected, bottom = _expected(known, row, day, network)
    if expected is None:
        return None
    context = context_of(well_history.file, row.entry.measured_at, shelf, network, readings)
    points = tuple(f.value for f in well_history.file.of_kind("measuring point") if f.value != context.point)
    case = case_of(readings.method, readings.read, context, expected, Around(points, others, bottom))
    return Surprise(row, case, explain(case)) if case is not None else None


def _expected(
    known: Expectation, row: Row, day: str, network: OpenNetwork
) -> tuple[Predictive | None, Predictive | None]:
    """What the row was expected to show, and where the bottom was expected."""
    bottom = bottom_on(known.bottom, day, network.settings) if known.bottom else None
    if row.value is not None and row.value.use == TOTAL_DEPTH:
        return bottom, None
    return (level_on(known.level, day) if known.level else None), bottom


def nearby(network: OpenNetwork, file: WellFile, row: Row, shelf: GearShelf) -> tuple[OtherWell, ...]:
    """The nearest wells, each with what it was expected to show that day and the height of its measuring point."""
    here: Position | None = file.in_force("position", row.entry.measured_at)
    places = _places(network) if here is not None else {}
    places.pop(file.code, None)
    codes = sorted(places, key=lambda code: _apart_m(here, places[code]) if here else 0.0)
    others = (_other(network, code, row, shelf, _apart_m(here, places[code])) for code in codes[:NEAREST] if here)
    return tuple(one for one in others if one is not None)


def _places(network: OpenNetwork) -> dict[str, Position]:
    held = entries(network.record, kinds=["position"], as_of=network.as_of)
    read = ((h.entry.subject, KINDS["position"].read(h.entry.data, network.unit)[0]) for h in held)
    return {code: place for code, place in read if place is not None and place.latitude and place.longitude}


def _apart_m(a: Position, b: Position) -> float:
    """Distance, on a plane good enough to tell which well is nearest, m."""
    if not (a.latitude and a.longitude and b.latitude and b.longitude):
        return math.inf
    north = math.radians(b.latitude.si - a.latitude.si)
    east = math.radians(b.longitude.si - a.longitude.si) * math.cos(math.radians(a.latitude.si))
    return EARTH_M * math.hypot(north, east)


def _other(network: OpenNetwork, code: str, row: Row, shelf: GearShelf, apart_m: float) -> OtherWell | None:
    try:
        well_history = history(network, code, shelf=shelf)
    except NoSuchWell:
        return None
    day = row.entry.measured_at[:10]
    level = expectation(well_history, before=day).level
    point: PointHeight | None = well_history.file.in_force("measuring point", row.entry.measured_at)
    nearness = 1 / (1 + apart_m / EASILY_MISTAKEN_M)
    return OtherWell(code, level_on(level, day), point.height_m, nearness) if level and point else None


def _odd_soundings(rows: Sequence[Row]) -> set[str]:
    below = {row.entry.id: row.value.result(BELOW_LAND) for row in rows if row.value and row.value.use == TOTAL_DEPTH}
    depths = {entry: float(level.value_m) for entry, level in below.items() if level is not None}
    return {entry for entry, depth_m in depths.items() if abs(depth_m - median(depths.values())) > SOUNDING_OFF_M}


def _standing_out(rows: Sequence[Row]) -> set[str]:
    """Ids of rows that one look over the whole history finds odd, or that a check already doubts."""
    from tapedown.analysis.expected_level import expected_level  # scipy: a third of a second to load

    doubted = {r.entry.id for r in rows if r.value is not None and r.quality not in (*USABLE, "missing")}
    doubted |= {r.entry.id for r in rows if r.value is not None and r.struck_by is not None}
    doubted |= _odd_soundings(rows)
    levels = static_levels(rows)
    if len(levels) < 2:
        return doubted
    days = [day_number(row.entry.measured_at) for row, _ in levels]
    fit = expected_level(days, [float(below.value_m) for _, below in levels])
    odd = {int(day) for day, error in zip(*fit.surprises) if abs(error) > STANDS_OUT}
    return doubted | {row.entry.id for row, _ in levels if day_number(row.entry.measured_at) in odd}


def record_findings(told: History) -> list[Finding]:
    """What the record of one well as a whole may hide."""
    from tapedown.analysis.record_blunders import LIKELY, other_unit, placeholder_time, sign_reversed

    reads = [read for _, read in _reads(told)]
    blunders = [one for one in (sign_reversed(reads), other_unit(reads)) if one is not None]
    findings = [_record_finding(one) for one in blunders if one.probability >= LIKELY]
    times = placeholder_time([row.entry.measured_at for row in told.rows])
    if times is not None:
        minute, count, probability = times
        findings.append(
            finding(
                "placeholder-time",
                f"{count} of {len(told.rows)} readings at exactly {minute}: {how_likely(probability)} no time of day",
                "take them for days; matters where the level moves within a day",
            )
        )
    return findings


def crossed_findings(histories: Sequence[History]) -> list[Finding]:
    """Pairs of wells whose readings of one day fit better when they are exchanged."""
    from tapedown.analysis.record_blunders import crossed

    reads = {one.file.code: [read for _, read in _reads(one)] for one in histories}
    return [
        _record_finding(blunder, f"{a}, {b}")
        for a, b, blunder in crossed({c: r for c, r in reads.items() if len(r) > 1})
    ]


def _reads(well_history: History) -> list[tuple[Row, Read]]:
    from tapedown.analysis.record_blunders import Read

    reads = []
    for row, below in static_levels(well_history.rows):
        point: PointHeight | None = well_history.file.in_force("measuring point", row.entry.measured_at)
        height_m = point.height_m if point else 0.0
        reads.append((row, Read(day_number(row.entry.measured_at), float(below.value_m), height_m)))
    return reads


def _record_finding(blunder: RecordBlunder, about: str = "") -> Finding:
    days = date_text(blunder.first)
    if blunder.last != blunder.first:
        days += f" to {date_text(blunder.last)}"
    likely = f"{how_likely(blunder.probability)} ({in_percent(blunder.probability)})"
    return finding(blunder.name, f"{days}: {blunder.words}; {likely}", blunder.do, about)
