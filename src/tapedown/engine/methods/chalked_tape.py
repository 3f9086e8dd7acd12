"""Depth to water by chalked steel tape: hold minus cut.

References
----------
USGS TM 1-A1 (2011) GWPD 1, figure 1: 14.99 - 1.28 = 13.71, less 0.85 = 12.86 ft. The 2006 edition (USGS TWRI 9-A4) puts
a whole foot mark at the measuring point, the 2011 edition stops a hundredth short; the hold is stored as it was.
"""

from __future__ import annotations

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.repeats.sets import agreed, mean_of, resolution_m, units_mixed
from tapedown.engine.tape.corrections import Hung, tape_corrections
from tapedown.engine.uncertainty.budget import last_digit
from tapedown.values.readings import ChalkedTape, HoldCut
from tapedown.values.results import Finding, Num, Reduction, Step
from tapedown.values.seen import RUNNING

GWPD_1 = "USGS TM 1-A1 GWPD 1"


def hold_minus_cut_m(hold_m: Num, cut_m: Num) -> Num:
    """Depth to water below the measuring point.

    Parameters
    ----------
    hold_m
        Tape value held at the measuring point, m, float or (n,).
    cut_m
        Tape value at the wetted line, m, float or (n,).

    Returns
    -------
    float or (n,)
        Depth, m, negative where the cut is the greater; NaN where either is NaN.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 1, figure 1.

    Example
    -------
    >>> round(hold_minus_cut_m(14.99, 1.28), 2)
    13.71
    """
    return hold_m - cut_m


def reduce_chalked_tape(read: ChalkedTape, context: ReadingContext) -> Reduction:
    """Depth to water from one or more pairs of hold and cut.

    Parameters
    ----------
    read
        Pairs as written, with tape and weight.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Depths positive down, m; a cut greater than its hold is a finding, not an error.

    Notes
    -----
    depth = hold - cut + what the tape needs to be corrected for; the wetted end hangs in water.

    References
    ----------
    USGS TM 1-A1 (2011) GWPD 1, figure 1.

    Example
    -------
    >>> from tapedown.values.reading_forms import METHODS
    >>> read, _ = METHODS["chalked tape"].read({"readings": [{"hold": "14.99", "cut": "1.28"}]}, "ft")
    >>> round(reduce_chalked_tape(read, ReadingContext()).stages[0].result.value_m / 0.3048, 2)
    13.71
    """
    pairs = read.readings
    findings = units_mixed([p.hold for p in pairs] + [p.cut for p in pairs])
    findings += [_swapped(number, pair) for number, pair in enumerate(pairs, 1) if pair.cut.si > pair.hold.si]
    if context.seen.pump == RUNNING:
        findings.append(
            finding("steel-tape-while-pumping", "a steel tape was lowered into a pumping well", "use an electric tape")
        )
    holds, cuts = [p.hold.si for p in pairs], [p.cut.si for p in pairs]
    depths = [hold_minus_cut_m(hold, cut) for hold, cut in zip(holds, cuts)]
    tolerance = tolerance_m(max(depths), context.settings)
    agreement = agreed(depths, tolerance, read, context)
    hold, cut = mean_of(holds, agreement), mean_of(cuts, agreement)
    digit = resolution_m([pair.hold for pair in pairs] + [pair.cut for pair in pairs])
    steps = [
        Step(
            "hold", hold, (last_digit(digit, "last digit of the hold"), agreement.part), GWPD_1, _shown(pairs, "hold")
        ),
        Step("cut", -cut, (last_digit(digit, "last digit of the cut"),), GWPD_1, _shown(pairs, "cut")),
    ]
    weight = context.known_gear(read.weight, findings)
    hung = Hung(read.tape, min(cut, hold), hold, read.hanging, weight, wet_m=max(0.0, min(cut, hold)))
    corrections = tape_corrections(hung, context)
    findings += corrections.findings
    return finish(
        Worked("chalked tape", steps + corrections.steps, agreement, digit, corrected=corrections.corrected,
               findings=findings),
        context,
    )  # fmt: skip


def _shown(pairs: tuple[HoldCut, ...], which: str) -> str:
    return ", ".join(str(getattr(pair, which)) for pair in pairs)


def _swapped(number: int, pair: HoldCut) -> Finding:
    return finding(
        "cut-above-hold",
        f"reading {number}: cut {pair.cut} is greater than hold {pair.hold}, the water would stand above the point",
        "are hold and cut swapped? look at the tape again before wiping it",
    )
