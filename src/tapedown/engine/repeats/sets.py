"""Small questions every method asks of its repeats."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tapedown.engine.checks.at_the_well import moving_findings
from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.repeats.agreement import Agreement, agree, followed
from tapedown.values.results import Finding
from tapedown.values.sums import added
from tapedown.values.written import Written


def chosen_place(chosen: Written | None) -> int | None:
    """Place from 0 of the repeat a person chose, counted from 1; None when nobody did."""
    return None if chosen is None else int(chosen.si) - 1


def agreed(values_m: Sequence[float], tolerance_m: float, read: Any, context: ReadingContext) -> Agreement:
    """What the repeats of a set say: held to agree, or, where the water moves and no repeat was chosen, followed.

    Parameters
    ----------
    values_m
        The repeats as lengths, m, in the order read, at least one.
    tolerance_m
        Largest difference that still agrees, m.
    read
        The reading set they come from: which repeat a person chose and why, and how far apart they were read.
    context
        What goes on at the well, and the network's settings.

    Returns
    -------
    Agreement
        Of `followed` or of `agree`, with what is lacking where the water moved.
    """
    settings, chosen = context.settings, chosen_place(read.chosen)
    apart = getattr(read, "apart", None)
    lacking = tuple(moving_findings(len(values_m), apart, context.seen)) if hasattr(read, "apart") else ()
    if context.seen.moves and hasattr(read, "apart") and chosen is None and len(values_m) > 1:
        agreement = followed(values_m, tolerance_m, settings, hours_apart=apart.si if apart else None)
    else:
        agreement = agree(values_m, tolerance_m, settings, chosen=chosen, why=read.why_chosen)
    return agreement._replace(findings=(*agreement.findings, *lacking)) if lacking else agreement


def mean_of(values: Sequence[float], agreement: Agreement) -> float:
    """Mean of the readings that the agreement lets count."""
    return added(values[i] for i in agreement.used) / len(agreement.used)


def resolution_m(readings: Sequence[Written]) -> float:
    """The coarsest last digit among the readings, SI."""
    return max(reading.resolution_si for reading in readings)


def read_as(readings: Sequence[Written], agreement: Agreement) -> str:
    """The readings as written, those that do not count in brackets: "84.30, 84.31, (84.90) ft"."""
    unit = readings[0].unit
    shown = [r.text if r.unit == unit else str(r) for r in readings]
    return ", ".join(s if i in agreement.used else f"({s})" for i, s in enumerate(shown)) + f" {unit}"


def units_mixed(readings: Sequence[Written]) -> list[Finding]:
    """A finding when one set is written in several units.

    Parameters
    ----------
    readings
        The numbers of one set, as written.

    Returns
    -------
    list
        One finding, or none.
    """
    units = sorted({reading.unit for reading in readings})
    if len(units) < 2:
        return []
    return [
        finding(
            "units-mixed",
            f"this set is written in {' and '.join(units)}",
            "is one of them a slip? feet for metres is a factor of 3.28",
        )
    ]
