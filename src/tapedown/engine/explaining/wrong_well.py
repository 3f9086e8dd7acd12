"""The reading of another well: as read below the measuring point, whose level would it fit?"""

from __future__ import annotations

from collections.abc import Iterator

from tapedown.engine.explaining.case import Candidate, Case, mean
from tapedown.engine.methods.stages import point_step
from tapedown.values.sums import added


def wrong_well(case: Case) -> Iterator[Candidate]:
    """Every other well at hand, the nearer the likelier to have been mistaken for this one.

    Parameters
    ----------
    case
        The case, with the other wells around it; not for a sounding, nor without a measuring point.

    Yields
    ------
    Candidate
        One a well, without corrected depths, for this well was not read; its density is what the other well was
        expected to show at the reading below its own point.
    """
    others = () if case.sounding or case.context.point is None else case.around.others
    every = added(other.nearness for other in others)
    below_point_m = mean(case.depths_m) - float(point_step(case.context).amount_m) if others else 0.0
    for other in others:
        depth_m = below_point_m - other.height_m
        words = f"at {other.code} it would be {case.say(depth_m)}, {case.say(other.expected.middle_m)} expected there"
        yield Candidate(words, (), every / other.nearness, other.expected.log_density(depth_m))
