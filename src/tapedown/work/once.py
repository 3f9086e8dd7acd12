"""A one-off reduction: everything in one file, no record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tapedown.engine.methods import reduce_readings
from tapedown.engine.scene import Calibrated, Scene
from tapedown.values.forms import Problem
from tapedown.values.kinds import KINDS
from tapedown.values.readings import readings_from_body
from tapedown.values.results import Reduction
from tapedown.values.settings import Settings, checked_settings
from tapedown.work.refusals import WrittenWrong

TABLES = ("point", "position", "construction", "settings", "gear", "calibrations")
"""Optional groups of the file beside the reading itself."""


def reduce_once(given: Mapping[str, Any]) -> tuple[Reduction, Settings]:
    """Work out one reading set from a mapping.

    The mapping has length_unit, method and the method's fields, and optionally: when, conditions, depth_reached, the
    groups point, position, construction, settings, and lists gear and calibrations (each calibration with `on`).

    Raises
    ------
    WrittenWrong
        Every problem with its place and mend.
    """
    unit = str(given.get("length_unit", "ft"))
    if unit not in {"ft", "m"}:
        raise WrittenWrong("the reduction", [Problem("length_unit", f"{unit!r} is neither ft nor m", "write ft or m")])
    own = {"length_unit", "method", "when", "conditions", "vertical_datum", *TABLES}
    fields = {k: v for k, v in given.items() if k not in own}
    body = {"method": given.get("method", ""), "read": fields, "conditions": given.get("conditions", ())}
    read, problems = readings_from_body(body, unit)
    scene, more = _scene(given, unit)
    if read is None or more:
        raise WrittenWrong("the reduction", [*problems, *more])
    return reduce_readings(read.method, read.read, scene._replace(conditions=read.conditions)), scene.settings


def _scene(given: Mapping[str, Any], unit: str) -> tuple[Scene, list[Problem]]:
    problems: list[Problem] = []

    def read(kind: str, group: Any, place: str) -> Any:
        if group is None:
            return None
        if not isinstance(group, Mapping):
            problems.append(Problem(place, f"{group!r} is not a group of fields", f"begin it with [{place}]"))
            return None
        value, found = KINDS[kind].read(group, unit, place)
        problems.extend(found)
        return value

    def listed(kind: str, name: str) -> list[Any]:
        groups = given.get(name, [])
        rows = groups if isinstance(groups, list) else [groups]
        plain = [{k: v for k, v in row.items() if k != "on"} if isinstance(row, Mapping) else row for row in rows]
        return [read(kind, row, f"{name}[{i}]") for i, row in enumerate(plain, 1)]

    point = read("measuring point", given.get("point"), "point")
    position = read("position", given.get("position"), "position")
    construction = read("construction", given.get("construction"), "construction")
    gear = {g.serial: g for g in listed("gear", "gear") if g is not None}
    days = [str(row.get("on", "")) for row in given.get("calibrations", []) if isinstance(row, Mapping)]
    calibrations = [c for c in listed("calibration", "calibrations") if c is not None]
    try:
        changes = checked_settings({k: str(v) for k, v in dict(given.get("settings", {})).items()})
    except (ValueError, TypeError) as error:
        problems.append(Problem("settings", str(error), "see `tapedown settings`"))
        changes = {}
    return Scene(
        settings=Settings(unit, changes),
        when=str(given.get("when", "")),
        point=point,
        position=position,
        construction=construction,
        gear=gear,
        calibrations={c.serial: Calibrated(day, c) for c, day in zip(calibrations, days)},
        vertical_datum=str(given.get("vertical_datum", position.vertical_datum if position else "")),
    ), problems
