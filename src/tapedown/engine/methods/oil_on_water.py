"""Water level under floating oil: interface less thickness times relative density.

References
----------
Two county files: T 0.32 ft, relative density 0.83, 9.60 -> 9.33 ft; T 0.33, 9.08 -> 8.81 ft (San Joaquin County, CA,
documents 471143 and 471029, p. 11). USGS TM 1-A1 GWPD 1 step 14 for several feet of oil.
"""

from __future__ import annotations

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.repeats.sets import agreed, mean_of, resolution_m, units_mixed
from tapedown.engine.tape.corrections import Hung, tape_corrections
from tapedown.engine.uncertainty.budget import last_digit, scaled
from tapedown.values.readings import Hanging, OilOnWater
from tapedown.values.results import MANY, Num, Part, Reduction, Step
from tapedown.values.units import FOOT_M

THICK_M = 1 * FOOT_M
"""Thicker oil than this: the relative density decides the level (GWPD 1 step 14 changes its procedure there)."""


def depression_m(thickness_m: Num, relative_density: Num) -> Num:
    """How far the oil presses the interface down: T x relative density.

    Parameters
    ----------
    thickness_m
        Thickness T of the oil, m, float or (n,).
    relative_density
        Density of the oil over that of the water, float or (n,).

    Returns
    -------
    float or (n,)
        Distance from the interface up to where water would stand, m; NaN where either is NaN.

    References
    ----------
    San Joaquin County, CA, documents 471143 and 471029, p. 11.

    Example
    -------
    >>> round(depression_m(0.32, 0.83), 2)
    0.27
    """
    return thickness_m * relative_density


def reduce_oil_on_water(read: OilOnWater, context: ReadingContext) -> Reduction:
    """The level water would have without the oil.

    Parameters
    ----------
    read
        Depths to oil and to the interface as written, and the oil's relative density.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m.

    Notes
    -----
    depth = interface - T x relative density + what the tape needs to be corrected for; of repeats the interfaces are
    held to agree.

    References
    ----------
    San Joaquin County, CA, documents 471143 and 471029, p. 11; USGS TM 1-A1 GWPD 1 step 14.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> body = {"readings": [{"oil": "9.28", "water": "9.60"}], "relative_density": "0.83"}
    >>> read, _ = METHODS["oil on water"].read(body, "ft")
    >>> round(reduce_oil_on_water(read, ReadingContext()).stages[0].result.value_m / 0.3048, 2)
    9.33
    """
    settings = context.settings
    findings = units_mixed([pair.oil for pair in read.readings] + [pair.water for pair in read.readings])
    oils, waters = [pair.oil.si for pair in read.readings], [pair.water.si for pair in read.readings]
    agreement = agreed(waters, tolerance_m(max(waters), settings), read, context)
    oil, water = mean_of(oils, agreement), mean_of(waters, agreement)
    thickness = water - oil
    ratio = read.relative_density.si if read.relative_density else 0.0
    if thickness > THICK_M:
        findings.append(
            finding(
                "thick-oil",
                f"{context.say(thickness)} of oil: an error of 0.05 in relative density moves the level by "
                f"{context.say(0.05 * thickness)}",
                "measure the relative density on a sample",
            )
        )
    digit = resolution_m([pair.oil for pair in read.readings] + [pair.water for pair in read.readings])
    u_ratio = settings.si("u_relative_density")
    shown = ", ".join(f"{pair.oil} / {pair.water}" for pair in read.readings)
    interface = scaled([last_digit(digit, "last digit of the interface")], 1 - ratio)  # it is in the thickness too
    oil_surface = scaled([last_digit(digit, "last digit of the oil surface")], ratio)
    steps = [
        Step("interface of oil and water", water, (*interface, agreement.part), "probe or paste", shown),
        Step(
            "oil pressing the interface down",
            -depression_m(thickness, ratio),
            (
                Part("", "relative density", thickness * u_ratio, MANY, settings.source("u_relative_density")),
                *oil_surface,
            ),
            "T x relative density",
            f"{context.say(thickness)} x {ratio:g}",
        ),
    ]
    corrections = tape_corrections(Hung(read.tape, 0.0, water, Hanging()), context)
    return finish(
        Worked("oil on water", steps + corrections.steps, agreement, digit, corrected=corrections.corrected,
               findings=findings + corrections.findings),
        context,
    )  # fmt: skip
