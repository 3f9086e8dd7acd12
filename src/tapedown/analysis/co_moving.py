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
    """For each well those of the others that sharpen it.

    Parameters
    ----------
    wells
        Surprises by code of the well, each in the order of days.

    Returns
    -------
    dict
        For each code its neighbours, the closest in step first, at most `MOST`; none whose shrunk correlation is below
        `LEAST`, so wells that move against each other are none.

    Example
    -------
    >>> told = Surprises(np.arange(45) * 30.0, np.array([1.0, -1.0, 0.5] * 15))
    >>> [(one.code, round(one.together, 2), one.pairs) for one in neighbours({"MF-01": told, "MF-02": told})["MF-01"]]
    [('MF-02', 0.75, 40)]
    """
    usable = {code: settled_surprises(record) for code, record in wells.items()}
    near: dict[str, list[Neighbour]] = {code: [] for code in wells}
    codes = sorted(wells)
    for place, code in enumerate(codes):
        for other in codes[place + 1 :]:
            goes, pairs = together(usable[code], usable[other])
            if goes >= LEAST:
                near[code].append(Neighbour(other, goes, WITHIN_D, pairs))
                near[other].append(Neighbour(code, goes, WITHIN_D, pairs))
    return {code: tuple(sorted(each, key=lambda one: -one.together)[:MOST]) for code, each in near.items()}


def settled_surprises(told: Surprises) -> Surprises:
    """Surprises without the first of a well, which say little, each cut at the largest that counts."""
    return Surprises(told.days[SETTLING:], np.clip(told.errors[SETTLING:], -MOST_SURPRISE, MOST_SURPRISE))


def together(one: Surprises, other: Surprises) -> tuple[float, int]:
    """Shrunk correlation of the surprises of two wells.

    Parameters
    ----------
    one
        Surprises of one well, in the order of days.
    other
        Of the other; each surprise of the first is paired with the nearest of these within `WITHIN_D` days.

    Returns
    -------
    tuple
        Correlation, -1 to 1, and the number of pairs it rests on; 0.0 and 0 where there are none.

    Notes
    -----
    r = a.b / (sqrt(a.a b.b) + n0), without means, for a surprise is one about 0. `AGAINST` n0 pairs that agree on
    nothing are put beside those seen (ours): with few pairs r stays near 0.

    Example
    -------
    >>> same = Surprises(np.arange(40) * 30.0, np.ones(40))
    >>> together(same, same), together(same, Surprises(same.days + 15, same.errors))
    ((0.8, 40), (0.0, 0))
    """
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
