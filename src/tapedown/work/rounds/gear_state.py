"""Gear as it stands on a day: when it was used last, when it was checked, whether it is to be checked again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from tapedown.engine.tape.calibration import is_overdue
from tapedown.reports.well_sheet import GearLine
from tapedown.reports.words import day_text
from tapedown.values.days import date_text, day_number
from tapedown.values.gear import Gear
from tapedown.values.reading_forms import gear_named
from tapedown.values.readings import Readings
from tapedown.values.settings import Settings
from tapedown.work.networks import GearShelf

CHECKED = ("steel tape", "electric tape")
"""Types that are checked against a reference; what was checked once is told of any other type, too."""


def last_used(read: Iterable[tuple[str, Readings]]) -> dict[str, str]:
    """Serial number -> the last time it was used, from reading sets with their times."""
    last: dict[str, str] = {}
    for measured_at, readings in read:
        for serial in gear_named(readings.method, readings.read).values():
            last[serial] = max(last.get(serial, ""), measured_at)
    return last


def gear_lines(
    read: Iterable[tuple[str, Readings]], shelf: GearShelf, settings: Settings, day: str
) -> tuple[GearLine, ...]:
    """The gear of these reading sets, that which is to be checked first."""
    return lines_of(last_used(read), shelf, settings, day)


def lines_of(used: Mapping[str, str], shelf: GearShelf, settings: Settings, day: str) -> tuple[GearLine, ...]:
    """A line for each piece, those to be checked first, then by serial number."""
    lines = [_line(serial, used[serial], shelf, settings, day) for serial in used]
    return tuple(sorted(lines, key=lambda line: (not line.late, line.serial)))


def _line(serial: str, used: str, shelf: GearShelf, settings: Settings, day: str) -> GearLine:
    gear = shelf.gear.get(serial)
    what = _called(gear) if gear else ""
    when = day_text(used[:10]) if used else ""
    held = shelf.calibrated(day).get(serial)
    if held is None:
        state, late = _never_checked(gear)
        return GearLine(serial, what, when, "", state, late)
    checked = f"{day_text(held.on[:10])}, against {held.calibration.against}" if held.on else held.calibration.against
    state, late = _checked(held.on, _own(gear, settings), day)
    return GearLine(serial, what, when, checked, state, late)


def _called(gear: Gear) -> str:
    """Type and description; the type once."""
    return (
        gear.description if gear.description.startswith(gear.type) else f"{gear.type}, {gear.description}".rstrip(", ")
    )


def _never_checked(gear: Gear | None) -> tuple[str, bool]:
    if gear is None:
        return "not in the record: enter it", True
    return ("never checked", True) if gear.type in CHECKED else ("", False)


def _checked(on: str, settings: Settings, day: str) -> tuple[str, bool]:
    if not on:
        return "day of the check not known", True
    due = day_text(date_text(day_number(on) + round(settings.si("calibration_due") / 24)))
    late = is_overdue(on, day, settings)
    return (f"was due {due}", True) if late else (f"in order, due {due}", False)


def _own(gear: Gear | None, settings: Settings) -> Settings:
    """The network's settings with those of the piece on top."""
    if gear is None or not gear.settings:
        return settings
    return settings._replace(changed={**settings.changed, **{row.name: row.value for row in gear.settings}})
