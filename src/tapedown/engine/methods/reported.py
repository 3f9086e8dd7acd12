"""Values handed on by others: a depth or an elevation without the readings behind it."""

from __future__ import annotations

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.stages import Worked, conclude, finish
from tapedown.engine.repeats.agreement import Agreement, tolerance_m
from tapedown.engine.repeats.sets import agreed, mean_of, read_as, resolution_m, units_mixed
from tapedown.engine.uncertainty.budget import amount, last_digit, parts_of, scaled, total
from tapedown.values.readings import Reported
from tapedown.values.results import BELOW_LAND, ELEVATION, MANY, Part, Reduction, Stage, Step


def reduce_reported(read: Reported, context: ReadingContext) -> Reduction:
    """The reported value brought to the same references as our own readings.

    A single reported value is not held against its repeats: there is nothing to read again.

    Parameters
    ----------
    read
        What was handed on, as written: of what, counted from where, and how well it is said to be known.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Begins with the reference it was reported in: below measuring point, below land surface, or elevation, m.
    """
    findings = units_mixed(read.readings)
    values = [reading.si for reading in read.readings]
    agreement = agreed(values, tolerance_m(max(values), context.settings), read, context)
    agreement = agreement._replace(findings=tuple(f for f in agreement.findings if f.check != "single-reading"))
    step = _value_step(read, values, agreement, context)
    bottom = read.what == "total depth"
    worked = Worked(
        "reported", [step], agreement, resolution_m(read.readings), bottom=bottom, taped=False, findings=findings
    )
    if read.reference == "below measuring point":
        return finish(worked, context)
    level = context.settings.si("coverage")
    if read.reference == "below land surface":
        return conclude(worked, [Stage("", (step,), total(BELOW_LAND, step.amount_m, step.parts, level))], context)
    return _from_elevation(worked, step, level, context)


def _value_step(read: Reported, values: list[float], agreement: Agreement, context: ReadingContext) -> Step:
    u = read.u.si if read.u else context.settings.si("u_reported")
    source = "as stated" if read.u else context.settings.source("u_reported")
    parts = (Part("", "as reported", u, MANY, source), last_digit(resolution_m(read.readings)))
    what = f"{read.what} {read.reference}".replace("elevation", "as elevation")
    return Step(what, mean_of(values, agreement), parts, read.how or "not said how", read_as(read.readings, agreement))


def _from_elevation(worked: Worked, step: Step, level: float, context: ReadingContext) -> Reduction:
    """A reported elevation: depth below land surface is land surface minus it, where land surface is known."""
    stage = Stage("", (step,), total(ELEVATION, step.amount_m, step.parts, level))
    position = context.position
    if position is None or position.land_surface is None:
        findings = [*worked.findings, finding("no-land-surface", "no elevation of land surface", "enter the position")]
        return conclude(worked._replace(findings=findings), [stage], context)
    u = position.u_elevation.si if position.u_elevation else context.settings.si("u_land_surface")
    land = Step("land-surface elevation", position.land_surface.si,
                (Part("land surface", "elevation of land surface", u, MANY, position.elevation_method),),
                "", f"{position.land_surface}, {position.vertical_datum}")  # fmt: skip
    water = Step("minus reported elevation", -step.amount_m, tuple(scaled(step.parts, -1.0)), "", "")
    steps = (land, water)
    below = Stage("", steps, total(BELOW_LAND, amount(steps), parts_of(steps), level))
    return conclude(worked, [stage, below], context)._replace(datum=position.vertical_datum)
