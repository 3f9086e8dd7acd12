"""Water not reached, or a tape that hung up: no level, but the depth that the tape reached, as "deeper than"."""

from __future__ import annotations

from tapedown.engine.checks.at_the_well import DEEPER_THAN, NOTHING
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.repeats.agreement import Agreement
from tapedown.engine.uncertainty.budget import last_digit
from tapedown.values.results import MISSING, Part, Reduction, Step


def reduce_depth_reached(context: ReadingContext) -> Reduction | None:
    """The depth the tape reached without finding water.

    The value is a bound, never a level: `use` says "deeper than" (water not reached) or "no value" (hung up, and
    nobody says that there was no water above).

    Parameters
    ----------
    context
        What stood around the visit; the depth is among what was seen.

    Returns
    -------
    Reduction or None
        The bound, m; None when no depth was written down.
    """
    reached = context.seen.depth_reached or context.seen.hung_up_at
    if reached is None:
        return None
    step = Step("depth the tape reached", reached.si, (last_digit(reached.resolution_si),), "", str(reached))
    agreement = Agreement((0,), Part("", "", 0.0), "no water found to this depth", agreed=True, findings=())
    bound = finish(Worked("depth reached", [step], agreement, reached.resolution_si, taped=False), context)
    return bound if bound.use in {DEEPER_THAN, NOTHING} else bound._replace(use=DEEPER_THAN, quality=MISSING)
