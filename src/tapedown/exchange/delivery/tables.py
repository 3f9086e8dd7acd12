"""A delivery as flat tables: wells, measuring points, lengths of casing and screen, readings, findings.

Every tabular format writes these and nothing else, so that a number is the same through each door. A column's name
ends in its unit; a rounded column says so and stands beside the one at full precision.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import Any

from tapedown.exchange.delivery.columns import Column, Flat, LongTable, Rounded
from tapedown.exchange.delivery.contents import (
    BOTTOM,
    WATER,
    Delivered,
    DeliveredWell,
    Delivery,
    reported,
    reported_expanded,
    reporting_step,
    said,
)
from tapedown.exchange.delivery.seen_columns import SEEN_COLUMNS, seen_cells
from tapedown.exchange.delivery.words_of_standards import QARTOD, quality_uri
from tapedown.values.results import BELOW_LAND, BELOW_POINT, ELEVATION, MANY, QUALITIES, Result
from tapedown.values.wells import Interval
from tapedown.values.written import Written

UCUM = {"m": "m", "ft": "[ft_i]"}
STAGES = ((BELOW_POINT, "below_measuring_point"), (BELOW_LAND, "below_land_surface"), (ELEVATION, "elevation"))


class Tables:
    """A delivery with its tables, each made once however many formats write it."""

    def __init__(self, delivery: Delivery) -> None:
        self.delivery = delivery

    @cached_property
    def wells(self) -> Flat:
        """The table of wells."""
        return wells(self.delivery)

    @cached_property
    def all(self) -> list[Flat]:
        """Every table but those of loggers, wells first."""
        d = self.delivery
        return [self.wells, points(d), intervals(d), readings(d), findings(d)]

    @cached_property
    def recorded(self) -> list[LongTable]:
        """The tables of what loggers recorded; none where there was no logger."""
        if not any(well.series for well in self.delivery.wells):
            return []
        from tapedown.exchange.delivery.recorded_tables import recorded_tables  # columns: half a second to load

        return recorded_tables(self.delivery)


def _metres(value: Written | None) -> float | None:
    return value.si if value is not None else None


def _text(value: str) -> str | None:
    return value or None


_WELL = (
    Column("well", "text", "code of the well"),
    Column("name", "text", "name people use"),
    Column("place", "text", "how to find it"),
    Column("use", "text", "what the well is used for"),
    Column("aquifer", "text", "aquifer it is open to"),
    Column("other_names", "text", "names it goes by elsewhere, with semicolons between them"),
    Column("latitude_deg", "number", "latitude, north positive, as written, in horizontal_datum", "deg"),
    Column("longitude_deg", "number", "longitude, east positive, as written, in horizontal_datum", "deg"),
    Column("horizontal_datum", "text", "datum of latitude and longitude"),
    Column("position_method", "text", "how the position was found"),
    Column("land_surface_elevation_m", "number", "elevation of the well's fixed land-surface datum", "m"),
    Column("u_land_surface_elevation_m", "number", "its standard uncertainty", "m"),
    Column("vertical_datum", "text", "vertical datum of that elevation"),
    Column("elevation_method", "text", "how that elevation was found"),
    Column("measuring_point", "text", "name of the measuring point now in force"),
    Column("measuring_point_height_m", "number", "its height, + above land surface, - below", "m"),
    Column("completed_depth_m", "number", "depth of the finished well below land surface", "m"),
    Column("hole_depth_m", "number", "depth drilled below land surface", "m"),
)


def wells(delivery: Delivery) -> Flat:
    """One row a well, with its last water level and last sounding."""
    last = [column for what in (WATER, BOTTOM) for column in _last_columns(what, delivery.units)]
    bottom = (
        Column("fill_m", "number", "how far the bottom has come up since fill_since", "m"),
        Column("expanded_fill_m", "number", "its expanded uncertainty", "m"),
        Column("fill_since", "text", "what fill counts from: completion, or the day of the first sounding"),
    )
    rows = [_well_row(well, delivery) for well in delivery.wells]
    return Flat("wells", "wells with their facts and last state", (*_WELL, *last, *bottom), rows, ("well",), {})


def _last_columns(what: str, units: Sequence[str]) -> Iterator[Column]:
    name = "last_water_level" if what == WATER else "last_total_depth"
    yield Column(f"{name}_time", "time", f"when the last {what} was read")
    yield Column(
        f"{name}_below_land_surface_m", "number", f"last {what}, depth below land surface, full precision", "m"
    )
    yield Column(f"{name}_expanded_m", "number", "its expanded uncertainty", "m")
    for unit in units:
        yield Column(f"{name}_below_land_surface_rounded_{unit}", "number", "the same as reported", UCUM[unit])
        yield Column(f"{name}_said_{unit}", "text", "the same in words, with its uncertainty")
    yield Column(f"{name}_deeper_than_m", "number", f"the {what} is deeper than this: not reached", "m")
    yield Column(f"{name}_use", "text", "what it may stand for")
    yield Column(f"{name}_quality", "text", "quality by the OGC vocabulary", choices=QUALITIES)


def _last(row: Delivered | None, units: Sequence[str]) -> list[Any]:
    if row is None or row.value is None:
        return [None] * (6 + 2 * len(units))
    result, bound = row.result(BELOW_LAND), row.bound(BELOW_LAND)
    return [
        _text(row.time),
        result.value_m if result else None,
        result.expanded_m if result else None,
        *(cell for unit in units for cell in (_rounded(row, unit), said(row, unit))),
        bound.value_m if bound else None,
        row.use,
        row.quality,
    ]


def _rounded(row: Delivered, unit: str) -> Rounded | None:
    result = row.result(BELOW_LAND)
    return Rounded(reported(result, row.value.digits, unit)) if result and row.value else None


def _well_row(well: DeliveredWell, delivery: Delivery) -> tuple[Any, ...]:
    named, at, built = well.identity, well.position, well.construction
    point = well.points[-1].point if well.points else None
    fill = well.bottom.fill if well.bottom else None
    return (
        well.code,
        *((_text(named.name), _text(named.place), _text(named.use), _text(named.aquifer)) if named else [None] * 4),
        _text("; ".join(named.other_names)) if named else None,
        _metres(at.latitude) if at else None,
        _metres(at.longitude) if at else None,
        _text(at.horizontal_datum) if at else None,
        _text(at.position_method) if at else None,
        _metres(at.land_surface) if at else None,
        _metres(at.u_elevation) if at else None,
        _text(at.vertical_datum or delivery.network.vertical_datum) if at and at.land_surface else None,
        _text(at.elevation_method) if at else None,
        point.name if point else None,
        point.height_m if point else None,
        _metres(built.completed_depth) if built else None,
        _metres(built.hole_depth) if built else None,
        *_last(well.last(WATER), delivery.units),
        *_last(well.last(BOTTOM), delivery.units),
        fill.value_m if fill else None,
        fill.expanded_m if fill else None,
        well.bottom.since if well.bottom and fill else None,
    )


def points(delivery: Delivery) -> Flat:
    """Measuring points with the days they held."""
    columns = (
        Column("measuring_point_id", "text", "id of the entry"),
        Column("well", "text", "code of the well"),
        Column("name", "text", "name of the point"),
        Column("since", "text", "day or time from which it held, as written"),
        Column("until", "text", "day or time it held until, empty for still"),
        Column("height_m", "number", "height from land surface, + above, - below", "m"),
        Column("u_height_m", "number", "its standard uncertainty as written", "m"),
        Column("description", "text", "what the mark looks like"),
        Column("why", "text", "why it changed"),
    )
    rows = [
        (p.id, well.code, p.point.name, _text(p.since), _text(p.until), p.point.height_m, _metres(p.point.u_height),
         _text(p.point.description), _text(p.point.why))
        for well in delivery.wells
        for p in well.points
    ]  # fmt: skip
    meaning = "measuring points with the days they held"
    return Flat("measuring_points", meaning, columns, rows, ("measuring_point_id",), {"well": ("wells", "well")})


def intervals(delivery: Delivery) -> Flat:
    """Lengths of casing and screen."""
    columns = (
        Column("interval_id", "text", "well, what it is, and its number from the top of the list"),
        Column("well", "text", "code of the well"),
        Column("what", "text", "casing or screen", choices=("casing", "screen")),
        Column("top_m", "number", "depth of its top below land surface", "m"),
        Column("bottom_m", "number", "depth of its bottom below land surface", "m"),
        Column("inside_diameter_m", "number", "inside diameter", "m"),
        Column("material", "text", "material, slot, gauge"),
        Column("remarks", "text", "anything else"),
    )
    rows = [row for well in delivery.wells for row in _interval_rows(well)]
    meaning = "lengths of casing and screen"
    return Flat("intervals", meaning, columns, rows, ("interval_id",), {"well": ("wells", "well")})


def _interval_rows(well: DeliveredWell) -> Iterator[tuple[Any, ...]]:
    built = well.construction
    if built is None:
        return
    listed: tuple[tuple[str, tuple[Interval, ...]], ...] = (("casing", built.casings), ("screen", built.screens))
    for what, of_kind in listed:
        for number, one in enumerate(of_kind, 1):
            yield (
                f"{well.code} {what} {number}", well.code, what, one.top.si, one.bottom.si,
                _metres(one.inside_diameter), _text(one.material), _text(one.remarks),
            )  # fmt: skip


_READING = (
    Column("reading_id", "text", "id of the entry, the same in every delivery"),
    Column("well", "text", "code of the well"),
    Column("time", "time", "when it was read; noon of the day where the time of day is not known"),
    Column("time_of_day_known", "flag", "whether the time of day is known"),
    Column("zone", "text", "time zone of the wells, IANA name"),
    Column("quantity", "text", "what was read", choices=(WATER, BOTTOM)),
    Column("method", "text", "how it was read; visit where nothing was read"),
    Column("use", "text", "what the value may stand for"),
    Column("quality", "text", "quality by the OGC vocabulary", choices=QUALITIES),
    Column("quality_uri", "text", "the same as a term of the OGC register"),
    Column("qartod_flag", "whole", "the nearest QARTOD flag; the quality word is the truth"),
    *SEEN_COLUMNS,
)
_AFTER = (
    Column("tape_reached_below_land_surface_m", "number", "how deep the tape went where no level was found", "m"),
    Column("vertical_datum", "text", "vertical datum of the elevation"),
    Column("measuring_point", "text", "measuring point in force"),
    Column("measuring_point_height_m", "number", "its height, + above land surface, - below", "m"),
    Column("gear", "text", "serial numbers of the gear, with semicolons between"),
    Column("digits", "text", "to which digit the value is reported, and why"),
    Column("agreement", "text", "how the repeats agreed"),
    Column("findings", "text", "checks that found something, with semicolons between; see table findings"),
    Column("reviewed", "text", "what a second person said"),
    Column("remarks", "text", "anything else"),
    Column("read_by", "text", "who wrote the entry"),
    Column("written_at", "time", "when the entry was written"),
)


def _stage_columns(stage: str, units: Sequence[str]) -> Iterator[Column]:
    title = "elevation" if stage == "elevation" else f"depth {stage.replace('_', ' ')}"
    name = stage if stage == "elevation" else f"depth_{stage}"
    yield Column(f"{name}_m", "number", f"{title}, full precision", "m")
    yield Column(f"u_{name}_m", "number", "its standard uncertainty", "m")
    yield Column(f"expanded_{name}_m", "number", "its expanded uncertainty, coverage factor times standard", "m")
    yield Column(f"coverage_factor_{name}", "number", "its coverage factor", "1")
    yield Column(f"degrees_of_freedom_{name}", "number", "its degrees of freedom, empty beyond counting", "1")
    for unit in units:
        yield Column(f"{name}_rounded_{unit}", "number", f"{title} as reported", UCUM[unit])
        yield Column(f"expanded_{name}_rounded_{unit}", "number", "its expanded uncertainty as reported", UCUM[unit])
        yield Column(f"reporting_step_{name}_{unit}", "number", "the step it is rounded to", UCUM[unit])


def reading_columns(units: Sequence[str]) -> tuple[Column, ...]:
    """The columns of the readings."""
    meaning = "the value in words, with its uncertainty: below land surface where that is known"
    words = [Column(f"said_{unit}", "text", meaning) for unit in units]
    return (*_READING, *(column for _, stage in STAGES for column in _stage_columns(stage, units)), *words, *_AFTER)


def readings(delivery: Delivery) -> Flat:
    """Every reading worked out."""
    zone, units = delivery.network.zone, delivery.units
    rows = [_reading_row(row, well.code, zone, units) for well in delivery.wells for row in well.readings]
    meaning = "readings worked out, and visits without one"
    return Flat("readings", meaning, reading_columns(units), rows, ("reading_id",), {"well": ("wells", "well")})


def _reading_row(row: Delivered, code: str, zone: str, units: Sequence[str]) -> tuple[Any, ...]:
    bound, point = row.bound(BELOW_LAND), row.point
    review = f"{row.review.quality}: {row.review.why}" if row.review else ""
    return (
        row.entry.id, code, _text(row.time), row.time_known, zone, row.quantity, row.method, row.use, row.quality,
        quality_uri(row.quality), QARTOD[row.quality],
        *(_text(cell) if isinstance(cell, str) else cell for cell in seen_cells(row.seen, row.entry.measured_at)),
        *(cell for stage, _ in STAGES for cell in _stage_cells(row, row.result(stage), units)),
        *(said(row, unit) for unit in units),
        bound.value_m if bound else None,
        _text(row.value.datum) if row.value else None,
        point.name if point else None,
        point.height_m if point else None,
        _text("; ".join(row.gear)),
        row.value.digits.reason if row.value else None,
        _text(row.value.agreement) if row.value else None,
        _text("; ".join(dict.fromkeys(finding.check for finding in row.findings))),
        _text(review), _text(row.remarks), row.entry.by, row.entry.written_at,
    )  # fmt: skip


def _stage_cells(row: Delivered, result: Result | None, units: Sequence[str]) -> list[Any]:
    if result is None or row.value is None:
        return [None] * (5 + 3 * len(units))
    digits = row.value.digits
    cells: list[Any] = [
        result.value_m,
        result.u_m,
        result.expanded_m,
        result.k,
        None if result.dof >= MANY else result.dof,
    ]
    for unit in units:
        cells.append(Rounded(reported(result, digits, unit)))
        cells.append(Rounded(reported_expanded(result, digits, unit)))
        cells.append(reporting_step(result, digits, unit))
    return cells


def findings(delivery: Delivery) -> Flat:
    """What the checks say of each reading."""
    columns = (
        Column("finding_id", "text", "id of the reading and the finding's number"),
        Column("reading_id", "text", "id of the reading"),
        Column("well", "text", "code of the well"),
        Column("check", "text", "name of the check"),
        Column("weight", "text", "note, look or stop", choices=("note", "look", "stop")),
        Column("message", "text", "what was found"),
        Column("hint", "text", "what to do"),
    )
    rows = [
        (f"{row.entry.id} {number}", row.entry.id, well.code, f.check, f.weight, f.message, _text(f.hint))
        for well in delivery.wells
        for row in well.readings
        for number, f in enumerate(row.findings, 1)
    ]
    belongs = {"reading_id": ("readings", "reading_id"), "well": ("wells", "well")}
    return Flat("findings", "what the checks say of the readings", columns, rows, ("finding_id",), belongs)
