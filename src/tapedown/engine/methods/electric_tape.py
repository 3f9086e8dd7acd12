"""Depth to water by electric tape: the mark at the measuring point when the circuit closes.

References
----------
USGS TM 1-A1 (2011) GWPD 4, p. 35: splice correction 20 - 0.85 = 19.15 ft. The 2006 edition (TWRI 9-A4 step 6d) writes
the result as depth below land surface, a slip: it is below the measuring point.
"""

from __future__ import annotations

import math

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.repeats.sets import agreed, mean_of, read_as, resolution_m, units_mixed
from tapedown.engine.tape.corrections import Hung, tape_corrections
from tapedown.engine.uncertainty.budget import last_digit
from tapedown.values.readings import ElectricTape
from tapedown.values.results import MANY, Num, Part, Reduction, Step

GWPD_4 = "USGS TM 1-A1 GWPD 4"


def splice_m(marker_above_splice_m: Num, marker_to_sensor_m: Num) -> Num:
    """How much a spliced tape shows too much: marker above the splice minus its distance to the sensor.

    Parameters
    ----------
    marker_above_splice_m
        What the tape shows at the marker above the splice, m, float or (n,).
    marker_to_sensor_m
        Distance from that marker to the sensor, measured, m, float or (n,).

    Returns
    -------
    float or (n,)
        The amount to take off, m; NaN where either is NaN.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 4, p. 35.

    Example
    -------
    >>> round(splice_m(20.0, 0.85), 2)
    19.15
    """
    return marker_above_splice_m - marker_to_sensor_m


def reduce_electric_tape(read: ElectricTape, context: ReadingContext) -> Reduction:
    """Depth to water from one or more readings of an electric tape.

    Parameters
    ----------
    read
        Tape values at the measuring point, as written, and the splice where there is one.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m.

    Notes
    -----
    depth = mean of the repeats that count - splice + what the tape needs to be corrected for.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 4, p. 35.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> read, _ = METHODS["electric tape"].read({"readings": ["25.34", "25.35"]}, "ft")
    >>> round(reduce_electric_tape(read, ReadingContext()).stages[0].result.value_m / 0.3048, 3)
    25.345
    """
    findings = units_mixed(read.readings)
    shown = [reading.si for reading in read.readings]
    agreement = agreed(shown, tolerance_m(max(shown), context.settings), read, context)
    at_point = mean_of(shown, agreement)
    digit = resolution_m(read.readings)
    parts = (last_digit(digit), agreement.part)
    steps = [Step("tape at the measuring point", at_point, parts, GWPD_4, read_as(read.readings, agreement))]
    steps += _splice_steps(read)
    corrections = tape_corrections(Hung(read.tape, 0.0, at_point, read.hanging), context)
    return finish(
        Worked("electric tape", steps + corrections.steps, agreement, digit, corrected=corrections.corrected,
               findings=findings + corrections.findings),
        context,
    )  # fmt: skip


def _splice_steps(read: ElectricTape) -> list[Step]:
    above, below = read.marker_above_splice, read.marker_to_sensor
    if above is None or below is None:
        return []
    u = math.sqrt(above.resolution_si**2 + below.resolution_si**2) / math.sqrt(12)
    part = Part(f"splice {read.tape}" if read.tape else "", "splice", u, MANY, "digits as written")
    return [Step("splice", -splice_m(above.si, below.si), (part,), f"{GWPD_4} p. 35", f"{above} to sensor at {below}")]
