"""A logger that shows something else than the water: its cable moved, or its zero drifted."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tapedown.engine.explaining.case import Candidate, Case, log_within, mean, shifted
from tapedown.values.readings import LoggerCheck


def logger_offset(case: Case) -> Iterator[Candidate]:
    """A logger off by any amount up to a limit; with a tape reading beside it, by what the two differ.

    Parameters
    ----------
    case
        The case; only a logger whose hanging depth is known gives a level that can be off.

    Yields
    ------
    Candidate
        One, at the expected middle, or at the tape's depth where one was read.

    Notes
    -----
    Log density, L the setting `logger_off_most`: log(P(v - L < x < v + L) / (2 L)) of the value v; beside a tape
    log(p(v + off) / (2 L)), p the expectation.
    """
    read = case.read
    if not isinstance(read, LoggerCheck) or read.hanging_depth is None:
        return
    most_m = case.context.settings.si("logger_off_most")
    depth_m = mean(case.depths_m)
    off_m = case.expected.middle_m - depth_m
    density = log_within(case.expected, depth_m - most_m, depth_m + most_m)
    words = f"the logger is off by {case.say(off_m)}"
    if read.taped_depth is not None:
        at_point_m = float(case.value.stages[0].result.value_m)
        off_m = read.taped_depth.si - at_point_m
        density = case.expected.log_density(depth_m + off_m)
        words = f"the tape beside it reads {read.taped_depth}: the logger is off by {case.say(off_m)}"
    density -= math.log(2 * most_m)
    yield Candidate(words, shifted(case, off_m), log_density=density, tells_of_tape=True)
