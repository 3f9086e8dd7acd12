"""What is drawn of a well and of a network, built from their histories."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from tapedown.engine.checks import at_the_well
from tapedown.engine.expected.next_reading import level_on, range_of
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.engine.well.fill import YEAR_D
from tapedown.reports.axes import day_of
from tapedown.reports.network_map import Spot
from tapedown.reports.well_picture import (
    BOTTOM,
    DEEPER,
    DISTURBED,
    PUMPING,
    STATIC,
    Band,
    PointMark,
    ReadingMark,
    Tube,
    WellPicture,
)
from tapedown.reports.words import headline, when_text
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedLevel
from tapedown.values.results import BELOW_LAND
from tapedown.values.wells import Construction, Interval
from tapedown.work.wells.files import WellFile
from tapedown.work.wells.history import History, Row
from tapedown.work.wells.standing import WellNow

BAND_STEPS_D = 7
_KINDS = {
    at_the_well.RECOVERING: DISTURBED,
    at_the_well.DISTURBED: DISTURBED,
    at_the_well.PUMPING: PUMPING,
    at_the_well.DEEPER_THAN: DEEPER,
    TOTAL_DEPTH: BOTTOM,
}
"""What a value may stand for -> how it is drawn; any other level as a plain one."""


def well_picture(
    told: History, unit: str, *, struck: bool = False, links: str = "", expected: ExpectedLevel | None = None
) -> WellPicture:
    """A well's picture. With `struck` also what was struck; `links` is the address that entry ids are added to."""
    file = told.file
    construction: Construction | None = file.in_force("construction", "")
    identity = file.identity
    name = f"{file.code} {identity.name}".strip() if identity else file.code
    rows = [row for row in told.rows if struck or row.struck_by is None]
    marks = [mark for row in rows if (mark := _mark(row, links)) is not None]
    bare = WellPicture(name, unit, points=_points(file), marks=tuple(marks), expected=_band(expected, marks))
    if construction is None:
        return bare
    return bare._replace(
        tubes=_tubes(construction),
        completed_m=construction.completed_depth.si if construction.completed_depth else None,
        hole_m=construction.hole_depth.si if construction.hole_depth else None,
        lean=_lean(construction),
    )


def _mark(row: Row, links: str) -> ReadingMark | None:
    """How a row is drawn; None without a depth below land surface, or where there is no value to draw."""
    below = row.value.result(BELOW_LAND) if row.value else None
    if row.value is None or below is None or row.value.use == at_the_well.NOTHING:
        return None
    weight = row.value.findings[0].weight if row.value.findings else ""
    checks = ", ".join(dict.fromkeys(f.check for f in row.value.findings if f.weight != "note"))
    words = f"{when_text(row.entry.measured_at)}: {row.what}, {headline(row.value)}{' (struck)' * bool(row.struck_by)}"
    return ReadingMark(
        day_at(row.entry.measured_at),
        float(below.value_m),
        float(below.expanded_m),
        _KINDS.get(row.value.use, STATIC),
        row.value.digits.step,
        weight,
        row.struck_by is not None,
        f"{words}; {checks}" if checks else words,
        f"{links}{row.entry.id}" if links else "",
    )


def _band(expected: ExpectedLevel | None, marks: Sequence[ReadingMark]) -> Band | None:
    """The expected range after the last reading, for a year or a quarter of the time that readings span."""
    if expected is None or not expected.on or len(marks) < 2:
        return None
    last = day_number(expected.on)
    span = max(mark.on_d for mark in marks) - min(mark.on_d for mark in marks)
    days = [last + int(BAND_STEPS_D * step) for step in range(int(min(YEAR_D, span / 4) / BAND_STEPS_D) + 1)]
    ranges = [range_of(level_on(expected, date_text(day))) for day in days]
    return Band(tuple(map(float, days)), tuple(r.low_m for r in ranges), tuple(r.high_m for r in ranges))


def day_at(measured_at: str) -> float:
    """A written time as days, with the part of the day by its own clock.

    Example
    -------
    >>> day_at("2026-05-14T12:00+01:00") - day_at("2026-05-13")
    1.5
    """
    hours = int(measured_at[11:13]) + int(measured_at[14:16]) / 60 if "T" in measured_at else 0.0
    return day_of(date.fromisoformat(measured_at[:10])) + hours / 24


def _points(file: WellFile) -> tuple[PointMark, ...]:
    return tuple(
        PointMark(day_at(fact.entry.measured_at), fact.value.height_m, fact.value.name)
        for fact in file.of_kind("measuring point")
    )


def _tubes(construction: Construction) -> tuple[Tube, ...]:
    kinds = (("casing", construction.casings), ("screen", construction.screens))
    return tuple(_tube(kind, interval) for kind, intervals in kinds for interval in intervals)


def _tube(kind: str, interval: Interval) -> Tube:
    top, bottom = sorted((interval.top.si, interval.bottom.si))
    wide = interval.inside_diameter
    words = f"{kind} {interval.top.text} to {interval.bottom}"
    return Tube(kind, top, bottom, wide.si if wide else None, words)


def _lean(construction: Construction) -> str:
    if construction.lean is not None:
        return f"hole leans {construction.lean} from vertical, drawn upright"
    return f"hole surveyed at {len(construction.survey)} stations, drawn upright" if construction.survey else ""


def spot_of(now: WellNow, position_deg: tuple[float, float], link: str = "") -> Spot:
    """A well on the map, with what a pointer resting on it is told."""
    level = f", water {headline(now.level.value)}" if now.level and now.level.value else ""
    last = when_text(now.last.entry.measured_at) if now.last else "never visited"
    return Spot(*position_deg, now.code, f"{now.code} {now.name}: {last}{level}", weight_of(now), link)


def weight_of(now: WellNow) -> str:
    """The weight of a well's weightiest finding: "", "look" or "stop"."""
    weights = {finding.weight for finding in now.to_look_at}
    return "stop" if "stop" in weights else "look" if "look" in weights else ""
