"""A tape against its reference: what to add at a reading, and how well that is known.

References
----------
Electric tape within 0.02 ft of the steel tape: USGS TM 1-A1 GWPD 4; within 0.01 ft to 500 ft and 1 part in 1000 beyond:
USGS TWRI 9-A4 A4-B-3(b). Otherwise a regression is applied (GWPD 4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.context import Calibrated, ReadingContext
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.days import day_number
from tapedown.values.gear import Calibration
from tapedown.values.results import MANY, Finding, Part, Step
from tapedown.values.settings import Settings
from tapedown.values.sums import added, root
from tapedown.values.units import FOOT_M


class FittedLine(NamedTuple):
    """A straight line true = offset + slope * shown by least squares, with what its uncertainty needs."""

    offset_m: float
    slope: float
    residual_m: float
    dof: int
    n: int
    mean_m: float
    spread_m2: float

    def at(self, shown_m: float) -> tuple[float, float]:
        """The line at one length.

        Parameters
        ----------
        shown_m
            What the tape shows, m.

        Returns
        -------
        tuple
            True length there and the line's own standard uncertainty, m.

        Notes
        -----
        u = s sqrt(1/n + (x - mean)^2 / sum (x_i - mean)^2), s the residual standard deviation: of the line, not of a
        reading.

        Example
        -------
        >>> line = fit_line([50.01, 150.06, 250.09, 350.14], [50.0, 150.0, 250.0, 350.0])
        >>> [round(m, 4) for m in line.at(300.0)]
        [299.883, 0.0042]
        """
        far = (shown_m - self.mean_m) ** 2 / self.spread_m2
        return self.offset_m + self.slope * shown_m, self.residual_m * root(1 / self.n + far)


def fit_line(shown_m: Sequence[float], true_m: Sequence[float]) -> FittedLine:
    """Least squares of the reference on the tape.

    Parameters
    ----------
    shown_m
        What the tape showed at its marks, m.
    true_m
        What was true there by the reference, m, one for each mark.

    Returns
    -------
    FittedLine
        true = offset + slope * shown.

    Raises
    ------
    ValueError
        Fewer than three marks, or all at one length.

    Example
    -------
    >>> line = fit_line([50.01, 150.06, 250.09, 350.14], [50.0, 150.0, 250.0, 350.0])
    >>> round(line.at(300.0)[0], 3)
    299.883
    """
    n = len(shown_m)
    mean_x, mean_y = added(shown_m) / n, added(true_m) / n
    spread = added((x - mean_x) ** 2 for x in shown_m)
    if n < 3 or spread == 0:
        raise ValueError(
            f"{n} marks over {math.sqrt(spread):g} m cannot carry a line with its uncertainty; three are needed"
        )
    slope = added((x - mean_x) * (y - mean_y) for x, y in zip(shown_m, true_m)) / spread
    offset = mean_y - slope * mean_x
    squares = added((y - offset - slope * x) ** 2 for x, y in zip(shown_m, true_m))
    return FittedLine(offset, slope, math.sqrt(squares / (n - 2)), n - 2, n, mean_x, spread)


def true_length_m(shown_m: float, marked_m: float, measured_m: float) -> float:
    """True length shown by a cable whose mark `marked_m` lies at a true `measured_m`: proportional correction.

    Beware of a published example that divides the wrong way round: a 100 ft mark at a true 102 ft means 1.02.

    Parameters
    ----------
    shown_m
        What the cable shows, m.
    marked_m
        The mark that was compared, m, > 0.
    measured_m
        Where that mark really lies, m.

    Returns
    -------
    float
        True length, m.

    Example
    -------
    >>> round(true_length_m(80.0, 100.0, 98.0), 3)
    78.4
    """
    return shown_m * measured_m / marked_m


def between_marks_m(shown_m: float, marks: Sequence[tuple[float, float]]) -> float:
    """Correction between calibrated marks, linear; 0 at zero, the last rate carried on beyond the end.

    Parameters
    ----------
    shown_m
        What the tape shows, m.
    marks
        (shown, amount to add) of each mark, m, in order of length, at least one.

    Returns
    -------
    float
        Amount to add, m.

    Example
    -------
    >>> round(between_marks_m(75.0, [(50.0, 0.01), (100.0, 0.03)]), 4)
    0.02
    """
    points = list(marks) if marks and marks[0][0] <= 0 else [(0.0, 0.0), *marks]
    if shown_m <= points[0][0] or len(points) == 1:
        return points[0][1]
    for (x0, y0), (x1, y1) in zip(points, points[1:]):  # noqa: RUF007
        if shown_m <= x1:
            return y0 + (y1 - y0) * (shown_m - x0) / (x1 - x0)
    (x0, y0), (x1, y1) = points[-2], points[-1]
    return y1 + (y1 - y0) * (shown_m - x1) / (x1 - x0)


def electric_limit_m(depth_m: float, edition: str = "2011") -> float:
    """How far an electric tape may differ from steel: 0.02 ft ("2011"), or 0.01 ft to 500 ft and 1 in 1000 beyond.

    Parameters
    ----------
    depth_m
        Depth at which the two are compared, m; the edition of 2011 does not ask for it.
    edition
        Year of the document, "2011" or "2006".

    Returns
    -------
    float
        Largest difference allowed, m.

    References
    ----------
    USGS TM 1-A1 GWPD 4 (2011); USGS TWRI 9-A4 A4-B-3(b) (2006).

    Example
    -------
    >>> round(electric_limit_m(650 * 0.3048, "2006") / 0.3048, 2)
    0.65
    """
    if edition == "2011":
        return 0.02 * FOOT_M
    return 0.01 * FOOT_M if depth_m < 500 * FOOT_M else depth_m / 1000


def calibration_step(
    tape: str, from_m: float, to_m: float, context: ReadingContext
) -> tuple[Step, bool, list[Finding]]:
    """The calibration's amount between two marks of the tape.

    Parameters
    ----------
    tape
        Serial number, "" when the tape was not named.
    from_m
        Lower mark read, m along the tape from its zero.
    to_m
        Upper mark read, m.
    context
        Which calibrations hold at the time of the reading, and the network's settings.

    Returns
    -------
    tuple
        The step to add, m; whether there is a calibration; findings. Without one the step adds nothing, and what an
        uncalibrated tape may err by stands in its part.
    """
    held = context.calibrations.get(tape)
    if held is None:
        settings = context.settings
        u = max(settings.si("u_tape_uncalibrated"), settings.si("u_tape_share") * (to_m - from_m))
        part = Part(
            f"tape {tape}" if tape else "", "tape without certificate", u, MANY, settings.source("u_tape_share")
        )
        return Step("tape calibration", 0.0, (part,), "", "no calibration in the record"), False, []
    add, u, dof, how = _applied(held.calibration, from_m, to_m, context)
    findings = _overdue(tape, held, context) + _beyond(tape, held.calibration, to_m, context)
    findings += _outside_limit(tape, held.calibration, context)
    part = Part(f"calibration {tape} {held.on}", "calibration of the tape", u, dof, held.calibration.against)
    note = f"{tape}, {held.on}, against {held.calibration.against}: {how}"
    return Step("tape calibration", add, (part,), held.calibration.against, note), True, findings


def _applied(
    calibration: Calibration, from_m: float, to_m: float, context: ReadingContext
) -> tuple[float, float, float, str]:
    shown = [mark.shown.si for mark in calibration.marks]
    true = [mark.true.si for mark in calibration.marks]
    u_reference = max(mark.u.si if mark.u else context.settings.si("u_certificate") for mark in calibration.marks)
    if calibration.apply == "straight line":
        line = fit_line(shown, true)
        value, u_line = line.at(to_m)
        low = line.at(from_m)[0] if from_m else 0.0
        return (
            value - low - (to_m - from_m),
            math.sqrt(u_line**2 + u_reference**2),
            line.dof,
            f"line through {line.n} marks",
        )
    if calibration.apply == "checked":
        worst = max(abs(t - s) for s, t in zip(shown, true))
        return 0.0, math.sqrt(worst**2 / 3 + u_reference**2), MANY, f"checked, largest difference {context.say(worst)}"
    marks = [(s, t - s) for s, t in zip(shown, true)]
    low = between_marks_m(from_m, marks) if from_m else 0.0
    return between_marks_m(to_m, marks) - low, u_reference, MANY, f"between {len(marks)} marks"


def is_overdue(calibrated_on: str, when: str, settings: Settings) -> bool:
    """Whether gear calibrated on one day is due again on another; a twentieth of the interval is granted.

    Parameters
    ----------
    calibrated_on
        Day of the calibration, ISO 8601.
    when
        Day to judge from, ISO 8601.
    settings
        The network's: how long a calibration holds.

    Returns
    -------
    bool
        Whether it is due.

    Example
    -------
    >>> is_overdue("2025-05-14", "2026-05-20", Settings()), is_overdue("2025-05-14", "2026-08-20", Settings())
    (False, True)
    """
    return _age_h(calibrated_on, when) > settings.si("calibration_due") * 1.05


def _age_h(calibrated_on: str, when: str) -> float:
    return (day_number(when) - day_number(calibrated_on)) * 24.0


def _overdue(tape: str, held: Calibrated, context: ReadingContext) -> list[Finding]:
    if not context.when or not held.on or not is_overdue(held.on, context.when, context.settings):
        return []
    years = rounded(_age_h(held.on, context.when) / 8766, 0.1)
    return [
        finding(
            "calibration-overdue",
            f"{tape} was last checked on {held.on[:10]}, {years} years before",
            "check it against the reference tape",
            f"gear/{tape}",
        )
    ]


def _beyond(tape: str, calibration: Calibration, to_m: float, context: ReadingContext) -> list[Finding]:
    last = calibration.marks[-1].shown.si
    if to_m <= last + 1e-9 or calibration.apply == "checked":
        return []
    return [
        finding(
            "calibration-out-of-range",
            f"{context.say(to_m)} was read; {tape} is calibrated to {context.say(last)}: the last rate is carried on",
            "calibrate to the depth that is measured",
            f"gear/{tape}",
        )
    ]


def _outside_limit(tape: str, calibration: Calibration, context: ReadingContext) -> list[Finding]:
    gear = context.gear.get(tape)
    if calibration.apply != "checked" or gear is None or gear.type != "electric tape":
        return []
    off = [m for m in calibration.marks if abs(m.true.si - m.shown.si) > electric_limit_m(m.true.si) + 1e-9]
    return [
        finding(
            "calibration-outside-limit",
            f"{tape} shows {mark.shown} where the reference shows {mark.true}: more than 0.02 ft",
            "fit a line through the marks and apply it, or take the tape out of use",
            f"gear/{tape}",
        )
        for mark in off
    ]
