"""Total depth by weighted steel tape: tape value at the measuring point plus the weight interval.

References
----------
USGS TM 1-A1 (Cunningham & Schalk 2011) GWPD 11, p. 96: 84.30 + 1.20 = 85.50 ft below the point, 82.10 ft below land
surface. That document states no precision table; ours is a setting (values.settings.digits_uncorrected).
"""

from __future__ import annotations

import math

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.repeats.sets import agreed, mean_of, read_as, resolution_m, units_mixed
from tapedown.engine.tape.corrections import Hung, tape_corrections
from tapedown.engine.uncertainty.budget import last_digit
from tapedown.values.gear import Gear
from tapedown.values.readings import WeightedTape
from tapedown.values.results import MANY, Finding, Num, Part, Reduction, Step
from tapedown.values.written import Written

GWPD_11 = "USGS TM 1-A1 GWPD 11"


def sounding_steps(
    tape_m: Num, interval_m: Num, *, resolution_m: float, u_interval_m: float, u_feel_m: float, repeat: Part
) -> list[Step]:
    """The two steps of a sounding with their uncertainties.

    Parameters
    ----------
    tape_m
        Tape value held at the measuring point, m, float or (n,).
    interval_m
        From tape zero to the bottom of the hanging weight, m, float or (n,).
    resolution_m
        One unit of the last digit read, m.
    u_interval_m
        Standard uncertainty of the interval, m.
    u_feel_m
        Standard uncertainty of feeling the bottom, m.
    repeat
        Repeatability of the tape value, m.

    Returns
    -------
    list
        Tape value and weight interval, m; they add up to the depth below measuring point. NaN stays NaN.

    References
    ----------
    USGS TM 1-A1 GWPD 11, p. 96.

    Example
    -------
    >>> steps = sounding_steps(84.30, 1.20, resolution_m=0.01, u_interval_m=0.0, u_feel_m=0.0, repeat=Part("", "", 0.0))
    >>> steps[0].amount_m + steps[1].amount_m
    85.5
    """
    felt = Part("", "feeling the bottom", u_feel_m, MANY, "settings: u_bottom_feel")
    interval = Part("weight interval", "weight interval", u_interval_m, MANY, "settings: u_weight_interval")
    return [
        Step("tape at the measuring point", tape_m, (last_digit(resolution_m), repeat, felt), GWPD_11),
        Step("weight interval", interval_m, (interval,), GWPD_11),
    ]


def reduce_total_depth(read: WeightedTape, context: ReadingContext) -> Reduction:
    """Depth to the bottom from one or more lowerings of a weighted steel tape.

    Findings tell of a missing or differing weight interval, repeats that disagree, a doubtful bottom, a tape that is
    not corrected, and of conditions under which the depth is no total depth.

    Parameters
    ----------
    read
        Tape values as written, the weight interval or the weight it is known by, and how the bottom felt.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m.

    Notes
    -----
    depth = tape + weight interval + what the tape needs to be corrected for; a soft or unsure bottom is taken as twice
    as uncertain. The weight stands on the bottom: between none and all of it hangs on the tape.

    References
    ----------
    USGS TM 1-A1 (Cunningham & Schalk 2011) GWPD 11, p. 96.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> read, _ = METHODS["weighted tape"].read({"readings": ["84.30", "84.31"], "weight_interval": "1.20"}, "ft")
    >>> round(reduce_total_depth(read, ReadingContext()).stages[0].result.value_m / 0.3048, 3)
    85.505
    """
    settings, findings = context.settings, units_mixed(read.readings)
    tapes = [reading.si for reading in read.readings]
    weight = context.known_gear(read.weight, findings)
    interval = _interval(read, weight, findings)
    interval_m = interval.si if interval else 0.0
    tolerance = tolerance_m(max(tapes) + interval_m, settings)
    agreement = agreed(tapes, tolerance, read, context)
    tape_m = mean_of(tapes, agreement)
    steps = sounding_steps(
        tape_m,
        interval_m,
        resolution_m=resolution_m(read.readings),
        u_interval_m=max(settings.si("u_weight_interval"), interval.resolution_si / math.sqrt(12) if interval else 0.0),
        u_feel_m=settings.si("u_bottom_feel") * (2 if read.bottom in {"soft", "unsure"} else 1),
        repeat=agreement.part,
    )
    steps[0] = steps[0]._replace(note=read_as(read.readings, agreement))
    named = f"weight interval {read.weight}" if read.weight else ""  # another weight is another interval
    own = tuple(part._replace(key=named) for part in steps[1].parts)
    steps[1] = steps[1]._replace(note=str(interval) if interval else "not given", parts=own)
    if read.bottom == "unsure":
        findings.append(
            finding("bottom-unsure", "the bottom was not felt for sure", "lower again with a heavier weight")
        )
    water_at = read.hanging.water_at.si if read.hanging.water_at else tape_m + interval_m
    hung = Hung(read.tape, 0.0, tape_m, read.hanging, weight, resting=True,
                wet_m=max(0.0, tape_m - water_at))  # fmt: skip
    corrections = tape_corrections(hung, context)
    return finish(
        Worked(
            "weighted tape",
            steps + corrections.steps,
            agreement,
            resolution_m(read.readings),
            corrected=corrections.corrected,
            bottom=True,
            findings=findings + corrections.findings,
        ),
        context,
    )


def _interval(read: WeightedTape, weight: Gear | None, findings: list[Finding]) -> Written | None:
    known = weight.weight_interval if weight else None
    if read.weight_interval is None and known is None:
        findings.append(
            finding(
                "no-weight-interval",
                "no weight interval: this depth stops at the tape's zero, above the bottom of the weight",
                "measure from tape zero to the bottom of the hanging weight and enter it",
            )
        )
    if read.weight_interval is not None and known is not None and abs(read.weight_interval.si - known.si) > 0.0016:
        findings.append(
            finding(
                "weight-interval-differs",
                f"weight interval {read.weight_interval} was used; weight {read.weight} is known by {known}",
                "measure it again: was the weight changed, or the interval of another weight written?",
            )
        )
    return read.weight_interval or known
