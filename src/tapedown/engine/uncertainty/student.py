"""Coverage factors: Student's t for the degrees of freedom at hand.

References
----------
JCGM 100:2008 (GUM) G.4.1 and table G.2; Abramowitz & Stegun (1964) 26.7.3, 26.7.4 (exact for whole degrees of freedom)
and 26.7.5 (expansion for many).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Any

from tapedown.values.results import Num

EXACT_TO = 200
"""Up to this many degrees of freedom the exact sum is used, beyond it the expansion (they differ by < 1e-9 there)."""


def coverage_factor(dof: Num, level: float) -> Num:
    """Factor k such that value +- k u covers with probability `level`.

    Degrees of freedom are cut down to a whole number, as the GUM advises (G.4.1 note 1), and never below 1; beyond
    `EXACT_TO` the expansion takes them as they are.

    Parameters
    ----------
    dof
        Effective degrees of freedom, float or (n,), > 0.
    level
        Coverage probability, 0 < level < 1.

    Returns
    -------
    float or (n,)
        k; in an array NaN where the degrees of freedom are NaN.

    Raises
    ------
    ValueError
        level outside (0, 1).

    References
    ----------
    JCGM 100:2008 (GUM) G.4.1 and table G.2; Abramowitz & Stegun (1964) 26.7.3, 26.7.4, 26.7.5.

    Example
    -------
    >>> round(coverage_factor(16.7, 0.99), 2), round(coverage_factor(1e9, 0.95), 3)
    (2.92, 1.96)
    """
    if not 0 < level < 1:
        raise ValueError(f"coverage level {level} must lie between 0 and 1")
    if hasattr(dof, "__array_namespace__"):
        return _factors(dof, level)
    return _exact(max(1, math.floor(dof)), level) if dof <= EXACT_TO else _expanded(dof, _normal(level))


def _factors(dof: Any, level: float) -> Num:
    xp = dof.__array_namespace__()
    table = xp.asarray([_exact(n, level) for n in range(1, EXACT_TO + 1)])
    few = xp.where(dof <= EXACT_TO, dof, EXACT_TO)  # NaN goes the other way and stays NaN
    place = xp.astype(xp.maximum(xp.floor(few), 1), xp.int64) - 1
    return xp.where(dof <= EXACT_TO, xp.take(table, place), _expanded(xp.maximum(dof, EXACT_TO), _normal(level)))


def _expanded(dof: Num, z: float) -> Num:
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    fourth = (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160
    return z + (first + (second + (third + fourth / dof) / dof) / dof) / dof


@lru_cache(maxsize=1024)
def _exact(dof: int, level: float) -> float:
    return _solve(lambda t: _within(t, dof), level)


@lru_cache(maxsize=16)
def _normal(level: float) -> float:
    return _solve(lambda z: math.erf(z / math.sqrt(2)), level)


def _within(t: float, dof: int) -> float:
    """Probability that |T| < t for whole `dof`: A&S 26.7.3 (odd), 26.7.4 (even)."""
    sine, cosine = t / math.sqrt(dof + t * t), math.sqrt(dof / (dof + t * t))
    term, total = (cosine if dof % 2 else 1.0), 0.0
    for k in range(3 if dof % 2 else 2, dof + 1, 2):
        total += term
        term *= cosine * cosine * (k - 1) / k
    if dof % 2 == 0:
        return sine * total
    return (math.atan2(t, math.sqrt(dof)) + sine * total) * 2 / math.pi


def _solve(probability: Callable[[float], float], level: float) -> float:
    low, high = 0.0, 1.0
    while probability(high) < level:
        high *= 2
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if probability(middle) < level else (low, middle)
    return (low + high) / 2
