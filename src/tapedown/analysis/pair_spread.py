"""What repeats say of the error of one reading, as it was observed rather than as it was budgeted.

References
----------
Standard deviation from n duplicates, s = sqrt(sum d^2 / 2n): the pooled variance of n sets of two (GUM 4.2.4;
NIST/SEMATECH e-Handbook of Statistical Methods 2.3.4, from memory). The other figures are counted, so one wild pair
moves them little.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.sums import added

ENOUGH = 20
"""With fewer pairs there is no 95 of 100: one pair is already more than 5 of them."""


class PairSpread(NamedTuple):
    """What pairs of repeats showed.

    pairs      how many
    half_m     half of the pairs lie no further apart than this, m
    most_m     95 of 100 of them do, m; None with fewer than ENOUGH
    largest_m  the two furthest apart, m
    s_m        standard deviation of one reading, m
    """

    pairs: int
    half_m: float
    most_m: float | None
    largest_m: float
    s_m: float


def pair_spread(first_m: Sequence[float], second_m: Sequence[float]) -> PairSpread | None:
    """The error of one reading from first and second readings of sets.

    Only the first two of a set count: a third is read because those two did not agree, and would flatter the figure.

    Parameters
    ----------
    first_m
        First reading of each set, m, shape (n,), without NaN.
    second_m
        Second reading of each set, m, shape (n,), without NaN.

    Returns
    -------
    PairSpread or None
        Lengths in m; None without any pair.

    Raises
    ------
    ValueError
        Not as many first readings as second ones.

    Notes
    -----
    s = sqrt(sum d^2 / 2n). The shares are counted: the smallest difference that so many of the pairs do not exceed.

    References
    ----------
    GUM 4.2.4 (pooled variance of n sets of two); NIST/SEMATECH e-Handbook of Statistical Methods 2.3.4 (from memory).

    Example
    -------
    >>> found = pair_spread([10.00, 10.02], [10.01, 10.02])
    >>> found.pairs, round(found.s_m, 4), round(found.largest_m, 4)
    (2, 0.005, 0.01)
    """
    if len(first_m) != len(second_m):
        raise ValueError(f"{len(first_m)} first and {len(second_m)} second readings; pairs need as many of each")
    if len(first_m) == 0:
        return None
    apart = sorted(abs(b - a) for a, b in zip(first_m, second_m))
    n = len(apart)
    most = apart[math.ceil(0.95 * n) - 1] if n >= ENOUGH else None
    s = math.sqrt(added(d * d for d in apart) / (2 * n))
    return PairSpread(n, apart[math.ceil(0.5 * n) - 1], most, apart[-1], s)
