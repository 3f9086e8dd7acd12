"""Stretches in which a logger hung in the air or was handled, and stretches in another unit, found by their steps.

Only the steps are gathered, never the series: a step larger than the level can make from one row to the next.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import polars as pl

from tapedown.engine.checks.named import finding
from tapedown.engine.uncertainty.digits import percent
from tapedown.loggers.epoch import column_seconds, said
from tapedown.values.results import Finding
from tapedown.values.units import UNITS

MOST_STEPS = 1000
UNIT_TOLERANCE = 0.02
ATMOSPHERE_KPA = (95.0, 107.0)
"""Air pressures met at the sea; ours."""


class Jump(NamedTuple):
    """A step from one row to the next: times in s, values as they are."""

    before_s: float
    after_s: float
    before: float
    after: float


class Stretch(NamedTuple):
    """A stretch of rows, both ends included, s, and what it looks like."""

    first_s: float
    last_s: float
    looks_like: str


def jumps(rows: pl.LazyFrame, column: str, at_least: float) -> list[Jump]:
    """Steps of a column from one row to the next.

    Parameters
    ----------
    rows
        In the order of time, with `time` and the column.
    column
        Its name.
    at_least
        Smallest step that is told, in the unit of the column, either way.

    Returns
    -------
    list
        The first `MOST_STEPS` of them; a step to or from a null is none.
    """
    value = pl.col(column)
    jumping = (
        rows.select("time", value, pl.col("time").shift(1).alias("earlier"), value.shift(1).alias("before"))
        .filter((value - pl.col("before")).abs() >= at_least)
        .head(MOST_STEPS)
        .collect(engine="streaming")
    )
    times = zip(column_seconds(jumping["earlier"]), column_seconds(jumping["time"]))
    return [Jump(float(a), float(b), x, y) for (a, b), x, y in zip(times, jumping["before"], jumping[column])]


def handled_stretches(
    steps: list[Jump], first_s: float, last_s: float, longest_s: float, air: tuple[float, float] | None = None
) -> list[Stretch]:
    """Stretches between a step and the step back, and from the first or to the last row.

    Parameters
    ----------
    steps
        In the order of time.
    first_s
        Time of the first row, s since 1970.
    last_s
        Time of the last row, s since 1970.
    longest_s
        A longer stretch is no handling, s.
    air
        Least and greatest value the logger shows in air, in the unit of the column; None where that is not known.

    Returns
    -------
    list
        In order, none overlapping; "in air" where its first value (for the one at the start its last) lies within
        `air`, else "handling". At the start and the end, only what looks like air counts, where that is known.

    Example
    -------
    >>> dip = [Jump(3600.0, 4500.0, 150.0, 99.8), Jump(5400.0, 6300.0, 99.9, 150.1)]
    >>> handled_stretches(dip, 0.0, 864000.0, 3600.0, (85.0, 108.5))
    [Stretch(first_s=4500.0, last_s=5400.0, looks_like='in air')]
    """
    handled = []
    if steps and steps[0].before_s - first_s <= longest_s and (not air or air[0] <= steps[0].before <= air[1]):
        handled.append(Stretch(first_s, steps[0].before_s, _looks(steps[0].before, air)))
    for out, back in pairwise(steps):
        opposite = (out.after - out.before) * (back.after - back.before) < 0
        if opposite and back.before_s - out.after_s <= longest_s and (not handled or handled[-1].last_s < out.after_s):
            handled.append(Stretch(out.after_s, back.before_s, _looks(out.after, air)))
    end = steps[-1] if steps else None
    late = end is not None and last_s - end.after_s <= longest_s and (not handled or handled[-1].last_s < end.after_s)
    if end is not None and late and (not air or air[0] <= end.after <= air[1]):
        handled.append(Stretch(end.after_s, last_s, _looks(end.after, air)))
    return handled


def _looks(value: float, air: tuple[float, float] | None) -> str:
    return "in air" if air and air[0] <= value <= air[1] else "handling"


def stretch_findings(stretches: list[Stretch]) -> list[Finding]:
    """One finding a stretch, with its times.

    Parameters
    ----------
    stretches
        As `handled_stretches` found them.

    Returns
    -------
    list
        In their order.
    """
    return [
        finding(
            "logger-handled",
            f"from {said(stretch.first_s)} to {said(stretch.last_s)} the rows look like {stretch.looks_like}",
            "if so, set the stretch aside; else say what happened",
        )
        for stretch in stretches
    ]


def atmosphere_findings(steps: list[Jump]) -> list[Finding]:
    """A step by one atmosphere: the air pressure is in some rows of the column and not in others.

    Parameters
    ----------
    steps
        Of a pressure, kPa.

    Returns
    -------
    list
        One finding with the first such step and how many more there are, or none.

    Example
    -------
    >>> [found.check for found in atmosphere_findings([Jump(0.0, 900.0, 22.4, 123.9)])]
    ['logger-units-mixed']
    """
    one = [step for step in steps if ATMOSPHERE_KPA[0] <= abs(step.after - step.before) <= ATMOSPHERE_KPA[1]]
    if not one:
        return []
    words = f"at {said(one[0].after_s)} the pressure goes from {one[0].before:.1f} to {one[0].after:.1f} kPa"
    more = f", and {len(one) - 1} times more" if len(one) > 1 else ""
    return [
        finding(
            "logger-units-mixed",
            f"{words}{more}: one atmosphere; the air pressure seems taken off some rows and not others",
            "find out which rows hold absolute pressure, and read the others as pressure above air",
        )
    ]


def unit_findings(steps: list[Jump], quantity: str) -> list[Finding]:
    """A step by just the ratio of two units: rows of one column in two units.

    Parameters
    ----------
    steps
        Of the column; a step to or from a value that is not positive has no ratio and is passed over.
    quantity
        Kind of quantity of the column, a key of `values.units.UNITS`.

    Returns
    -------
    list
        One finding a step whose ratio lies within `UNIT_TOLERANCE` of that of two units; units less than 20 % apart are
        not told apart.

    Example
    -------
    >>> [found.check for found in unit_findings([Jump(0.0, 900.0, 1.32, 132.1)], "pressure")]
    ['logger-units-mixed']
    """
    factors = {name: factor for name, (factor, _) in UNITS[quantity].items()}
    findings = []
    for step in steps:
        if step.before <= 0 or step.after <= 0:
            continue
        ratio = step.after / step.before
        fits = [
            (abs(ratio * factors[b] / factors[a] - 1), a, b)
            for a in factors
            for b in factors
            if abs(factors[a] / factors[b] - 1) > 0.2
        ]
        off, was, then = min(fits)
        if off <= UNIT_TOLERANCE:
            findings.append(
                finding(
                    "logger-units-mixed",
                    f"at {said(step.after_s)} the numbers change by a factor of {ratio:.3g}, within {percent(off)} of "
                    f"that from {was} to {then}",
                    "look at the logger's settings; mend the unit of that stretch",
                )
            )
    return findings
