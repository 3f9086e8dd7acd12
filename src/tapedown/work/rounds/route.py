"""A short way through a handful of wells.

Nearest neighbour, then edges exchanged two at a time as long as that shortens the way (Croes 1958, from memory). Short,
not shortest: roads, gates and water are not known here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TypeAlias

from tapedown.values.sums import added

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius of the Earth (GRS 80)."""
SHORTER_M = 1e-6
"""An exchange that saves less than this is none."""

Spot: TypeAlias = tuple[float, float]
"""East and north on a plane, m."""


def on_plane(positions_deg: Mapping[str, tuple[float, float]]) -> dict[str, Spot]:
    """Latitudes and longitudes (degrees) on a plane, equirectangular about their middle; good over a round's distances.

    Example
    -------
    >>> at = on_plane({"MF-01": (52.0, 0.0), "MF-02": (52.0, 0.01)})
    >>> round(math.dist(at["MF-01"], at["MF-02"]))
    685
    """
    if not positions_deg:
        return {}
    middle_deg = added(latitude for latitude, _ in positions_deg.values()) / len(positions_deg)
    first_deg = next(iter(positions_deg.values()))[1]
    degree_m = math.radians(1) * EARTH_RADIUS_M
    shrunk = math.cos(math.radians(middle_deg))
    return {
        name: (((longitude - first_deg + 180) % 360 - 180) * degree_m * shrunk, latitude * degree_m)
        for name, (latitude, longitude) in positions_deg.items()
    }


def length_m(order: Sequence[str], at: Mapping[str, Spot], after: str | None = None) -> float:
    """Length of the way from `after`, when there is one, through the stops in this order, m."""
    way = [*([after] if after is not None else []), *order]
    return added(math.dist(at[a], at[b]) for a, b in zip(way, way[1:]))  # noqa: RUF007


def short_route(stops: Sequence[str], at: Mapping[str, Spot], after: str | None = None) -> list[str]:
    """The stops in a short order, coming from `after` when there is one; never longer than the order given.

    Example
    -------
    >>> short_route(["a", "b", "c"], {"a": (0, 0), "b": (9, 0), "c": (1, 0)})
    ['a', 'c', 'b']
    """
    tried = [_exchanged(order, at, after) for order in (_nearest_next(stops, at, after), list(stops))]
    return min(tried, key=lambda order: length_m(order, at, after))


def _nearest_next(stops: Sequence[str], at: Mapping[str, Spot], after: str | None) -> list[str]:
    left, order, here = list(stops), [], after
    while left:
        spot = at[left[0] if here is None else here]
        far = [math.dist(at[stop], spot) for stop in left]
        here = left.pop(far.index(min(far)))
        order.append(here)
    return order


def _exchanged(order: list[str], at: Mapping[str, Spot], after: str | None) -> list[str]:
    """The order with stretches turned round as long as one of them shortens the way."""
    shorter = True
    while shorter:
        shorter = False
        for i in range(len(order) - 1):
            for j in range(i + 1, len(order)):
                if _saved_m(order, i, j, at, after) > SHORTER_M:
                    order[i : j + 1] = order[i : j + 1][::-1]
                    shorter = True
    return order


def _saved_m(order: Sequence[str], i: int, j: int, at: Mapping[str, Spot], after: str | None) -> float:
    """What turning round the stretch from i to j saves, m: only its two ends change."""
    before = order[i - 1] if i else after
    beyond = order[j + 1] if j + 1 < len(order) else None
    first, last = at[order[i]], at[order[j]]
    saved = 0.0
    if before is not None:
        saved += math.dist(at[before], first) - math.dist(at[before], last)
    if beyond is not None:
        saved += math.dist(last, at[beyond]) - math.dist(first, at[beyond])
    return saved
