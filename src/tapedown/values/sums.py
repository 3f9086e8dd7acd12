"""Adding numbers from left to right, and their roots: the same last bit on every Python and in the browser.

The language's own sum keeps lost digits from Python 3.12 on and did not before, nor does it in the browser: one reading
would have two uncertainties, different in the last bit. Every sum of numbers that ends in a result is added here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from tapedown.values.results import Num


def added(values: Iterable[Num]) -> Num:
    """The sum, each number added to what came before.

    Parameters
    ----------
    values
        Floats or arrays of one shape; NaN makes the sum NaN.

    Returns
    -------
    float or array
        0.0 of no values.

    Example
    -------
    >>> added([0.1] * 10), added([])
    (0.9999999999999999, 0.0)
    """
    total: Num = 0.0
    for value in values:
        total = total + value
    return total


def root(value: Num) -> Num:
    """The square root; a power would differ from it in the last bit now and then.

    Parameters
    ----------
    value
        Float or array of shape (n,), >= 0; NaN stays NaN.

    Returns
    -------
    float or array
        As long as what is given.

    Example
    -------
    >>> root(2.25)
    1.5
    """
    return math.sqrt(value) if isinstance(value, (int, float)) else value**0.5
