"""Water still coming back up after pumping: deeper than at rest, and rising from repeat to repeat."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tapedown.engine.checks.at_the_well import DISTURBED, NOT_NOTED, RECOVERING, STATIC
from tapedown.engine.explaining.case import Candidate, Case, log_within, mean, shifted

TIMES = {RECOVERING: 5.0, DISTURBED: 5.0, NOT_NOTED: 1.0, STATIC: 0.2}
"""How much likelier it is by what was noted of the well; ours."""
STANDING = 0.3
"""How much likelier where the repeats stand still; ours."""
RISING = 10.0
"""Repeats that rise one after the other may lie so many times further apart; ours."""


def recovering(case: Case) -> Iterator[Candidate]:
    """Deeper by an amount that is the less likely the larger it is.

    Parameters
    ----------
    case
        The case; a bottom does not recover.

    Yields
    ------
    Candidate
        One, without the drawdown left. It is likelier where the well was noted as recovering or disturbed (`TIMES`),
        less so where repeats stand still; where every repeat rises they may lie further apart than usual.

    Notes
    -----
    Density of the value v, m the expected middle, d the setting `drawdown_left`: exp(-max(0, v - m) / d) / d x P(x <
    v), which holds where the expectation is narrow beside d.
    """
    if case.sounding:
        return
    depth_m, mean_m = mean(case.depths_m), case.context.settings.si("drawdown_left")
    left_m = max(depth_m - case.expected.middle_m, 0.0)
    # An exponential beside a much narrower prediction: its own density where the reading lies deeper.
    density = log_within(case.expected, -math.inf, depth_m) - left_m / mean_m - math.log(mean_m)
    words = f"{case.say(left_m)} of drawdown left{_trend(case)}"
    still = len(case.depths_m) > 1 and not rising(case)
    times = TIMES[case.value.use] * (STANDING if still else 1.0)
    loose = RISING if rising(case) else 1.0
    yield Candidate(words, shifted(case, -left_m), 1 / times, density, spread_times=loose)


def rising(case: Case) -> bool:
    """Whether every repeat found the water higher than the one before."""
    depths = case.depths_m
    return len(depths) > 1 and all(b < a for a, b in zip(depths, depths[1:]))  # noqa: RUF007


def _trend(case: Case) -> str:
    return f", {case.say(case.depths_m[0] - case.depths_m[-1])} risen over the repeats" if rising(case) else ""
