"""A predictive distribution: what a well is likely to show at one time, before it is read.

Student's t about a middle: the spread itself is known from few readings only, and the degrees of freedom say how few.

References
----------
Abramowitz & Stegun (1964) 26.7.1 (density) and 26.5.27, 26.5.8 (distribution by the incomplete beta function, continued
fraction evaluated by Lentz's method as modified by Thompson & Barnett 1986).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

TINY = 1e-300
MOST_TERMS = 300
MOST_STEPS = 50


class Predictive(NamedTuple):
    """Student's t: a depth below land surface that is still to be read.

    middle_m  middle, m below land surface
    scale_m   scale, m, > 0 (the standard deviation is larger by sqrt(dof / (dof - 2)) where dof > 2)
    dof       degrees of freedom, > 0
    how       in words, what it rests on
    """

    middle_m: float
    scale_m: float
    dof: float
    how: str = ""

    def log_density(self, depth_m: float) -> float:
        """Natural logarithm of the density at a depth, of 1/m."""
        return self.log_densities([depth_m])[0]

    def log_densities(self, depths_m: Sequence[float]) -> list[float]:
        """Natural logarithm of the density at many depths; what they share is worked out once.

        Parameters
        ----------
        depths_m
            Depths below land surface, m.

        Returns
        -------
        list
            One logarithm a depth, of a density in 1/m; NaN where the depth is NaN.

        References
        ----------
        Abramowitz & Stegun (1964) 26.7.1.

        Example
        -------
        >>> [round(one, 3) for one in Predictive(10.0, 1.0, 10.0).log_densities([10.0, 12.0])]
        [-0.944, -2.794]
        """
        nu, middle_m, scale_m = self.dof, self.middle_m, self.scale_m
        of_shape = math.lgamma((nu + 1) / 2) - math.lgamma(nu / 2) - 0.5 * math.log(nu * math.pi) - math.log(scale_m)
        power, width = (nu + 1) / 2, nu * scale_m * scale_m
        return [of_shape - power * math.log1p((d - middle_m) * (d - middle_m) / width) for d in depths_m]

    def beyond(self, depth_m: float) -> float:
        """Probability of a reading at least as far from the middle as this one, to either side.

        Parameters
        ----------
        depth_m
            Depth below land surface, m.

        Returns
        -------
        float
            0 to 1; 1 at the middle.

        References
        ----------
        Abramowitz & Stegun (1964) 26.5.27, 26.5.8.

        Example
        -------
        >>> f"{Predictive(10.0, 1.0, 10.0).beyond(12.228):.4f}"
        '0.0500'
        """
        z = (depth_m - self.middle_m) / self.scale_m
        whole = self.dof + z * z
        return _incomplete_beta(self.dof / 2, 0.5, self.dof / whole, z * z / whole)

    def half_width_m(self, level: float) -> float:
        """Half the width of the interval about the middle that holds a reading with a given probability.

        Parameters
        ----------
        level
            That probability, 0 < level < 1.

        Returns
        -------
        float
            Half width, m.

        Raises
        ------
        ValueError
            level outside (0, 1).

        Example
        -------
        >>> round(Predictive(10.0, 1.0, 10.0).half_width_m(0.95), 3)
        2.228
        """
        if not 0 < level < 1:
            raise ValueError(f"level {level} must lie between 0 and 1")
        return self.scale_m * _factor(self.dof, level)


@lru_cache(maxsize=256)
def _factor(dof: float, level: float) -> float:
    """Half width over scale: Newton's method on the logarithms of width and of the probability beyond it.

    There the curve is concave and falls, nearly straight in the tails: the steps end on one side and close in fast.
    """
    standard, width, wanted = Predictive(0.0, 1.0, dof), 1.0, math.log(1 - level)
    for _ in range(MOST_STEPS):
        beyond = standard.beyond(width)
        step = (math.log(beyond) - wanted) * beyond / (2 * width * math.exp(standard.log_density(width)))
        width *= math.exp(step)
        if abs(step) < 1e-12:
            break
    return width


def _incomplete_beta(a: float, b: float, x: float, rest: float) -> float:
    """`rest` is 1 - x, given apart: x near 1 is the middle of the distribution, and there it keeps its digits."""
    if x == 0 or rest == 0:
        return x
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(rest))
    if x < (a + 1) / (a + b + 2):
        return front * _continued(a, b, x) / a
    return 1 - front * _continued(b, a, rest) / b


def _continued(a: float, b: float, x: float) -> float:
    c, d = 1.0, 1 / _away(1 - (a + b) * x / (a + 1))
    total = d
    for m in range(1, MOST_TERMS):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / _away(1 + term * d)
            c = _away(1 + term / c)
            total *= d * c
        if abs(d * c - 1) < 1e-14:
            break
    return total


def _away(value: float) -> float:
    return value if abs(value) > TINY else TINY
