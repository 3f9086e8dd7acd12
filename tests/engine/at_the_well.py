"""Short ways to write a reading, a fact and a context in tests: as people write them, through the forms."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from tapedown.engine.context import Calibrated, ReadingContext
from tapedown.engine.methods.registry import reduce_readings
from tapedown.values.expectations import ExpectedBottom, ExpectedLevel
from tapedown.values.gear import Calibration, Gear
from tapedown.values.kinds import KINDS
from tapedown.values.reading_forms import METHODS
from tapedown.values.readings import ReadingSet
from tapedown.values.results import BELOW_LAND, BELOW_POINT, ELEVATION, Finding, Reduction
from tapedown.values.seen import SEEN, Seen
from tapedown.values.settings import Settings
from tapedown.values.wells import Construction, PointHeight, Position

FOOT_M = 0.3048


def reading_set(method: str, given: Mapping[str, Any], unit: str = "ft") -> ReadingSet:
    """What was read by `method`, as a person writes it."""
    read, problems = METHODS[method].read(given, unit)
    assert read is not None, problems
    found: ReadingSet = read
    return found


def fact(kind: str, given: Mapping[str, Any], unit: str = "ft") -> Any:
    """A fact of `kind`, as a person writes it."""
    value, problems = KINDS[kind].read(given, unit)
    assert value is not None, problems
    return value


def reduced(
    method: str, given: Mapping[str, Any], context: ReadingContext | None = None, unit: str = "ft"
) -> Reduction:
    """The reading set worked out in a context, by default one where nothing else is known."""
    return reduce_readings(method, reading_set(method, given, unit), context or ReadingContext(Settings(unit)))


def seen(unit: str = "ft", **given: Any) -> Seen:
    """What goes on at the well, as a person writes it."""
    value, problems = SEEN.read(given, unit)
    assert value is not None, problems
    found: Seen = value
    return found


def point(height: str, side: str = "above", unit: str = "ft", **more: Any) -> PointHeight:
    """A measuring point at this height."""
    given = {"name": "MP-1", "height": height, "side": side, "description": "north rim, file mark", **more}
    found: PointHeight = fact("measuring point", given, unit)
    return found


def position(unit: str = "ft", **given: Any) -> Position:
    """Where the well is."""
    found: Position = fact("position", given, unit)
    return found


def construction(unit: str = "ft", **given: Any) -> Construction:
    """How the well was built."""
    found: Construction = fact("construction", given, unit)
    return found


def gear(serial: str, **given: Any) -> dict[str, Gear]:
    """One piece of gear by its serial number."""
    return {serial: fact("gear", {"serial": serial, "type": "steel tape", **given})}


def in_plain(level: ExpectedLevel | None, bottom: ExpectedBottom | None) -> dict[str, Any]:
    """An expectation as plain data, the way a pack carries it."""
    found: dict[str, Any] = {"level": None, "bottom": bottom._asdict() if bottom else None}
    if level is not None:
        found["level"] = {**level._asdict(), "neighbours": [one._asdict() for one in level.neighbours]}
    return found


STEEL_TAPE: dict[str, str] = {
    "length": "500 ft",
    "area": "0.006 in2",
    "modulus": "29000000 psi",
    "expansion": "0.00000645 /degF",
    "mass_per_length": "2.04 lb/100 ft",
    "standard_temp": "68 degF",
    "standard_pull": "10 lbf",
    "mass": "1 lb",
}
"""A certificate complete enough to correct the tape."""


def calibrated(serial: str, marks: Iterable[tuple[str, str]], apply: str, on: str = "2026-01-10") -> Any:
    """The calibration of one tape by its serial number: marks as (shown, true)."""
    given = {
        "serial": serial,
        "against": "ST-001, the office tape",
        "marks": [{"shown": shown, "true": true, "u": "0.002 ft"} for shown, true in marks],
        "apply": apply,
    }
    calibration: Calibration = fact("calibration", given)
    return {serial: Calibrated(on, calibration)}


def names(findings: Iterable[Finding]) -> set[str]:
    """The names of the checks that found something."""
    return {finding.check for finding in findings}


def below_point_m(reduction: Reduction) -> float:
    return _value_m(reduction, BELOW_POINT)


def below_land_m(reduction: Reduction) -> float:
    return _value_m(reduction, BELOW_LAND)


def elevation_m(reduction: Reduction) -> float:
    return _value_m(reduction, ELEVATION)


def below_point_ft(reduction: Reduction) -> float:
    return below_point_m(reduction) / FOOT_M


def below_land_ft(reduction: Reduction) -> float:
    return below_land_m(reduction) / FOOT_M


def elevation_ft(reduction: Reduction) -> float:
    return elevation_m(reduction) / FOOT_M


def _value_m(reduction: Reduction, name: str) -> float:
    result = reduction.result(name)
    assert result is not None, f"{name} was not reached: {reduction.findings}"
    return float(result.value_m)
