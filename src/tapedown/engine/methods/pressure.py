"""From a pressure to a height of water, with what makes it uncertain."""

from __future__ import annotations

import math
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.physics.water import DENSITY_RANGE_C, density_slope_kg_m3_per_c, head_m, water_density_kg_m3
from tapedown.engine.uncertainty.budget import half_width
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.results import MANY, Finding, Part, Step
from tapedown.values.written import Written


class PressureWater(NamedTuple):
    """The water whose weight makes the pressure. m_per_kpa is the head that one kPa makes."""

    temp_c: float
    density_kg_m3: float
    u_density_kg_m3: float
    m_per_kpa: float
    how: str


def water_at(
    temp: Written | None, context: ReadingContext, findings: list[Finding], density: Written | None = None
) -> PressureWater:
    """The water at a measured temperature, at the network's default when none was, or of a measured density.

    Parameters
    ----------
    temp
        Temperature of the water as written, None when it was not measured.
    context
        Gravity at the well and the network's settings.
    findings
        Is added to when the temperature is a guess or outside the range of the density formula.
    density
        Density as measured; it then counts, whatever the temperature.

    Returns
    -------
    PressureWater
        Density and its standard uncertainty, kg/m3, and the head of one kPa, m. A temperature that was not measured is
        taken as three times as uncertain.

    Example
    -------
    >>> round(water_at(None, ReadingContext(), []).m_per_kpa, 5)
    0.10202
    """
    settings = context.settings
    temp_c = temp.si if temp else settings.si("water_temp_unknown")
    if density is not None:
        u = density.resolution_si / math.sqrt(12)
        return _water(temp_c, density.si, u, context, f"density {density} as measured")
    if temp is None:
        findings.append(
            finding(
                "water-temperature-unknown",
                f"water temperature taken as {temp_c:g} degC",
                "measure it: 10 degC make 0.1 % of the head",
            )
        )
    if not DENSITY_RANGE_C[0] <= temp_c <= DENSITY_RANGE_C[1]:
        findings.append(
            finding("density-out-of-range", f"water at {temp_c:g} degC is outside 0 to 40 degC", "check the unit")
        )
    half_c = settings.si("u_water_temp") * (1.0 if temp else 3.0)
    u = abs(density_slope_kg_m3_per_c(temp_c)) * half_c / math.sqrt(3)
    return _water(temp_c, float(water_density_kg_m3(temp_c)), u, context, f"fresh water at {rounded(temp_c, 0.1)} degC")


def _water(temp_c: float, density: float, u_density: float, context: ReadingContext, how: str) -> PressureWater:
    return PressureWater(temp_c, density, u_density, float(head_m(1.0, density, context.gravity_m_s2)), how)


def head_step(
    what: str,
    pressure_kpa: float,
    water: PressureWater,
    context: ReadingContext,
    *,
    error: Written | None = None,
    key: str = "",
) -> Step:
    """The height of water that a gauge pressure stands for: p / (rho g).

    Parameters
    ----------
    what
        Name of the step, in words.
    pressure_kpa
        Pressure above that of the air, kPa.
    water
        The water that makes it, see `water_at`.
    context
        The network's settings.
    error
        Largest error of the gauge as stated, taken as a half-width; None takes the network's.
    key
        Names the gauge, so that its error cancels where it is read twice; "" when it was not named.

    Returns
    -------
    Step
        Height of water, m; parts are the gauge and the density of the water.

    Example
    -------
    >>> water = water_at(None, ReadingContext(), [])
    >>> round(head_step("head", 68.9476, water, ReadingContext()).amount_m, 4)
    7.0342
    """
    settings = context.settings
    half_kpa = error.si if error else settings.si("u_gauge_psi")
    source = "as stated" if error else settings.source("u_gauge_psi")
    head = pressure_kpa * water.m_per_kpa
    parts = (
        half_width("gauge", half_kpa * water.m_per_kpa, source, key),
        Part("density of the water", "density of the water", head * water.u_density_kg_m3 / water.density_kg_m3, MANY,
             "settings: u_water_temp"),
    )  # fmt: skip
    return Step(what, head, parts, "p / (rho g)", f"{water.how}, {rounded(water.density_kg_m3, 0.001)} kg/m3")
