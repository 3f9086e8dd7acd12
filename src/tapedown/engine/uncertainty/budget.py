"""Uncertainty of a sum of steps: GUM first order, with Welch-Satterthwaite degrees of freedom.

References
----------
JCGM 100:2008 (GUM) 5.1.2 eq. (10), 5.2.2 eq. (16) for fully correlated parts, G.4.1 eq. (G.2b).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from tapedown.engine.uncertainty.student import coverage_factor
from tapedown.values.results import MANY, Num, Part, Result, Step
from tapedown.values.sums import added, root

_TINY = 1e-300  # keeps 0/0 out when nothing is uncertain


def combine(parts: Iterable[Part]) -> tuple[Num, Num]:
    """Standard uncertainty and effective degrees of freedom of a sum with these parts.

    Parts with the same key are the same quantity: their signed contributions add before squaring, so an instrument
    that enters twice counts (or cancels) as it really does. Parts without a key stand alone.

    Parameters
    ----------
    parts
        Signed contributions u_i, m, each with its degrees of freedom, float or (n,).

    Returns
    -------
    tuple
        Standard uncertainty, m, and effective degrees of freedom, each float or (n,); NaN where a part is NaN. Without
        parts, or where all cancel, both are 0.

    Notes
    -----
    u^2 = sum u_i^2 and dof = u^4 / sum(u_i^4 / dof_i). First order: the value is a sum, or near enough to one.

    References
    ----------
    JCGM 100:2008 (GUM) 5.1.2 eq. (10), 5.2.2 eq. (16), G.4.1 eq. (G.2b).

    Example
    -------
    >>> u, dof = combine([Part("", "a", 0.003), Part("", "b", 0.004)])
    >>> round(u, 6)
    0.005
    """
    squares = [(part.u_m * part.u_m, part.dof) for part in merged(parts)]
    variance = added(square for square, _ in squares)
    spread = added(square * square / dof for square, dof in squares)
    return root(variance), variance * variance / (spread + _TINY)


def merged(parts: Iterable[Part]) -> list[Part]:
    """The parts with those of one key added up, so that what cancels is seen to.

    Parameters
    ----------
    parts
        Signed contributions, m, float or (n,).

    Returns
    -------
    list
        One part a key, in order of first appearance, with words, degrees of freedom and source of the first of its key;
        parts without a key as they are.

    Example
    -------
    >>> [part.u_m for part in merged([Part("t", "", 0.02), Part("", "", 0.003), Part("t", "", -0.02)])]
    [0.0, 0.003]
    """
    budget: list[Part] = []
    places: dict[str, int] = {}
    for part in parts:
        if part.key in places:
            before = budget[places[part.key]]
            budget[places[part.key]] = before._replace(u_m=before.u_m + part.u_m)
            continue
        if part.key:
            places[part.key] = len(budget)
        budget.append(part)
    return budget


def shares(parts: Iterable[Part]) -> list[tuple[Part, Num]]:
    """What each source takes of the variance, the largest first.

    Parameters
    ----------
    parts
        Of one value; those of one key are one source. Sources without effect are left out.

    Returns
    -------
    list[tuple[Part, float]]
        Source and its share, 0 to 1; the shares add up to 1.

    Example
    -------
    >>> [(part.what, share) for part, share in shares([Part("", "splice", 0.03), Part("", "mark", 0.04)])]
    [('mark', 0.64), ('splice', 0.36)]
    """
    felt = sorted((part for part in merged(parts) if abs(part.u_m) > 0), key=lambda part: -abs(part.u_m))
    variance = added(part.u_m**2 for part in felt)
    return [(part, part.u_m**2 / variance) for part in felt]


def total(name: str, value_m: Num, parts: Iterable[Part], level: float) -> Result:
    """The result of a sum: value, standard uncertainty, degrees of freedom, coverage factor, expanded uncertainty.

    Parameters
    ----------
    name
        What the value is, in words, as it is shown.
    value_m
        The sum, m, float or (n,).
    parts
        What makes it uncertain, m.
    level
        Coverage probability, 0 < level < 1.

    Returns
    -------
    Result
        Value and uncertainties, m, not rounded; arrays where the parts are.

    Example
    -------
    >>> round(total("depth", 25.0, [Part("", "a", 0.003), Part("", "b", 0.004)], 0.95).expanded_m, 4)
    0.0098
    """
    u_m, dof = combine(parts)
    k = coverage_factor(dof, level)
    return Result(name, value_m, u_m, dof, k, k * u_m)


def amount(steps: Iterable[Step]) -> Num:
    """Sum of the steps' amounts, m."""
    return added(step.amount_m for step in steps)


def parts_of(steps: Iterable[Step]) -> list[Part]:
    """All parts of the steps, in order."""
    return [part for step in steps for part in step.parts]


def scaled(parts: Iterable[Part], factor: Num) -> list[Part]:
    """The same quantities seen through another sensitivity: each part times `factor`, keys kept."""
    return [part._replace(u_m=part.u_m * factor) for part in parts]


def difference(after: Sequence[Part], before: Sequence[Part]) -> tuple[Num, Num]:
    """Standard uncertainty and degrees of freedom of (after - before): what both share cancels.

    Parameters
    ----------
    after
        Parts of the later value, m.
    before
        Parts of the earlier value, m; a key that stands in both is one quantity.

    Returns
    -------
    tuple
        Standard uncertainty, m, and effective degrees of freedom, as `combine` gives them.

    Example
    -------
    >>> tape = Part("ST-014 certificate", "tape", 0.02)
    >>> u, _ = difference([tape, Part("", "feel", 0.003)], [tape, Part("", "feel", 0.004)])
    >>> round(u, 6)
    0.005
    """
    return combine([*after, *scaled(before, -1.0)])


def half_width(what: str, half_m: Num, source: str, key: str = "") -> Part:
    """A part known only to lie within +- half_m: rectangular, u = half / sqrt 3 (GUM 4.3.7)."""
    return Part(key, what, half_m / math.sqrt(3), MANY, source)


def last_digit(step_m: Num, what: str = "last digit read") -> Part:
    """A part from reading to the nearest step: rectangular over one step, u = step / sqrt 12 (GUM F.2.2.1)."""
    return Part("", what, step_m / math.sqrt(12), MANY, "digits as written")
