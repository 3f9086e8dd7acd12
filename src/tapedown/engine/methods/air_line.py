"""Depth to water by air line: a line of known length less the water that the air keeps out of it.

References
----------
USGS TM 1-A1 (2011) GWPD 13, p. 112-113: k = d + h, later d = k - h; examples 101.4, 51.4, 150 and 109 ft (the text
rounds on the way). MIL-HDBK-1164 appendix A: line 150 ft, 25 psi, 92.3 ft. The handbook factor 2.307 ft/psi is exact at
8 degC, 2.31 at 18.2 degC; here density follows the water's temperature. Gauge error +-1 psi = +-2.31 ft: Colorado CWCB.
"""

from __future__ import annotations

from collections.abc import Sequence

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.pressure import PressureWater, head_step, water_at
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.physics.water import air_column_factor, head_m
from tapedown.engine.repeats.agreement import Agreement
from tapedown.engine.repeats.sets import agreed, mean_of, read_as, resolution_m, units_mixed
from tapedown.engine.uncertainty.budget import half_width, last_digit, scaled
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.readings import AirLine
from tapedown.values.results import Num, Part, Reduction, Step
from tapedown.values.units import STANDARD_GRAVITY_M_S2
from tapedown.values.written import Written

GWPD_13 = "USGS TM 1-A1 GWPD 13"
ATMOSPHERE_KPA = 101.325


def line_constant_m(depth_m: Num, head_m: Num) -> Num:
    """Constant of an air line, k = d + h, from a tape depth and the gauge reading taken with it.

    Parameters
    ----------
    depth_m
        Depth to water by tape, m, float or (n,).
    head_m
        Water above the line's end by the gauge, m, float or (n,).

    Returns
    -------
    float or (n,)
        Depth of the line's end, m; NaN where either is NaN.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 13, p. 112-113.

    Example
    -------
    >>> round(line_constant_m(25.86, 75.5), 2)
    101.36
    """
    return depth_m + head_m


def air_weight_m(
    line_m: float, pressure_kpa: float, air_temp_c: float, density_kg_m3: float, gravity_m_s2: float
) -> float:
    """How much the weight of the air adds to the head: denser air in the line, lighter air down the casing.

    Parameters
    ----------
    line_m
        Depth of the line's end, m.
    pressure_kpa
        Gauge pressure at the top, kPa above that of the air.
    air_temp_c
        Temperature of the air, degC, the same in line and casing.
    density_kg_m3
        Density of the water, kg/m3.
    gravity_m_s2
        Gravity at the well, m/s2.

    Returns
    -------
    float
        Height of water to add to p / (rho g), m.

    Notes
    -----
    head = ((p + p_air) F(line) - p_air F(line - head)) / (rho g), found by repetition, with F = exp(g z / (R T)) of an
    isothermal column and 101.325 kPa at land surface. 1.4 m (4.5 ft) for 100 psi on 500 ft.

    Example
    -------
    >>> round(air_weight_m(152.4, 689.4757, 15.0, 999.1, 9.80665), 2)
    1.37
    """
    plain = float(head_m(pressure_kpa, density_kg_m3, gravity_m_s2))
    head = plain
    for _ in range(50):
        at_end = (pressure_kpa + ATMOSPHERE_KPA) * air_column_factor(line_m, air_temp_c, gravity_m_s2)
        at_water = ATMOSPHERE_KPA * air_column_factor(line_m - head, air_temp_c, gravity_m_s2)
        again = float(head_m(at_end - at_water, density_kg_m3, gravity_m_s2))
        if abs(again - head) < 1e-9:
            break
        head = again
    return head - plain


def reduce_air_line(read: AirLine, context: ReadingContext) -> Reduction:
    """Depth to water from the steady pressure in an air line.

    Parameters
    ----------
    read
        Gauge readings, as pressure or as height of water, and what the line is known by: its length, or a tape reading
        with the gauge reading taken with it. A set with neither is a ValueError; its form does not let it through.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m.

    Notes
    -----
    depth = k - h with k the line's length or d + h at calibration; a gauge named in both cancels.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 13, p. 112-113.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> read, _ = METHODS["air line"].read({"readings": ["25 psi"], "line_length": "150"}, "ft")
    >>> round(reduce_air_line(read, ReadingContext()).stages[0].result.value_m / 0.3048, 1)
    92.3
    """
    shown = read.readings or read.readings_as_water
    findings = units_mixed(shown)
    as_length = not read.readings
    needs_water = not as_length or read.constant_gauge is not None
    water = water_at(read.water_temp, context, findings if needs_water else [])
    heads = [r.si if as_length else float(head_m(r.si, water.density_kg_m3, context.gravity_m_s2)) for r in shown]
    agreement = agreed(heads, context.settings.si("agree_gauge"), read, context)
    path, offset = _line_steps(read, water, context)
    vertical = [*offset, _gauge_step(read, shown, agreement, water, context)]
    if read.weight_of_air and read.readings:
        vertical += _air_steps(read, mean_of([r.si for r in shown], agreement), water, context)
    digit = resolution_m(shown) if as_length else max(resolution_m(shown) * water.m_per_kpa, 1e-4)
    return finish(Worked("air line", path, agreement, digit, vertical, findings=findings), context)


def _line_steps(read: AirLine, water: PressureWater, context: ReadingContext) -> tuple[list[Step], list[Step]]:
    """The line's length along the hole, and the head that belongs to it when it was found with a tape."""
    if read.line_length is not None:
        step = Step("air line, lower end", read.line_length.si,
                    (last_digit(read.line_length.resolution_si, "length of the line"),), GWPD_13,
                    f"{read.line_length} as stated")  # fmt: skip
        return [step], []
    depth = read.constant_depth
    if depth is None:
        raise ValueError("an air line needs line_length or constant_depth")
    path = [Step("depth by tape, at calibration", depth.si, (last_digit(depth.resolution_si),), GWPD_13, str(depth))]
    key = f"gauge {read.gauge}" if read.gauge else ""
    if read.constant_gauge_as_water is not None:
        head = read.constant_gauge_as_water
        parts = (_altitude_part(key, context), last_digit(head.resolution_si))
        return path, [Step("gauge, at calibration", head.si, parts, GWPD_13, str(head))]
    if read.constant_gauge is None:
        raise ValueError("an air line known by a tape reading needs the gauge reading taken with it")
    step = head_step("gauge, at calibration", read.constant_gauge.si, water, context, error=read.gauge_error, key=key)
    digit = last_digit(read.constant_gauge.resolution_si * water.m_per_kpa)
    note = f"{read.constant_gauge}, {step.note}"
    return path, [step._replace(parts=(*step.parts, digit), source=GWPD_13, note=note)]


def _gauge_step(
    read: AirLine, shown: Sequence[Written], agreement: Agreement, water: PressureWater, context: ReadingContext
) -> Step:
    mean = mean_of([r.si for r in shown], agreement)
    key = f"gauge {read.gauge}" if read.gauge else ""
    note = read_as(shown, agreement)
    if not read.readings:
        parts: tuple[Part, ...] = (_altitude_part(key, context), last_digit(resolution_m(shown)), agreement.part)
        return Step("water above the line's end", -mean, tuple(scaled(parts, -1.0)), GWPD_13, note)
    step = head_step("water above the line's end", mean, water, context, error=read.gauge_error, key=key)
    digit = last_digit(resolution_m(shown) * water.m_per_kpa)
    return Step(
        step.what, -step.amount_m, (*scaled(step.parts, -1.0), digit, agreement.part), GWPD_13, f"{note}, {step.note}"
    )


def _altitude_part(key: str, context: ReadingContext) -> Part:
    settings = context.settings
    return half_width("altitude gauge", settings.si("u_altitude_gauge"), settings.source("u_altitude_gauge"), key)


def _air_steps(read: AirLine, pressure_kpa: float, water: PressureWater, context: ReadingContext) -> list[Step]:
    """The weight of the air, less what it was when the line's constant was found."""
    temp_c = read.air_temp.si if read.air_temp else water.temp_c
    gravity = context.gravity_m_s2 or STANDARD_GRAVITY_M_S2

    def weight(line_m: float, kpa: float) -> float:
        return air_weight_m(line_m, kpa, temp_c, water.density_kg_m3, gravity)

    if read.line_length is not None:
        add = -weight(read.line_length.si, pressure_kpa)
    else:
        depth = read.constant_depth.si if read.constant_depth else 0.0
        as_water = read.constant_gauge_as_water.si / water.m_per_kpa if read.constant_gauge_as_water else 0.0
        then = read.constant_gauge.si if read.constant_gauge else as_water
        line = depth + float(head_m(then, water.density_kg_m3, gravity))
        add = weight(line, then) - weight(line, pressure_kpa)
    part = half_width("temperature of the air", abs(add) * 0.05, "15 degC either way, ours")
    note = f"air at {rounded(temp_c, 0.1)} degC"
    return [Step("weight of the air", add, (part,), f"{GWPD_13}; isothermal columns", note)]
