"""Flowing wells, shut in: water above the measuring point, by gauge or standpipe. The depth comes out negative.

References
----------
USGS TM 1-A1 (2011) GWPD 12: head above the point = 2.307 ft/psi x gauge; depth below land surface = -(head + height of
the point). Gauge read in the middle third of its range; standpipe practical to 5-6 ft; 0.1 to 0.2 ft repeat.
"""

from __future__ import annotations

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.pressure import head_step, water_at
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.repeats.sets import agreed, mean_of, read_as, resolution_m, units_mixed
from tapedown.engine.uncertainty.budget import half_width, last_digit, scaled
from tapedown.engine.uncertainty.digits import percent
from tapedown.values.readings import FlowingGauge, Standpipe
from tapedown.values.results import Finding, Reduction, Step
from tapedown.values.units import FOOT_M
from tapedown.values.written import Written

GWPD_12 = "USGS TM 1-A1 GWPD 12"
STANDPIPE_LIMIT_M = 6 * FOOT_M
"""A tube is practical below 5 to 6 ft of head (GWPD 12)."""


def middle_third(pressure: float, full_range: float) -> bool:
    """Whether a reading lies in the middle third of a gauge's range, edges included (GWPD 12).

    Parameters
    ----------
    pressure
        What was read, in any unit.
    full_range
        Upper end of the gauge's range, from 0, in the same unit, > 0.

    Returns
    -------
    bool
        Whether it lies there, to 1e-9 of the range.

    Example
    -------
    >>> middle_third(20.0, 60.0), middle_third(20.0, 100.0)
    (True, False)
    """
    return 1 / 3 - 1e-9 <= pressure / full_range <= 2 / 3 + 1e-9


def standpipe_practical(head_above_land_m: float) -> bool:
    """Whether a tube can still be held up at this head."""
    return head_above_land_m <= STANDPIPE_LIMIT_M


def reduce_flowing_gauge(read: FlowingGauge, context: ReadingContext) -> Reduction:
    """Head of a shut-in flowing well from a gauge at, above or below the measuring point.

    Parameters
    ----------
    read
        Gauge readings as written, the gauge's height and range, the shut-in time.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m, so negative where water stands above.

    Notes
    -----
    depth below point = -(p / (rho g) + height of the gauge above the point); nothing is read along the hole.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 12.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> read, _ = METHODS["flowing gauge"].read({"readings": ["10 psi"]}, "ft")
    >>> round(reduce_flowing_gauge(read, ReadingContext()).stages[0].result.value_m / 0.3048, 2)
    -23.08
    """
    findings = units_mixed(read.readings) + _shut_in(read.shut_in)
    water = water_at(read.water_temp, context, findings)
    pressures = [reading.si for reading in read.readings]
    heads = [p * water.m_per_kpa for p in pressures]
    agreement = agreed(heads, context.settings.si("agree_gauge"), read, context)
    pressure = mean_of(pressures, agreement)
    findings += _range(read, pressure)
    digit = resolution_m(read.readings) * water.m_per_kpa
    step = head_step("head above the gauge", pressure, water, context, error=read.gauge_error)
    steps = [
        step._replace(
            amount_m=-step.amount_m,
            parts=(*scaled(step.parts, -1.0), last_digit(digit), agreement.part),
            source=GWPD_12,
            note=f"{read_as(read.readings, agreement)}, {step.note}",
        )
    ]
    if read.gauge_above_point is not None and read.gauge_above_point.si != 0:
        above = read.gauge_above_point
        part = last_digit(above.resolution_si, "height of the gauge")
        steps.append(Step("gauge above the measuring point", -above.si, (part,), GWPD_12, str(above)))
    return finish(Worked("flowing gauge", [], agreement, digit, steps, findings=findings), context)


def reduce_standpipe(read: Standpipe, context: ReadingContext) -> Reduction:
    """Head of a shut-in flowing well from the level in a tube above the measuring point.

    Parameters
    ----------
    read
        Levels in the tube as written, and the shut-in time.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m, so negative where water stands above.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 12.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> read, _ = METHODS["standpipe"].read({"readings": ["3.2"]}, "ft")
    >>> round(reduce_standpipe(read, ReadingContext()).stages[0].result.value_m / 0.3048, 2)
    -3.2
    """
    settings = context.settings
    findings = units_mixed(read.readings) + _shut_in(read.shut_in)
    levels = [reading.si for reading in read.readings]
    agreement = agreed(levels, settings.si("agree_standpipe"), read, context)
    level = mean_of(levels, agreement)
    height_m = context.point.height_m if context.point else 0.0
    if not standpipe_practical(level + height_m):
        findings.append(
            finding(
                "standpipe-too-high",
                f"the tube stands {context.say(level + height_m)} above land surface; 5 to 6 ft is the usual limit",
                "use a gauge",
            )
        )
    digit = resolution_m(read.readings)
    parts = (
        half_width("level in the tube", settings.si("u_standpipe"), settings.source("u_standpipe")),
        last_digit(digit),
        agreement.part,
    )
    step = Step("level above the measuring point", -level, parts, GWPD_12, read_as(read.readings, agreement))
    return finish(Worked("standpipe", [], agreement, digit, [step], findings=findings), context)


def _shut_in(shut_in: Written | None) -> list[Finding]:
    if shut_in is not None:
        return []
    return [
        finding("shut-in-not-noted", "the shut-in time is not noted", "note it and keep the same one at every visit")
    ]


def _range(read: FlowingGauge, pressure_kpa: float) -> list[Finding]:
    if read.gauge_range is None or middle_third(pressure_kpa, read.gauge_range.si):
        return []
    share = pressure_kpa / read.gauge_range.si
    return [
        finding(
            "gauge-outside-middle",
            f"the gauge was read at {percent(share)} of its range {read.gauge_range}",
            "take a gauge that reads in its middle third",
        )
    ]
