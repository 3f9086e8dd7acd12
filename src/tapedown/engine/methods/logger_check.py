"""A logger beside the tape: submergence from pressure, hanging depth from both.

References
----------
USGS TM 1-A1 (2011) GWPD 16: check against the tape on every visit; limit the greatest of 0.01 ft, 0.1 % of the range
gone through, 0.01 % of depth. Air column down to the water with the barometer at the surface: rho_air g d, 1.225 kg/m3.
"""

from __future__ import annotations

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.pressure import water_at
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.physics.water import head_m
from tapedown.engine.repeats.sets import agreed, mean_of, read_as, resolution_m, units_mixed
from tapedown.engine.uncertainty.budget import last_digit, scaled
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.readings import LoggerCheck
from tapedown.values.results import MANY, Finding, Num, Part, Reduction, Step
from tapedown.values.units import FOOT_M, STANDARD_GRAVITY_M_S2

GWPD_16 = "USGS TM 1-A1 GWPD 16"
AIR_DENSITY_KG_M3 = 1.225  # ICAO standard atmosphere at sea level, 15 degC


def submergence_m(
    pressure_kpa: Num, density_kg_m3: Num, gravity_m_s2: Num = STANDARD_GRAVITY_M_S2, barometer_kpa: Num = 0.0
) -> Num:
    """Water above the sensor: (p - p_air) / (rho g); a vented logger has p_air taken off already.

    Parameters
    ----------
    pressure_kpa
        What the logger shows, kPa, float or (n,).
    density_kg_m3
        Density of the water, kg/m3, float or (n,).
    gravity_m_s2
        Gravity at the well, m/s2.
    barometer_kpa
        Pressure of the air on the water, kPa, float or (n,); 0 for a vented logger.

    Returns
    -------
    float or (n,)
        Height of water, m; NaN where any of them is NaN.

    Example
    -------
    >>> from tapedown.engine.physics.water import water_density_kg_m3
    >>> round(submergence_m(142.35, water_density_kg_m3(11.0), barometer_kpa=98.21), 4)
    4.5028
    """
    return head_m(pressure_kpa - barometer_kpa, density_kg_m3, gravity_m_s2)


def air_column_kpa(depth_to_water_m: Num, gravity_m_s2: Num = STANDARD_GRAVITY_M_S2) -> Num:
    """How much more the air presses on water this deep than at land surface, kPa."""
    return AIR_DENSITY_KG_M3 * gravity_m_s2 * depth_to_water_m / 1000


def check_limit_m(depth_m: float, range_m: float) -> tuple[float, str]:
    """Largest difference between logger and tape that passes: the greatest of three.

    Parameters
    ----------
    depth_m
        Depth to water, m.
    range_m
        Range of level gone through since the last check, m; 0 when not known.

    Returns
    -------
    tuple
        The limit, m, and which of the three rules gave it.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 16: 0.01 ft, 0.1 % of the range gone through, 0.01 % of depth.

    Example
    -------
    >>> limit, rule = check_limit_m(250 * 0.3048, 30 * 0.3048)
    >>> round(limit / 0.3048, 3), rule
    (0.03, '0.1 % of the range')
    """
    rules = {"0.01 ft": 0.01 * FOOT_M, "0.1 % of the range": range_m / 1000, "0.01 % of depth": depth_m / 10000}
    rule = max(rules, key=lambda name: rules[name])
    return rules[rule], rule


def drift_correction(t: Num, t0: float, t1: float, offset0_m: float, offset1_m: float) -> Num:
    """Offset (tape minus logger) shared linearly in time between two checks.

    Parameters
    ----------
    t
        Time, float or (n,), in any unit and from any zero; before and after the checks the line goes on.
    t0
        Time of the first check, likewise.
    t1
        Time of the second, not the same.
    offset0_m
        Offset at the first, m.
    offset1_m
        Offset at the second, m.

    Returns
    -------
    float or (n,)
        The amount to add, m; NaN where the time is NaN.

    Example
    -------
    >>> drift_correction(50.0, 0.0, 100.0, 0.0, 0.02)
    0.01
    """
    return offset0_m + (offset1_m - offset0_m) * (t - t0) / (t1 - t0)


def reduce_logger_check(read: LoggerCheck, context: ReadingContext) -> Reduction:
    """Depth to water by a logger: hanging depth less submergence; without a hanging depth, the tape beside it.

    Parameters
    ----------
    read
        Pressures as written, the air's pressure for an absolute logger, hanging depth and tape reading where known.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m; what the tape says against the logger is a finding. With neither hanging depth nor tape
        the value is minus the water above the sensor, and a finding says that it is no depth.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 16.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> body = {"readings": ["44.14 kPa"], "type": "vented", "hanging_depth": "100"}
    >>> read, _ = METHODS["logger check"].read(body, "ft")
    >>> round(reduce_logger_check(read, ReadingContext()).stages[0].result.value_m / 0.3048, 2)
    85.23
    """
    findings = units_mixed(read.readings)
    water = water_at(read.water_temp, context, findings, read.water_density)
    barometer = _barometer_kpa(read, context, findings)
    pressures = [reading.si for reading in read.readings]
    heads = [float(submergence_m(p, water.density_kg_m3, context.gravity_m_s2, barometer)) for p in pressures]
    tolerance = max(context.settings.si("agree_within"), max(heads) * 1e-3)
    agreement = agreed(heads, tolerance, read, context)
    head = mean_of(heads, agreement)
    u = max(context.settings.si("u_logger"), 0.001 * head)
    digit = resolution_m(read.readings) * water.m_per_kpa
    key = f"logger {read.logger}" if read.logger else ""
    parts = [
        Part(key, "logger", u, MANY, context.settings.source("u_logger")),
        Part("density of the water", "density of the water", head * water.u_density_kg_m3 / water.density_kg_m3),
        last_digit(digit),
        agreement.part,
    ]
    if read.type == "absolute" and read.barometer is not None:
        parts.append(last_digit(read.barometer.resolution_si * water.m_per_kpa, "last digit of the barometer"))
    note = f"{read_as(read.readings, agreement)} {read.type}, {_air_note(read, barometer)}{water.how}"
    submerged = Step("water above the sensor", -head, tuple(scaled(parts, -1.0)), "(p - p_air) / (rho g)", note)
    path, vertical = _steps(read, submerged, context, findings)
    if read.hanging_depth is not None and read.taped_depth is not None:
        findings += _off_tape(read, head, context)
    deep = read.hanging_depth or read.taped_depth
    coarsest = max(digit, 1e-4, deep.resolution_si if deep else 0.0)
    return finish(Worked("logger check", path, agreement, coarsest, vertical, taped=False, findings=findings), context)


def _steps(
    read: LoggerCheck, submerged: Step, context: ReadingContext, findings: list[Finding]
) -> tuple[list[Step], tuple[Step, ...]]:
    """Along the hole: the sensor as recorded, less the water above it; else the tape, which tells where it hangs."""
    if read.hanging_depth is not None:
        depth = read.hanging_depth
        part = last_digit(depth.resolution_si)
        return [Step("hanging depth of the sensor", depth.si, (part,), GWPD_16, str(depth))], (submerged,)
    if read.taped_depth is not None:
        tape, head = read.taped_depth, -submerged.amount_m
        part = last_digit(tape.resolution_si, "tape reading")
        note = f"{tape}; {context.say(head)} of water above the sensor, which hangs at {context.say(tape.si + head)}"
        return [Step("depth to water by tape", tape.si, (part,), GWPD_16, note)], ()
    findings.append(
        finding(
            "no-hanging-depth",
            "neither the sensor's depth nor a tape reading: the result is minus the water above the sensor, no depth",
            "read the tape as well, or enter the depth the sensor hangs at",
        )
    )
    return [], (submerged,)


def _barometer_kpa(read: LoggerCheck, context: ReadingContext, findings: list[Finding]) -> float:
    if read.type == "vented":
        return 0.0
    if read.barometer is None:
        findings.append(
            finding(
                "absolute-without-barometer",
                "an absolute logger was read without the air pressure: 10 m of water too much",
                "enter the barometer reading of the same minute",
            )
        )
        return 0.0
    deep = read.taped_depth or read.hanging_depth
    if not read.barometer_at_land_surface or deep is None:
        return read.barometer.si
    height = context.point.height_m if context.point else 0.0
    return read.barometer.si + float(air_column_kpa(deep.si - height, context.gravity_m_s2))


def _air_note(read: LoggerCheck, barometer_kpa: float) -> str:
    return "" if read.type == "vented" else f"air {rounded(barometer_kpa, 0.001)} kPa, "


def _off_tape(read: LoggerCheck, head_m: float, context: ReadingContext) -> list[Finding]:
    if read.hanging_depth is None or read.taped_depth is None:
        return []
    by_logger = read.hanging_depth.si - head_m
    range_m = read.record_range.si if read.record_range else 0.0
    limit, rule = check_limit_m(read.taped_depth.si, range_m)
    off = read.taped_depth.si - by_logger
    if abs(off) <= limit + 1e-9:
        return []
    return [
        finding(
            "logger-off-tape",
            f"tape {context.say(read.taped_depth.si)}, logger {context.say(by_logger)}: {context.say(off)} apart, "
            f"more than {context.say(limit)} ({rule})",
            "read the tape again; look at the cable's mark at the hanging point; note any handling",
        )
    ]
