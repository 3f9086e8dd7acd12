"""The measuring point: its sign, an older height, a change nobody noticed. What is wrong here repeats exactly."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tapedown.engine.explaining.case import Candidate, Case, log_within, mean, mending, shifted
from tapedown.engine.methods.stages import point_step
from tapedown.values.readings import Reported
from tapedown.values.wells import PointHeight
from tapedown.values.written import Written

_SAME_M = 0.0005
_OTHER_SIDE = {"above": "below", "below": "above"}


def sign_reversed(case: Case) -> Iterator[Candidate]:
    """The height taken off where it should be added, or the other way round: twice the height.

    Parameters
    ----------
    case
        The case; without a point in force, or with one level with land surface, nothing is proposed.

    Yields
    ------
    Candidate
        One: every repeat shifted by twice the height, downwards for a point above land surface; upwards where the value
        was brought to land surface by others.
    """
    height_m = _height_m(case, case.context.point)
    if abs(height_m) < _SAME_M or case.context.point is None or not _enters(case):
        return
    point = case.context.point
    side = _OTHER_SIDE.get(point.side, point.side)
    if _by_others(case):
        words = f"the height of {case.say(abs(height_m))} was added by whoever worked it out, not taken off"
        words = words if height_m > 0 else words.replace("added", "taken off").replace("not taken off", "not added")
        yield Candidate(words, shifted(case, -2 * height_m))
        return
    words = f"the point lies {case.say(abs(height_m))} {side} land surface, not {point.side} it"
    turned = point._replace(side=side, height=point.height._replace(text=point.height.text.lstrip("+-")))
    yield Candidate(words, shifted(case, 2 * height_m),
                    mend=mending(case.read, case.context._replace(point=turned)))  # fmt: skip


def older_height(case: Case) -> Iterator[Candidate]:
    """Another height on record used: an older one, or the present one where an older point was read.

    Parameters
    ----------
    case
        The case, with the other heights of the point around it.

    Yields
    ------
    Candidate
        One a height that differs from the present one: every repeat shifted by present less other height; the other way
        where the value was brought to land surface by others.
    """
    if not _enters(case):
        return
    now_m = _height_m(case, case.context.point)
    others = [p for p in case.around.points if abs(_height_m(case, p) - now_m) > _SAME_M]
    for point in others:
        sign = -1 if _by_others(case) else 1
        height_m = _height_m(case, point)
        words = f"{case.say(now_m)} was used; {point.name} was at {case.say(height_m)}"
        words = f"{point.name} at {case.say(height_m)} was used" if sign < 0 else words
        yield Candidate(
            words,
            shifted(case, sign * (now_m - height_m)),
            len(others),
            mend=None if sign < 0 else mending(case.read, case.context._replace(point=point)),
        )


def height_not_applied(case: Case) -> Iterator[Candidate]:
    """The height left out by whoever worked the value out: it still counts from the measuring point.

    Parameters
    ----------
    case
        The case; only a value reported below land surface can have it.

    Yields
    ------
    Candidate
        One: every repeat less the height, m above land surface.
    """
    height_m = _height_m(case, case.context.point)
    if _by_others(case) and abs(height_m) > _SAME_M:
        words = f"the figure counts from the measuring point, {case.say(height_m)} above land surface"
        yield Candidate(words, shifted(case, -height_m))


def changed_unnoticed(case: Case) -> Iterator[Candidate]:
    """Cut down, extended or bent since: any height a stick-up may have, each as likely as another.

    Parameters
    ----------
    case
        The case; not for a value whose height was applied by others or has no say.

    Yields
    ------
    Candidate
        One: the height at which the value would be the expected middle, kept within what may be.

    Notes
    -----
    Density of the value v, h the height used: P(v + h - highest < x < v + h - lowest) / (highest - lowest). The
    heights that may be are bounded by the settings `point_lowest` and `point_highest` and by `point_change_most` either
    way of h.
    """
    if case.context.point is None or not _enters(case) or _by_others(case):
        return
    settings = case.context.settings
    now_m, most_m = _height_m(case, case.context.point), settings.si("point_change_most")
    lowest = max(-settings.si("point_lowest"), now_m - most_m)
    highest = min(settings.si("point_highest"), now_m + most_m)
    if highest - lowest < _SAME_M:
        return
    depth_m = mean(case.depths_m)  # true depth = depth as written + (height used - true height)
    density = log_within(case.expected, depth_m + now_m - highest, depth_m + now_m - lowest)
    height_m = min(max(now_m + depth_m - case.expected.middle_m, lowest), highest)
    off_m = now_m - height_m
    words = f"it would now stand at {case.say(height_m)}, not {case.say(now_m)}"
    meant = case.context.point._replace(
        height=Written(f"{abs(height_m):.4f}", "m"), side="below" if height_m < 0 else "above"
    )
    yield Candidate(words, shifted(case, off_m), log_density=density - math.log(highest - lowest),
                    mend=mending(case.read, case.context._replace(point=meant)))  # fmt: skip


def _height_m(case: Case, point: PointHeight | None) -> float:
    if point is None:
        return 0.0
    if not point.along_casing:
        return point.height_m
    return -float(point_step(case.context._replace(point=point)).amount_m)


def _by_others(case: Case) -> bool:
    """Whether somebody else brought the reading to land surface before it came here."""
    return isinstance(case.read, Reported) and case.read.reference == "below land surface"


def _enters(case: Case) -> bool:
    """Whether the height has a say in the value: not where an elevation was handed on."""
    return case.context.point is not None and not (
        isinstance(case.read, Reported) and case.read.reference == "elevation"
    )
