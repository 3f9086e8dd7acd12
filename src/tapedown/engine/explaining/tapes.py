"""The tape itself: the calibration of another one, or a deep reading that nobody corrected."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tapedown.engine.explaining.case import Candidate, Case, mean, mending, replaced, shifted
from tapedown.engine.tape.calibration import calibration_step
from tapedown.engine.uncertainty.budget import combine, parts_of

_SEEN_M = 0.003
"""A difference of two calibrations smaller than this explains nothing."""
_NOT_CORRECTED = "heat and stretch of the tape, not corrected"


def another_calibration(case: Case) -> Iterator[Candidate]:
    """Another tape was lowered than the one noted: its own correction belongs to the reading.

    Parameters
    ----------
    case
        The case, with the calibrations in its context.

    Yields
    ------
    Candidate
        One a calibrated tape whose correction at this length differs from that of the noted one by more than 3 mm.
    """
    if not hasattr(case.read, "tape"):
        return
    at_m, context = _read_m(case), case.context
    own_m = calibration_step(case.serial, 0.0, at_m, context)[0].amount_m
    moves = []
    for serial in context.calibrations:
        by_m = float(calibration_step(serial, 0.0, at_m, context)[0].amount_m - own_m)
        if serial != case.serial and abs(by_m) > _SEEN_M:
            moves.append((serial, by_m))
    for serial, by_m in moves:
        words = f"{serial} was lowered: its calibration differs by {case.say(by_m)} at this depth"
        yield Candidate(words, shifted(case, by_m), len(moves), mend=mending(replaced(case.read, tape=serial), context))


def not_corrected(case: Case) -> Iterator[Candidate]:
    """Heat and stretch, left out, of a long tape: of a size known only as an uncertainty.

    Parameters
    ----------
    case
        The case; only where the reduction left them out, beyond the setting `tape_correct_beyond`.

    Yields
    ------
    Candidate
        One: the share of the distance from the expected middle that what was left out may account for.

    Notes
    -----
    With the uncertainty u of what was left out and the scale s of the expectation: shift u^2 / (s^2 + u^2) (m - v), and
    the expectation's density at v with the scale sqrt(s^2 + u^2).
    """
    step = next((s for stage in case.value.stages for s in stage.steps if s.what == _NOT_CORRECTED), None)
    if step is None or _read_m(case) <= case.context.settings.si("tape_correct_beyond"):
        return
    u_m = float(combine(parts_of([step]))[0])
    off_m = case.expected.middle_m - mean(case.depths_m)
    wider = case.expected._replace(scale_m=math.sqrt(case.expected.scale_m**2 + u_m**2))
    share = u_m**2 / wider.scale_m**2
    words = f"what was left out is of the size of {case.say(u_m)}"
    yield Candidate(words, shifted(case, share * off_m), log_density=wider.log_density(mean(case.depths_m)))


def _read_m(case: Case) -> float:
    """Length of tape below the measuring point, about."""
    first = case.value.stages[0].result
    return abs(float(first.value_m))
