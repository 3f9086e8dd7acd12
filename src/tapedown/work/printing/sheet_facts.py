"""What is known of a well, in words for a sheet."""

from __future__ import annotations

from collections.abc import Iterable

from tapedown.reports.well_sheet import Facts
from tapedown.reports.words import day_text, length_text
from tapedown.values.wells import AccessNote, Construction, Interval, Position, Well
from tapedown.values.written import Written
from tapedown.work.wells.files import WellFile
from tapedown.work.wells.points import point_rows

MOST_TUBES, MOST_POINTS = 4, 3
"""Lengths of casing or screen, and earlier measuring points, told on a sheet."""


def facts_of(file: WellFile, unit: str) -> tuple[Facts, ...]:
    """What is known, in groups; a group of which nothing is known is left out."""
    groups = [
        Facts("Measuring point", tuple(_point_facts(file, unit))),
        Facts("Identity and access", tuple(_identity_facts(file.identity, file.in_force("access", "")))),
        Facts("Position and datum", tuple(_position_facts(file.in_force("position", "")))),
        Facts("Construction", tuple(_construction_facts(file.in_force("construction", "")))),
    ]
    return tuple(group for group in groups if group.rows)


def _said(rows: Iterable[tuple[str, object]]) -> list[tuple[str, str]]:
    """The facts that are known."""
    return [(name, str(value)) for name, value in rows if value not in (None, "", ())]


def _pm(value: Written | None, u: Written | None) -> str:
    return f"{value}, standard uncertainty {u}" if value and u else str(value or "")


def _point_facts(file: WellFile, unit: str) -> list[tuple[str, str]]:
    """The point in force, what it looks like, and those before it."""
    rows = point_rows(file)
    if not rows:
        return [("", "none on record: a depth below land surface cannot be given")]
    point = rows[0].point
    height = f"{_pm(point.height, point.u_height)} {point.side} land surface"
    since = day_text(rows[0].entry.measured_at) if rows[0].entry.measured_at else ""
    before = [
        ("before", f"{row.point.name}, {length_text(row.point.height_m, unit)}, until {day_text(row.until)}")
        for row in rows[1 : 1 + MOST_POINTS]
    ]
    taped = "taped along the casing" if point.along_casing else ""
    named = [("name", point.name), ("height", height), ("", taped), ("mark", point.description), ("since", since)]
    return _said([*named, ("why", point.why), *before])


def _identity_facts(well: Well | None, access: AccessNote | None) -> list[tuple[str, str]]:
    """What the well is; keys stay in the record: a sheet hangs on walls and lies in cars."""
    rows: list[tuple[str, object]] = []
    if well is not None:
        rows += [("use", well.use), ("aquifer", well.aquifer), ("also called", ", ".join(well.other_names))]
        rows += [("water", well.dirtier), ("remarks", well.remarks)]
    if access is not None:
        rows += [("permission", access.permission), ("keys", "needed, see the record" if access.keys else "")]
    return _said(rows)


def _position_facts(position: Position | None) -> list[tuple[str, str]]:
    if position is None:
        return []
    shift = position.datum_shift
    datum = f" ({position.vertical_datum})" if position.vertical_datum else ""
    return _said([
        ("latitude", position.latitude),
        ("longitude", position.longitude),
        ("datum", ", ".join(filter(None, (position.horizontal_datum, position.position_method)))),
        ("land surface", f"{_pm(position.land_surface, position.u_elevation)}{datum}" if position.land_surface else ""),
        ("found by", position.elevation_method),
        ("shift", f"{_pm(shift.offset, shift.u)} to {shift.to}, {shift.source}" if shift else ""),
        ("source", position.source),
    ])  # fmt: skip


def _construction_facts(built: Construction | None) -> list[tuple[str, str]]:
    if built is None:
        return []
    surveyed = f"surveyed at {len(built.survey)} stations" if built.survey else ""
    return _said([
        ("built to", built.completed_depth),
        ("drilled to", built.hole_depth),
        *(("casing", _tube(tube)) for tube in built.casings[:MOST_TUBES]),
        *(("screen", _tube(tube)) for tube in built.screens[:MOST_TUBES]),
        ("lean", f"{_pm(built.lean, built.u_lean)} from vertical" if built.lean else surveyed),
        ("source", built.source),
        ("remarks", built.remarks),
    ])  # fmt: skip


def _tube(tube: Interval) -> str:
    inside = f"{tube.inside_diameter} inside" if tube.inside_diameter else ""
    return ", ".join(filter(None, (f"{tube.top} to {tube.bottom}", inside, tube.material)))
