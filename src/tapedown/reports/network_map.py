"""A map of the wells without tiles from anywhere: places to scale, a scale bar, north up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.reports import svg
from tapedown.reports.axes import Scale, nice_step
from tapedown.values.units import from_si

METRES_PER_DEGREE = 111_320.0
"""Of latitude; on a map of a few kilometres its change with latitude is less than a line's width."""
MOST_SINGLE = 400
"""Above this many wells they are dots of one path, without names and links."""
_PAPER = 380.0
_EDGE = 26.0


class Spot(NamedTuple):
    """A well on the map, degrees; weight of its weightiest finding: "", "note", "look" or "stop"."""

    latitude_deg: float
    longitude_deg: float
    code: str
    words: str = ""
    weight: str = ""
    link: str = ""


def network_map(spots: Sequence[Spot], unit: str) -> str:
    """The map as SVG text, "" without any spot. Lengths of the scale bar in miles of ft networks, else in km or m."""
    if not spots:
        return ""
    east, north, metres_per_unit = _scales(spots)
    height = max(north.at_low, 180.0) + _EDGE + 16
    drawn = _dots(spots, east, north) if len(spots) > MOST_SINGLE else _named(spots, east, north)
    paper = svg.element("rect", paint="f-ink", x=1, y=1, width=_PAPER - 2, height=height - 2, stroke_width=1)
    label = f"map of {len(spots)} wells, north up"
    return svg.drawing(_PAPER, height, label, paper, *drawn, *_bar(metres_per_unit, height, unit), _north(), font=12,
                       class_="map")  # fmt: skip


def _scales(spots: Sequence[Spot]) -> tuple[Scale, Scale, float]:
    """Scales of longitude and latitude, the same number of metres to a unit of paper both ways."""
    lats, lons = [spot.latitude_deg for spot in spots], [spot.longitude_deg for spot in spots]
    middle = (min(lats) + max(lats)) / 2
    per_lon = METRES_PER_DEGREE * max(0.02, math.cos(math.radians(middle)))
    wide, high = (max(lons) - min(lons)) * per_lon, (max(lats) - min(lats)) * METRES_PER_DEGREE
    room = _PAPER - 2 * _EDGE - 40
    metres_per_unit = max(wide / room, high / 320, 1.0 if wide or high else 5.0)
    left = _EDGE + (room - wide / metres_per_unit) / 2
    pad = 40.0
    east = Scale(0.0, 1.0, left - min(lons) * per_lon / metres_per_unit,
                 left + (1.0 - min(lons)) * per_lon / metres_per_unit)  # fmt: skip
    top = pad + max(lats) * METRES_PER_DEGREE / metres_per_unit
    north = Scale(0.0, 1.0, top, top - METRES_PER_DEGREE / metres_per_unit)
    lowest = north.at(min(lats))
    return east, _from_floor(north, lowest), metres_per_unit


def _from_floor(north: Scale, floor: float) -> Scale:
    """The same scale told by the lowest place on paper that it uses, so that the sheet can be cut there."""
    degrees = (north.at_low - floor) / (north.at_low - north.at_high)
    return Scale(degrees, degrees + 1.0, floor, floor + north.at_high - north.at_low)


def _named(spots: Sequence[Spot], east: Scale, north: Scale) -> list[str]:
    taken: list[tuple[float, float, float, float]] = []
    drawn = []
    for spot in sorted(spots, key=lambda spot: -spot.latitude_deg):
        x, y = east.at(spot.longitude_deg), north.at(spot.latitude_deg)
        ring = [svg.element("circle", paint=f"f-{spot.weight}", cx=x, cy=y, r=8, stroke_width=1.8)]
        dot = svg.element("circle", paint="f-water", cx=x, cy=y, r=4.5, stroke="none")
        label = _label(spot.code, x, y, taken)
        drawn.append(
            svg.linked(spot.link, spot.words or spot.code, dot, *ring * (spot.weight in {"look", "stop"}), label)
        )
    return drawn


def _label(code: str, x: float, y: float, taken: list[tuple[float, float, float, float]]) -> str:
    """The well's code on the first side of its dot that is free."""
    width = 7.4 * len(code)
    sides = ((x + 12, y + 4), (x - 12 - width, y + 4), (x - width / 2, y - 11), (x - width / 2, y + 20))
    for left, base in sides:
        box = (left, base - 11, left + width, base + 2)
        inside = left > 2 and left + width < _PAPER - 2
        if inside and not any(_over(box, other) for other in taken):
            break
    else:
        left, base = sides[0]
        box = (left, base - 11, left + width, base + 2)
    taken.append(box)
    return svg.text(code, left, base)


def _over(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _dots(spots: Sequence[Spot], east: Scale, north: Scale) -> list[str]:
    """Many wells: one dot for all that fall on the same place of the paper."""
    drawn = []
    for weights, paint in (({"", "note"}, "f-water"), ({"look"}, "f-look"), ({"stop"}, "f-stop")):
        at = {(svg.number(east.at(s.longitude_deg)), svg.number(north.at(s.latitude_deg)))
              for s in spots if s.weight in weights}  # fmt: skip
        d = "".join(f"M{x} {y}h0" for x, y in sorted(at))
        drawn.append(svg.element("path", paint=paint, d=d, stroke_width=4, stroke_linecap="round", fill="none"))
    return drawn


def _bar(metres_per_unit: float, height: float, unit: str) -> list[str]:
    """A scale bar of a round length, about a quarter of the paper."""
    long_m = 1609.344 if unit == "ft" else 1000.0
    far = metres_per_unit * 90 >= long_m
    one_m, name = (long_m, "mi" if unit == "ft" else "km") if far else (1 / from_si(1.0, unit, "length"), unit)
    amount = nice_step(metres_per_unit * 90 / one_m, 1)
    amount = amount / 2 if amount * one_m / metres_per_unit > 130 else amount
    size, y = amount * one_m / metres_per_unit, height - 16
    n = svg.number
    d = f"M14 {n(y - 5)}v5h{n(size)}v-5"
    return [svg.element("path", paint="f-ink", d=d, stroke_width=1.4), svg.text(f"{amount:g} {name}", 20 + size, y)]


def _north() -> str:
    x = _PAPER - 22
    arrow = svg.element("path", paint="f-ink", d=f"M{svg.number(x)} 40V14m-5 8l5 -8l5 8", stroke_width=1.4)
    return arrow + svg.text("N", x, 54, anchor="middle")
