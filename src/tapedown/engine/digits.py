"""To which digit may a value be reported?

Three things speak: the digit that was read, the expanded uncertainty (its first significant digit is the last worth
writing, after GUM 7.2.6) and a rule table by depth. The coarsest wins. No published table for bottom soundings was
found; the default table is ours, a setting, and says so.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal

from tapedown.values.results import Digits
from tapedown.values.settings import Settings
from tapedown.values.units import FOOT_M


def reporting_digits(
    depth_m: float, expanded_m: float, resolution_m: float, settings: Settings, *, corrected: bool
) -> Digits:
    """The reporting step for a value at this depth, in the network's unit, with the reason.

    Parameters
    ----------
    depth_m : depth the rule table is entered with, m
    expanded_m : expanded uncertainty, m
    resolution_m : coarsest digit read, m
    corrected : whether every tape term was applied

    Example
    -------
    >>> reporting_digits(25.0, 0.006, 0.003048, Settings(), corrected=False).step
    0.01
    """
    unit = settings.length_unit
    unit_m = FOOT_M if unit == "ft" else 1.0
    table = "digits_corrected" if corrected else "digits_uncorrected"
    by_table = _table_step(depth_m / FOOT_M, settings.text(table)) * (1.0 if unit == "ft" else 0.1)
    by_uncertainty = _decade(expanded_m / unit_m)
    by_reading = _decade(resolution_m / unit_m)
    reasons = {
        "the digit that was read": by_reading,
        "the expanded uncertainty": by_uncertainty,
        f"the rule by depth ({settings.source(table)})": by_table,
    }
    step = max(reasons.values())
    reason = next(why for why, size in reasons.items() if size == step)
    return Digits(step, unit, f"to {step:g} {unit}: {reason} allows no finer")


def rounded(number: float, step: float) -> str:
    """`number` to the nearest multiple of `step`, ties to even, with the digits of the step (0.01 -> two).

    Example
    -------
    >>> rounded(12.864, 0.01), rounded(411.27, 0.5), rounded(-0.001, 0.01)
    ('12.86', '411.5', '0.00')
    """
    size = Decimal(repr(step))
    # repr of a computed float may hide a tie behind its last bits: 12 digits are more than any tape
    count = (Decimal(f"{number:.12f}") / size).quantize(Decimal(1), rounding=ROUND_HALF_EVEN)
    text = f"{count * size:.{_decimals(step)}f}"
    return text.lstrip("-") if not text.strip("-0.") else text


def _decimals(step: float) -> int:
    return max(0, -int(Decimal(repr(step)).normalize().as_tuple().exponent))


def _decade(size: float) -> float:
    if size <= 0:
        return 0.0
    exponent = math.floor(math.log10(size) + 1e-9)
    return float(Decimal(1).scaleb(exponent))


def _table_step(depth_ft: float, table: str) -> float:
    """The step at this depth from a table such as "0.01 to 200, 0.1 to 500, 0.5"."""
    step = 0.0
    for row in table.split(","):
        size, _, limit = row.partition(" to ")
        step = float(size)
        if not limit or abs(depth_ft) <= float(limit):
            return step
    return step
