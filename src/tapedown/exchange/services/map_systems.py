"""Systems of coordinates that map services answer in: WGS 84, its web map, and the projected ones a network names.

Coordinates are kept here with the one that runs east first; `turned` turns them where the definition of a system has
the one that runs north first. PROJ does the reckoning (extra formats); without it only WGS 84 is left.

References
----------
OGC 18-058r1 (Features, Part 2), from memory: a system is named by its address; its axes stand as it defines them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from tapedown.exchange.formats.registry import PackageMissing, optional_packages
from tapedown.values.settings import whole_numbers

CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
_EPSG = "http://www.opengis.net/def/crs/EPSG/0/"
EPSG4326 = f"{_EPSG}4326"
WEB_MAP = 3857
Place = tuple[float, float]
Project = Callable[[Sequence[Place]], list[Place]]


class MapSystem(NamedTuple):
    """A system of coordinates.

    uri          its address
    north_first  whether its definition has the axis that runs north first
    project      longitudes and latitudes in WGS 84 -> east and north in it; None where they are the same
    """

    uri: str
    north_first: bool
    project: Project | None = None

    def turned(self, first: float, second: float) -> Place:
        """A pair of coordinates from the order of its definition to east before north, or back."""
        return (second, first) if self.north_first else (first, second)

    def places(self, wgs84: Iterable[Place]) -> dict[Place, Place | None]:
        """Where places lie in it, east before north; None for what it cannot show."""
        some = list(wgs84)
        projected = self.project(some) if self.project else some
        return {a: b if math.isfinite(b[0]) and math.isfinite(b[1]) else None for a, b in zip(some, projected)}


class Systems(NamedTuple):
    """What a service answers in, by address, and what it was asked to and does not, with the reason."""

    offered: dict[str, MapSystem]
    left_out: tuple[str, ...]


def systems_for(codes: str) -> Systems:
    """WGS 84 in both orders, the web map, and the systems of these EPSG codes, "32618, 2193"."""
    offered = {CRS84: MapSystem(CRS84, north_first=False), EPSG4326: MapSystem(EPSG4326, north_first=True)}
    left_out = []
    for code in (WEB_MAP, *whole_numbers(codes)):
        try:
            with optional_packages():
                offered[f"{_EPSG}{code}"] = _projected(code)
        except (PackageMissing, ValueError) as error:
            left_out.append(f"EPSG:{code} ({error})")
    return Systems(offered, tuple(left_out))


def _projected(code: int) -> MapSystem:
    """A projected system of PROJ. Raises ValueError where there is none that a well can be shown in."""
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError

    try:
        system = CRS.from_epsg(code)
        by_proj = Transformer.from_crs(4326, system, always_xy=True, allow_ballpark=False)
    except ProjError:
        raise ValueError("PROJ knows no such system, or no way to it from WGS 84") from None
    axes = [axis.direction for axis in system.axis_info]
    if not system.is_projected or sorted(axes) != ["east", "north"]:
        raise ValueError(f"{system.name} is no projected system with an axis to the east and one to the north")

    def project(places: Sequence[Place]) -> list[Place]:
        x, y = by_proj.transform([place[0] for place in places], [place[1] for place in places])
        return list(zip(x, y))

    return MapSystem(f"{_EPSG}{code}", axes[0] == "north", project)
