"""From a path along the hole to a vertical depth.

References
----------
Minimum curvature: beta from the angles at two stations, ratio factor (2/beta) tan(beta/2), 1 when the hole is straight.
A published page prints ratio factor 1.00408 for its worked example; its own results use the correct 1.00428.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from tapedown.values.results import Num
from tapedown.values.sums import added

_STRAIGHT_RAD = 1e-6


class Direction(NamedTuple):
    """A survey station: distance along the hole from land surface, inclination from vertical, azimuth."""

    along_m: float
    inclination_deg: float
    azimuth_deg: float


def cosine(angle_deg: Num) -> Num:
    """Cosine of an angle in degrees, of a float or of an array through its own namespace.

    Parameters
    ----------
    angle_deg
        Angle, degrees, float or (n,).

    Returns
    -------
    float or (n,)
        Its cosine; NaN where the angle is NaN.

    Example
    -------
    >>> round(cosine(60.0), 12)
    0.5
    """
    radians = angle_deg * (math.pi / 180)
    if hasattr(radians, "__array_namespace__"):
        return radians.__array_namespace__().cos(radians)
    return math.cos(radians)


def leaning_vertical_m(path_m: Num, lean_deg: Num) -> Num:
    """Vertical depth of a hole that leans by one angle: L cos(theta).

    Parameters
    ----------
    path_m
        Length along the hole, m, float or (n,).
    lean_deg
        Angle between the hole and the vertical, degrees, float or (n,).

    Returns
    -------
    float or (n,)
        Vertical depth, m; NaN where either is NaN.

    Example
    -------
    >>> round(leaning_vertical_m(200.0, 5.0), 4)
    199.2389
    """
    return path_m * cosine(lean_deg)


def dogleg_rad(a: Direction, b: Direction) -> float:
    """Angle between the directions of the hole at two stations.

    Parameters
    ----------
    a
        A station; how far along the hole it lies does not matter.
    b
        The other one, in either order.

    Returns
    -------
    float
        The angle, rad, 0 to pi.

    Notes
    -----
    beta = 2 asin sqrt(sin^2((i2 - i1) / 2) + sin i1 sin i2 sin^2((a2 - a1) / 2)), i inclinations and a azimuths. In
    this form a nearly straight hole keeps its digits.

    Example
    -------
    >>> round(dogleg_rad(Direction(0, 0, 0), Direction(100, 10, 90)), 6)
    0.174533
    """
    i1, i2 = math.radians(a.inclination_deg), math.radians(b.inclination_deg)
    turn = math.radians(b.azimuth_deg - a.azimuth_deg)
    # haversine form: exact near zero, where the cosine form loses all its digits
    half = math.sin((i2 - i1) / 2) ** 2 + math.sin(i1) * math.sin(i2) * math.sin(turn / 2) ** 2
    return 2 * math.asin(min(1.0, math.sqrt(half)))


def ratio_factor(dogleg_rad: float) -> float:
    """Factor by which the arc between two stations is taken instead of their chords: (2/beta) tan(beta/2).

    Parameters
    ----------
    dogleg_rad
        Angle beta between the two directions, rad, 0 to less than pi.

    Returns
    -------
    float
        The factor, 1 in a straight hole; 1 + beta^2/12 where beta is below 1e-6.

    Example
    -------
    >>> round(ratio_factor(0.22604895), 5), ratio_factor(0.0)
    (1.00428, 1.0)
    """
    if dogleg_rad < _STRAIGHT_RAD:
        return 1 + dogleg_rad * dogleg_rad / 12
    return 2 / dogleg_rad * math.tan(dogleg_rad / 2)


def arc_m(a: Direction, b: Direction, share: float = 1.0) -> tuple[float, float, float]:
    """Displacement from station a along a share of the arc to station b.

    The arc is a circle through both directions; at share 1 this is the minimum-curvature formula.

    Parameters
    ----------
    a
        Station the arc starts from.
    b
        Station it ends at, further along the hole.
    share
        How much of the arc to go, 0 (at a) to 1 (at b).

    Returns
    -------
    tuple
        North, east and down from station a, m.

    Example
    -------
    >>> [round(m, 3) for m in arc_m(Direction(0, 0, 0), Direction(100, 10, 90))]
    [0.0, 8.705, 99.493]
    """
    beta = dogleg_rad(a, b)
    length = b.along_m - a.along_m
    start, end = _tangent(a), _tangent(b)
    if beta < _STRAIGHT_RAD:
        weights = (share - share * share / 2, share * share / 2)
    else:  # products of sines, as differences of cosines lose their digits in a nearly straight hole
        at = share * beta
        weights = (
            2 * math.sin(beta - at / 2) * math.sin(at / 2) / (beta * math.sin(beta)),
            2 * math.sin(at / 2) ** 2 / (beta * math.sin(beta)),
        )
    north, east, down = (length * (weights[0] * s + weights[1] * e) for s, e in zip(start, end))
    return north, east, down


def _tangent(d: Direction) -> tuple[float, float, float]:
    inclination, azimuth = math.radians(d.inclination_deg), math.radians(d.azimuth_deg)
    level = math.sin(inclination)
    return level * math.cos(azimuth), level * math.sin(azimuth), math.cos(inclination)


class Reached(NamedTuple):
    """A place in a surveyed hole: displacement from land surface, m, and the cosine of its inclination there."""

    north_m: float
    east_m: float
    down_m: float
    slope: float


def surveyed(path_m: float, stations: Sequence[Direction]) -> Reached:
    """The place `path_m` along a surveyed hole, from land surface.

    Above the first station the hole is taken as straight in its direction, beyond the last one likewise.

    Parameters
    ----------
    path_m
        Length along the hole from land surface, m.
    stations
        Survey of the hole, from the top down, at least one station.

    Returns
    -------
    Reached
        Displacement from land surface, m, and the cosine of the inclination there.

    Raises
    ------
    ValueError
        No stations, or stations not in order.

    Example
    -------
    >>> surveyed(130.0, [Direction(0, 0, 0), Direction(100, 0, 0)]).down_m
    130.0
    >>> round(surveyed(130.0, [Direction(0, 0, 0), Direction(100, 10, 90)]).down_m, 3)
    129.037
    """
    if not stations or any(b.along_m <= a.along_m for a, b in pairwise(stations)):
        raise ValueError(f"{len(stations)} stations; a survey needs at least one, each further down the hole")
    first, last = stations[0], stations[-1]
    heading = _tangent(first)
    legs = [tuple(min(path_m, first.along_m) * c for c in heading)]
    for a, b in pairwise(stations):
        if path_m > a.along_m:
            share = min(1.0, (path_m - a.along_m) / (b.along_m - a.along_m))
            legs.append(arc_m(a, b, share))
            heading = _heading(a, b, share)
    legs.append(tuple(max(0.0, path_m - last.along_m) * c for c in _tangent(last)))
    north, east, down = (added(leg[i] for leg in legs) for i in range(3))
    return Reached(north, east, down, heading[2])


def surveyed_vertical_m(path_m: float, stations: Sequence[Direction]) -> float:
    """Vertical depth at `path_m` along a surveyed hole (see `surveyed`).

    Parameters
    ----------
    path_m
        Length along the hole from land surface, m.
    stations
        Survey of the hole, from the top down, at least one station.

    Returns
    -------
    float
        Depth below land surface, m.

    Example
    -------
    >>> surveyed_vertical_m(130.0, [Direction(0, 0, 0), Direction(100, 0, 0)])
    130.0
    """
    return surveyed(path_m, stations).down_m


def _heading(a: Direction, b: Direction, share: float) -> tuple[float, float, float]:
    """Direction of the hole at `share` of the arc from a to b."""
    beta, start, end = dogleg_rad(a, b), _tangent(a), _tangent(b)
    if beta < _STRAIGHT_RAD:
        weights = (1 - share, share)
    else:
        weights = (math.sin((1 - share) * beta) / math.sin(beta), math.sin(share * beta) / math.sin(beta))
    north, east, down = (weights[0] * s + weights[1] * e for s, e in zip(start, end))
    return north, east, down
