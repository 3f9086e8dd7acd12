"""Wells that move together: neighbours whose surprises foretell each other's.

References
----------
docs/methods/expected-value.md. Shrinking a correlation by pairs that agree on nothing: a normal prior about 0, ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tapedown.analysis.tridiagonal import Array
from tapedown.engine.expected.next_reading import MOST_SURPRISE
from tapedown.values.expectations import Neighbour

WITHIN_D = 7
"""Days two readings may lie apart to be held against each other; ours."""
SETTLING = 5
"""First readings of a well of which the surprises say little; ours."""
AGAINST = 10.0
"""Pairs that agree on nothing, put beside those seen; ours."""
LEAST = 0.4
"""Correlation from which a neighbour sharpens; ours."""
MOST = 3
"""Neighbours carried for each well; ours."""


class Surprises(NamedTuple):
    """One-step-ahead errors of a well over their scale, shape (n,), at day numbers, shape (n,)."""

    days: Array
    errors: Array


def neighbours(wells: Mapping[str, Surprises]) -> dict[str, tuple[Neighbour, ...]]:
    """For each well those of the others that sharpen it, the closest in step first."""
    usable = {code: settled_surprises(told) for code, told in wells.items()}
    found: dict[str, list[Neighbour]] = {code: [] for code in wells}
    codes = sorted(wells)
    for place, code in enumerate(codes):
        for other in codes[place + 1 :]:
            goes, pairs = together(usable[code], usable[other])
            if goes >= LEAST:
                found[code].append(Neighbour(other, goes, WITHIN_D, pairs))
                found[other].append(Neighbour(code, goes, WITHIN_D, pairs))
    return {code: tuple(sorted(each, key=lambda one: -one.together)[:MOST]) for code, each in found.items()}


def settled_surprises(told: Surprises) -> Surprises:
    return Surprises(told.days[SETTLING:], np.clip(told.errors[SETTLING:], -MOST_SURPRISE, MOST_SURPRISE))


def together(one: Surprises, other: Surprises) -> tuple[float, int]:
    """Shrunk correlation of the surprises of two wells, and the pairs it rests on."""
    if not len(one.days) or not len(other.days):
        return 0.0, 0
    mine, theirs = _pairs(one.days, other.days)
    a, b = one.errors[mine], other.errors[theirs]
    return float(a @ b / (np.sqrt((a @ a) * (b @ b)) + AGAINST)), len(mine)


def _pairs(days: Array, others: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Places of each day that has one of the others within WITHIN_D, and of the nearest of these."""
    after = np.searchsorted(others, days)
    low, high = np.clip(after - 1, 0, None), np.clip(after, None, len(others) - 1)
    nearest = np.where(np.abs(others[low] - days) <= np.abs(others[high] - days), low, high)
    near = np.nonzero(np.abs(others[nearest] - days) <= WITHIN_D)[0]
    return near, nearest[near]
