"""The tape did not reach what it was meant to: hung up, slack, on an obstruction, on the bottom of a dry well."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tapedown.engine.explaining.case import Candidate, Case, log_within, mean, shifted


def did_not_reach(case: Case) -> Iterator[Candidate]:
    """The tape stopped short anywhere above the end, or with slack in it, or, meant for water, stands on the bottom.

    Parameters
    ----------
    case
        The case. A chalked tape cannot close a circuit too early: for it no stop is proposed, only slack and bottom.

    Yields
    ------
    Candidate
        A stop above the expected middle; slack; and, with what is expected of the bottom, the bottom of a dry well.

    Notes
    -----
    With value v, expectation p of middle m, slack s (setting `tape_slack`): a stop is uniform from land surface to the
    middle, P(v < x < v + m) / m; slack is exponential, exp(-max(0, v - m) / s) / s x P(x < v), which holds where p is
    narrow beside s; the bottom has its own expected density at v.
    """
    depth_m, middle_m = mean(case.depths_m), case.expected.middle_m
    off_m = middle_m - depth_m
    slack_m = case.context.settings.si("tape_slack")
    stopped = "resting on an obstruction" if case.sounding else "wetted or closed above the water"
    if middle_m > 0 and case.method != "chalked tape":
        density = log_within(case.expected, depth_m, depth_m + middle_m) - math.log(middle_m)
        yield Candidate(f"{stopped}, {case.say(max(off_m, 0.0))} too high", shifted(case, max(off_m, 0.0)), 2, density)
    # An exponential of mean slack beside a much narrower prediction: its own density where the reading lies deeper.
    density = log_within(case.expected, -math.inf, depth_m) - max(-off_m, 0.0) / slack_m - math.log(slack_m)
    yield Candidate(f"{case.say(max(-off_m, 0.0))} of slack tape", shifted(case, min(off_m, 0.0)), 2, density)
    bottom = case.around.bottom
    if not case.sounding and bottom is not None:
        words = f"the tape stood on the bottom, expected at {case.say(bottom.middle_m)}: the well may be dry"
        yield Candidate(words, (), 2, bottom.log_density(depth_m))
