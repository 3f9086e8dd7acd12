"""Is the measuring point still where it was? Levels from a reference mark off the well, one after the other.

References
----------
USGS TM 1-A1 (Cunningham & Schalk 2011) GWPD 3 p. 23: look at the point at every visit, level it every 3 to 5 years and
at once after damage.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.days import day_number
from tapedown.values.results import Finding
from tapedown.values.wells import LevelCheck

YEAR_D = 365.25


class Levelled(NamedTuple):
    """A level check with its day."""

    on: str
    check: LevelCheck


def check_levels(levels: Sequence[Levelled], context: ReadingContext) -> list[Finding]:
    """Findings about a point that moved, or was not levelled for too long.

    Only checks of the same point from the same mark are compared.

    Parameters
    ----------
    levels
        Level checks of one well, in order of time.
    context
        The network's settings; its `when` is the day to judge from, without one nothing is overdue.

    Returns
    -------
    list
        A finding for each move between two checks, then at most one about the last check's age.
    """
    findings = []
    for pair in sorted({(level.check.mark, level.check.point) for level in levels}):
        same = [level for level in levels if (level.check.mark, level.check.point) == pair]
        findings += [
            _moved(a, b, context)
            for a, b in pairwise(same)
            if abs(_change_m(a, b)) > context.settings.si("point_moved")
        ]
    if levels and context.when:
        findings += _overdue(levels[-1], context)
    return findings


def _change_m(before: Levelled, after: Levelled) -> float:
    return after.check.above_mark.si - before.check.above_mark.si


def _moved(before: Levelled, after: Levelled, context: ReadingContext) -> Finding:
    change = _change_m(before, after)
    word = "higher" if change > 0 else "lower"
    return finding(
        "point-moved",
        f"{after.check.point} stood {context.say(abs(change))} {word} above {after.check.mark} on {after.on[:10]} "
        f"than on {before.on[:10]}",
        "did the casing heave, settle or get cut, or the mark move? level from a second mark; date the new height",
    )


def _overdue(last: Levelled, context: ReadingContext) -> list[Finding]:
    years = (day_number(context.when) - day_number(last.on)) / YEAR_D
    if years * YEAR_D * 24 <= context.settings.si("point_check_due"):
        return []
    return [
        finding(
            "point-check-overdue",
            f"{last.check.point} was last levelled on {last.on[:10]}, {rounded(years, 0.1)} years before",
            "level it from its reference mark",
        )
    ]
