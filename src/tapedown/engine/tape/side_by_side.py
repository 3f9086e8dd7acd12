"""Two tapes held side by side: how far they differ, whether that is allowed, and the line through the differences.

The reference is corrected by its own calibration first, and its uncertainty is carried along with that of bringing both
tapes to the same water or mark.

References
----------
Allowed between an electric and a steel tape: 0.02 ft, USGS TM 1-A1 GWPD 4 (2011); 0.01 ft to 500 ft and 1 part in 1000
beyond, USGS TWRI 9-A4 A4-B-3(b) (2006). Beyond that a regression is fitted and applied (GWPD 4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.context import ReadingContext
from tapedown.engine.tape.calibration import FittedLine, calibration_step, electric_limit_m, fit_line
from tapedown.engine.uncertainty.budget import combine
from tapedown.engine.uncertainty.student import coverage_factor
from tapedown.values.gear import SideBySide
from tapedown.values.sums import added

EDITIONS = {"2011": "0.02 ft (USGS TM 1-A1 GWPD 4)", "2006": "0.01 ft to 500 ft, then 1 in 1000 (USGS TWRI 9-A4)"}
"""Allowed differences, by the year of the document."""
FEWEST = 3
"""Marks a line with its uncertainty needs."""


class ComparedMark(NamedTuple):
    """One depth: what the tape showed, what was true by the corrected reference, and how well that is known, m."""

    shown_m: float
    true_m: float
    u_m: float

    @property
    def add_m(self) -> float:
        """The amount to add to what the tape showed."""
        return self.true_m - self.shown_m


class Comparison(NamedTuple):
    """Two tapes compared.

    marks   in order of length, depths shown alike brought together
    line    true on shown by least squares; None with fewer than three marks
    within  edition -> whether every difference is within what it allows
    apply   how the comparison is best applied: "checked", "straight line" or "between marks"
    """

    marks: tuple[ComparedMark, ...]
    line: FittedLine | None
    within: dict[str, bool]
    apply: str

    def at(self, shown_m: float, level: float) -> tuple[float, float] | None:
        """The amount to add by the line at one length.

        Parameters
        ----------
        shown_m
            What the tape shows, m.
        level
            Coverage probability, 0 < level < 1.

        Returns
        -------
        tuple or None
            Amount to add and its expanded uncertainty, the reference's own (the largest of the marks) in it, m; None
            without a line.
        """
        if self.line is None:
            return None
        true, u_line = self.line.at(shown_m)
        u_reference = max(mark.u_m for mark in self.marks)
        return true - shown_m, coverage_factor(self.line.dof, level) * math.sqrt(u_line**2 + u_reference**2)


def compare(held: SideBySide, context: ReadingContext) -> Comparison:
    """What a comparison comes to, the reference corrected by the calibration that the context holds for it.

    Parameters
    ----------
    held
        The two tapes and what each showed, as written.
    context
        Calibrations in force and the network's settings.

    Returns
    -------
    Comparison
        Marks, m, the line through them, what each edition says of the differences, and how they are best applied.
    """
    marks = _brought_together([_mark(pair.reference.si, pair.shown.si, held, context) for pair in held.pairs])
    line = fit_line([m.shown_m for m in marks], [m.true_m for m in marks]) if len(marks) >= FEWEST else None
    within = {
        edition: all(abs(m.add_m) <= electric_limit_m(m.true_m, edition) + 1e-9 for m in marks) for edition in EDITIONS
    }
    fitted = "straight line" if line is not None else "between marks"
    return Comparison(tuple(marks), line, within, "checked" if within["2011"] else fitted)


def _mark(reference_m: float, shown_m: float, held: SideBySide, context: ReadingContext) -> ComparedMark:
    step, _, _ = calibration_step(held.reference, 0.0, reference_m, context)
    u_setting_m = held.u_setting.si if held.u_setting else context.settings.si("u_side_by_side")
    u_m = math.sqrt(combine(step.parts)[0] ** 2 + u_setting_m**2)
    return ComparedMark(shown_m, reference_m + step.amount_m, u_m)


def _brought_together(marks: Sequence[ComparedMark]) -> list[ComparedMark]:
    """Marks in order; those at one shown length become one with the mean of what was true there."""
    together: list[ComparedMark] = []
    for shown_m in sorted({mark.shown_m for mark in marks}):
        here = [mark for mark in marks if mark.shown_m == shown_m]
        true_m = added(mark.true_m for mark in here) / len(here)
        together.append(ComparedMark(shown_m, true_m, max(mark.u_m for mark in here)))
    return together
