"""To which digit may a value be reported?

Three things speak: the digit that was read, the expanded uncertainty (its first significant digit is the last worth
writing, after GUM 7.2.6) and a rule table by depth. The coarsest wins. No published table for bottom soundings was
found; the default table is ours, a setting, and says so.
"""

from __future__ import annotations

import math
from functools import lru_cache

from tapedown.values.results import Digits, Result
from tapedown.values.settings import Settings, depth_steps
from tapedown.values.units import FOOT_M, from_si, to_si


def reporting_digits(
    depth_m: float, expanded_m: float, resolution_m: float, settings: Settings, *, corrected: bool | None
) -> Digits:
    """The reporting step for a value at this depth, in the network's unit, with the reason.

    Parameters
    ----------
    depth_m
        Depth the rule table is entered with, m.
    expanded_m
        Expanded uncertainty of the value, m.
    resolution_m
        Coarsest digit read, m.
    settings
        The network's: its unit and its tables of digits by depth.
    corrected
        Whether every tape term was applied; None where no tape of ours was read, so no rule by depth holds.

    Returns
    -------
    Digits
        The coarsest step that the digit read, the uncertainty and the table ask for, in the network's unit, and why.

    Example
    -------
    >>> reporting_digits(25.0, 0.006, 0.003048, Settings(), corrected=False).step
    0.01
    """
    unit = settings.length_unit
    unit_m = FOOT_M if unit == "ft" else 1.0
    reasons = {
        "the digit that was read": _decade(resolution_m / unit_m),
        "the expanded uncertainty": _decade(expanded_m / unit_m),
    }
    if corrected is not None:
        table = "digits_corrected" if corrected else "digits_uncorrected"
        by_table = _table_step(depth_m / FOOT_M, settings.text(table)) / (1 if unit == "ft" else 10)
        reasons[f"the rule by depth ({settings.source(table)})"] = by_table
    step = max(reasons.values())
    reason = next(why for why, size in reasons.items() if size == step)
    return Digits(step, unit, f"to {step:g} {unit}: {reason} allows no finer")


def own_step(result: Result, digits: Digits) -> float:
    """The step for one result: the reduction's, or coarser where its own expanded uncertainty is."""
    unit_m = FOOT_M if digits.unit == "ft" else 1.0
    return max(digits.step, _decade(result.expanded_m / unit_m))


def rounded(number: float, step: float) -> str:
    """A number to the nearest multiple of a step, ties to even, with the digits of the step (0.01 -> two).

    Worked in whole numbers, so that it comes out the same wherever the engine runs; a tie is a tie to 1e-9 of a step.

    Parameters
    ----------
    number
        What to round, in any unit.
    step
        The step, in the unit of the number, > 0.

    Returns
    -------
    str
        The rounded number as text; never "-0".

    Example
    -------
    >>> rounded(12.864, 0.01), rounded(411.27, 0.5), rounded(-0.001, 0.01), rounded(12.865, 0.01)
    ('12.86', '411.5', '0.00', '12.86')
    """
    decimals = _decimals(step)
    count = abs(number) / step
    whole = math.floor(count)
    over = count - whole
    if over > 0.5 + 1e-9 or (abs(over - 0.5) <= 1e-9 and whole % 2):
        whole += 1
    units = whole * int(step * 10**decimals + 0.5)
    sign = "-" if number < 0 and units else ""
    digits = str(units).rjust(decimals + 1, "0")
    return sign + (f"{digits[:-decimals]}.{digits[-decimals:]}" if decimals else digits)


def spoken(length_m: float, settings: Settings, step: float = 0.0) -> str:
    """A length in the network's unit, for messages: hundredths, thousandths below 1 without empty digits.

    Parameters
    ----------
    length_m
        The length, m.
    settings
        The network's, for its unit of length.
    step
        Step to round to, in the network's unit; 0 lets the size of the number decide.

    Returns
    -------
    str
        Number and unit.

    Example
    -------
    >>> spoken(0.006096, Settings()), spoken(25.0, Settings())
    ('0.02 ft', '82.02 ft')
    """
    unit = settings.length_unit
    number = from_si(length_m, unit, "length")
    if step or abs(number) >= 1:
        return f"{rounded(number, step or 0.01)} {unit}"
    return f"{rounded(number, 0.001).rstrip('0').rstrip('.')} {unit}"


def spread(length_m: float, unit: str, step: float = 0.0) -> str:
    """An expanded uncertainty for showing: two significant digits, never finer than a tenth of the step, rounded up.

    Parameters
    ----------
    length_m
        Expanded uncertainty, m.
    unit
        Unit to show it in, "ft" or "m".
    step
        Reporting step of the value it belongs to, in that unit; 0 when there is none.

    Returns
    -------
    str
        The number without its unit, "0" for an uncertainty that is not positive.

    Example
    -------
    >>> spread(0.0131, "m"), spread(0.0131, "m", 0.1)
    ('0.014', '0.02')
    """
    size = from_si(length_m, unit, "length")
    if size <= 0:
        return "0"
    place = max(math.floor(math.log10(size)) - 1, math.floor(math.log10(step)) - 1 if step else -9)
    last = _decade(10.0**place)
    return rounded(math.ceil(size / last - 1e-9) * last, last)


def step_in(step: float, unit: str, other: str) -> float:
    """A reporting step of one unit in another: the power of ten at or below it, so that no digit is lost.

    Parameters
    ----------
    step
        The step, in `unit`, > 0.
    unit
        The unit it is given in, as `values.units` names it.
    other
        The unit wanted.

    Returns
    -------
    float
        The step in `other`; as given where the two units are one.

    Example
    -------
    >>> step_in(0.01, "ft", "m"), step_in(0.5, "ft", "m"), step_in(0.01, "ft", "ft")
    (0.001, 0.1, 0.01)
    """
    return step if unit == other else _decade(from_si(to_si(step, unit, "length"), other, "length"))


def percent(share: float) -> str:
    """A share for messages, to the nearest per cent.

    Parameters
    ----------
    share
        A share of 1.

    Returns
    -------
    str
        Whole number and sign of per cent.

    Example
    -------
    >>> percent(0.065), percent(0.2)
    ('6%', '20%')
    """
    return f"{rounded(share * 100, 1.0)}%"


@lru_cache(maxsize=256)
def _decimals(step: float) -> int:
    decimals = 0
    while abs(step * 10**decimals - math.floor(step * 10**decimals + 0.5)) > 1e-9 and decimals < 9:
        decimals += 1
    return decimals


def _decade(size: float) -> float:
    """The power of ten at or below `size`, exact for negative exponents too (0.01, not 0.010000000000000002)."""
    if size <= 0:
        return 0.0
    exponent = math.floor(math.log10(size) + 1e-9)
    return 10.0**exponent if exponent >= 0 else 1 / 10**-exponent


def _table_step(depth_ft: float, table: str) -> float:
    """The step at this depth from a table such as "0.01 to 200, 0.1 to 500, 0.5"."""
    rows = depth_steps(table)
    return next((step for step, limit in rows if abs(depth_ft) <= limit), rows[-1][0])
