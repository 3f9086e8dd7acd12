"""Where a value comes from, and what would make it better."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from tapedown.engine.context import Calibrated, ReadingContext
from tapedown.engine.methods.registry import reduce_readings
from tapedown.engine.tape.calibration import fit_line
from tapedown.record import Held, entries
from tapedown.values.kinds import about_gear
from tapedown.values.ledger.entries import Entry
from tapedown.values.reading_forms import gear_named
from tapedown.values.readings import Readings
from tapedown.values.settings import SETTINGS, Settings
from tapedown.values.written import Written
from tapedown.work.networks import GearShelf, OpenNetwork
from tapedown.work.wells.files import WellFile, context_of, point_fact
from tapedown.work.wells.history import Row

WORTH_SAYING = 0.02
"""A change that takes less than this share off the uncertainty is not mentioned."""
_STATED = {"gauge_error": "error of the gauge", "u": "the uncertainty they state"}
_ALSO_UNCERTAINTY = ("tape_temp_half_width", "tape_temp_unknown_half_width", "stretch_doubt")


class ValueSource(NamedTuple):
    """An entry a value rests on, and what it is to it."""

    part: str
    entry: Entry
    struck_by: str | None = None


class Lever(NamedTuple):
    """One change and the expanded uncertainty it would leave, m. about is "setting/NAME", "gear/SERIAL" or ""."""

    words: str
    about: str
    expanded_m: float
    share: float


def sources(network: OpenNetwork, file: WellFile, row: Row) -> list[ValueSource]:
    """The entries behind a row: the visit, the facts in force, the gear and its calibration."""
    readings = _readings(file, row)
    what = readings if readings is not None else file.visit(row.entry.id)
    at = row.entry.measured_at
    behind = [ValueSource("reading set" if readings else "visit", row.entry, row.struck_by)]
    behind += [
        ValueSource("visit", f.entry, f.struck_by) for f in file.facts if readings and f.entry.id == readings.visit
    ]
    facts = [("measuring point", point_fact(file, at, what) if what else None)]
    facts += [(kind, file.fact_in_force(kind, at)) for kind in ("position", "construction")]
    behind += [ValueSource(part, fact.entry, fact.struck_by) for part, fact in facts if fact is not None]
    return behind + _gear_sources(network, serials_named(readings), at)


def _readings(file: WellFile, row: Row) -> Readings | None:
    values = (f.value for f in file.facts if f.entry.id == row.entry.id)
    return next((value for value in values if isinstance(value, Readings)), None)


def serials_named(readings: Readings | None) -> list[str]:
    """Serial numbers a reading set names, in the order of the form."""
    return list(gear_named(readings.method, readings.read).values()) if readings else []


def _gear_sources(network: OpenNetwork, serials: list[str], measured_at: str) -> list[ValueSource]:
    if not serials:
        return []
    held = entries(network.record, kinds=["gear", "calibration"], as_of=network.as_of)
    behind = []
    for serial in serials:
        own = [h for h in held if h.entry.about == about_gear(serial)]
        behind += [ValueSource(f"gear {serial}", h.entry) for h in _last(own, "gear")]
        dated = [h for h in own if h.entry.measured_at[:10] <= measured_at[:10]]
        dated.sort(key=lambda h: h.entry.measured_at)
        behind += [ValueSource(f"calibration of {serial}", h.entry) for h in _last(dated, "calibration")]
    return behind


def _last(held: list[Held], kind: str) -> list[Held]:
    return [h for h in held if h.entry.kind == kind][-1:]


def levers(network: OpenNetwork, file: WellFile, row: Row, shelf: GearShelf) -> list[Lever]:
    """What would shrink the uncertainty of a row's value, the most first: each change tried, the value worked anew."""
    readings = _readings(file, row)
    if readings is None or row.value is None or row.value.main is None or row.value.main.expanded_m <= 0:
        return []
    before = row.value.main.expanded_m
    context = context_of(file, row.entry.measured_at, shelf, network, readings)
    halved = []
    for words, about, changed, read in _changes(context, readings):
        after = reduce_readings(readings.method, read, changed).main
        if after is not None and (share := 1 - after.expanded_m / before) >= WORTH_SAYING:
            halved.append(Lever(words, about, after.expanded_m, share))
    return sorted(halved, key=lambda lever: -lever.share)


def _changes(context: ReadingContext, readings: Readings) -> Iterator[tuple[str, str, ReadingContext, Any]]:
    """Every change worth trying: (words, about, context, read)."""
    read: Any = readings.read
    if read.readings:
        more = read._replace(readings=(*read.readings, read.readings[-1]))
        yield "one more repeat, like the last", "", context, more
    if context.point is not None and context.point.u_height is not None:
        point = context.point._replace(u_height=_half(context.point.u_height))
        yield "height of the measuring point known twice as well", "", context._replace(point=point), read
    if context.construction is not None and context.construction.u_lean is not None:
        hole = context.construction._replace(u_lean=_half(context.construction.u_lean))
        yield "angle of the hole surveyed twice as well", "", context._replace(construction=hole), read
    for serial in serials_named(readings):
        if held := context.calibrations.get(serial):
            better = context._replace(calibrations={**context.calibrations, serial: _sharper(held)})
            yield f"a calibration of {serial} with half the scatter and half the doubt", f"gear/{serial}", better, read
    for field, words in _STATED.items():
        if (stated := getattr(read, field, None)) is not None:
            yield f"{words} at half of {stated}", "", context, read._replace(**{field: _half(stated)})
    for row in SETTINGS:
        if row.name.startswith("u_") or row.name in _ALSO_UNCERTAINTY:
            settings, how = _halved(context.settings, row.name)
            words = f"{row.name.replace('_', ' ')} ({row.meaning}) {how}"
            yield words, f"setting/{row.name}", context._replace(settings=settings), read


def _half(number: Written) -> Written:
    return number._replace(text=f"{float(number.text) / 2:.7f}")


def _sharper(held: Calibrated) -> Calibrated:
    """The calibration with the stated uncertainties halved and, under a line, the marks half as far from it."""
    calibration = held.calibration
    marks = [mark._replace(u=_half(mark.u)) if mark.u else mark for mark in calibration.marks]
    if calibration.apply == "straight line":
        line = fit_line([mark.shown.si for mark in marks], [mark.true.si for mark in marks])
        marks = [mark._replace(true=_metres((mark.true.si + line.at(mark.shown.si)[0]) / 2)) for mark in marks]
    return held._replace(calibration=calibration._replace(marks=tuple(marks)))


def _metres(length_m: float) -> Written:
    return Written(f"{length_m:.7f}", "m")


def _halved(settings: Settings, name: str) -> tuple[Settings, str]:
    text = settings.text(name)
    number, _, unit = text.partition(" ")
    half = f"{float(number) / 2:.9f}".rstrip("0")
    half = f"{half}0 {unit}".strip() if half.endswith(".") else f"{half} {unit}".strip()
    return settings._replace(changed={**settings.changed, name: half}), f"{half} instead of {text}"
