"""What a well is likely to show next: a plain range from its own past readings, said in words.

Our own simple rule, a first one: it knows the well's habit through the year and nothing of rain, pumping or neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

from tapedown.engine.digits import rounded
from tapedown.engine.fill import YEAR_D
from tapedown.engine.stages import TOTAL_DEPTH
from tapedown.values.conditions import NOT_NOTED, STATIC
from tapedown.values.days import day_number
from tapedown.values.results import BELOW_LAND, Result
from tapedown.values.units import FOOT_M, from_si
from tapedown.work.history import USABLE, Row

SEASON_D = 60
"""Days either side of the same day of the year that count as the same season."""
MANY, ENOUGH, FEWEST = 8, 5, 2
"""Readings for a range by median, of them in the season, and for a range at all."""
HALF_WIDTH_M, MARGIN_M = 0.5 * FOOT_M, 1.0 * FOOT_M
"""Narrowest half-width of a range by median; what is added to the extremes of few readings."""
BOTTOM_UP_M, BOTTOM_DOWN_M = 0.3 * FOOT_M, 0.1 * FOOT_M
"""How far the bottom may have come up or gone down since the last sounding."""
MAD_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation, for a normal spread."""
OURS = "our own simple rule"


class Expected(NamedTuple):
    """A range of depth below land surface, m, and in words where it comes from."""

    low_m: float
    high_m: float
    how: str


def expected_level(rows: Sequence[Row], day: str, unit: str) -> Expected | None:
    """The static level to be expected on a day; None with fewer than two usable readings."""
    found = [(row.entry.measured_at[:10], float(below.value_m)) for row in rows if (below := _static(row)) is not None]
    if len(found) < FEWEST:
        return None
    depths = [depth for _, depth in found]
    if len(found) < MANY:
        low, high = min(depths), max(depths)
        words = f"{len(found)} readings between {_say(low, unit)} and {_say(high, unit)}, {_say(MARGIN_M, unit)} added"
        return Expected(low - MARGIN_M, high + MARGIN_M, f"{words}; {OURS}")
    season = [depth for on, depth in found if _days_apart(on, day) <= SEASON_D]
    used = season if len(season) >= ENOUGH else depths
    middle = median(used)
    half = max(3 * MAD_TO_SIGMA * median(abs(depth - middle) for depth in used), HALF_WIDTH_M)
    which = f"within {SEASON_D} days of this day of the year" if used is season else "of the whole year"
    least = f"three times their usual spread, {_say(HALF_WIDTH_M, unit)} at least"
    words = f"{len(used)} readings {which}: median {_say(middle, unit)}, give or take {_say(half, unit)} ({least})"
    return Expected(middle - half, middle + half, f"{words}; {OURS}")


def expected_bottom(rows: Sequence[Row], unit: str) -> Expected | None:
    """The total depth to be expected: the last usable sounding, with room for fill and its expanded uncertainty."""
    found = [(row.entry.measured_at, below) for row in rows if (below := _usable(row, (TOTAL_DEPTH,))) is not None]
    if not found:
        return None
    when, last = max(found, key=lambda sounding: sounding[0])
    depth, doubt = float(last.value_m), float(last.expanded_m)
    words = (
        f"last sounding {_say(depth, unit)} on {when[:10]}, {_say(BOTTOM_UP_M, unit)} for fill, "
        f"{_say(BOTTOM_DOWN_M, unit)} the other way, and its uncertainty {_say(doubt, unit)}"
    )
    return Expected(depth - BOTTOM_UP_M - doubt, depth + BOTTOM_DOWN_M + doubt, f"{words}; {OURS}")


def _static(row: Row) -> Result | None:
    """A level read by hand that nothing disturbed, or of which nothing was noted."""
    return None if row.what == "logger check" else _usable(row, (STATIC, NOT_NOTED))


def _usable(row: Row, uses: Sequence[str]) -> Result | None:
    if row.value is None or row.struck_by or row.quality not in USABLE or row.value.use not in uses:
        return None
    return row.value.result(BELOW_LAND)


def _days_apart(one: str, other: str) -> float:
    """Days between two days of the year, the shorter way round.

    Example
    -------
    >>> round(_days_apart("2024-12-30", "2026-01-03"))
    4
    """
    apart = abs(day_number(one) - day_number(other)) % YEAR_D
    return min(apart, YEAR_D - apart)


def _say(depth_m: float, unit: str) -> str:
    return f"{rounded(from_si(depth_m, unit, 'length'), 0.01)} {unit}"
