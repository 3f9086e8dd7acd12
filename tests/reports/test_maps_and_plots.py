"""The map without tiles, and the plot of a calibration."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from tapedown.reports.difference_plot import Difference, difference_plot
from tapedown.reports.network_map import Spot, network_map

SVG = "{http://www.w3.org/2000/svg}"


def places(text: str) -> list[tuple[float, float]]:
    root = ElementTree.fromstring(text)  # noqa: S314 - made by us
    return [(float(e.get("cx", "")), float(e.get("cy", ""))) for e in root.iter(f"{SVG}circle")]


def test_a_kilometre_is_as_long_east_as_north() -> None:
    """Three wells: one a kilometre east of the first, one a kilometre north."""
    lat, lon = 52.0, 0.5
    east, north = 1 / (111.32 * math.cos(math.radians(lat + 0.0045))), 1 / 111.32
    text = network_map([Spot(lat, lon, "A"), Spot(lat, lon + east, "B"), Spot(lat + north, lon, "C")], "m")
    by_place = sorted(places(text))
    xs, ys = {round(x) for x, _ in by_place}, {round(y) for _, y in by_place}
    assert len(xs) == len(ys) == 2
    assert max(xs) - min(xs) == pytest.approx(max(ys) - min(ys), abs=1.5)
    top = min(by_place, key=lambda at: at[1])
    assert top[0] == pytest.approx(min(xs), abs=1), "north is up"


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    spots = [Spot(52.0, 0.5, "A"), Spot(52.0, 0.6, "B")]
    text = network_map(spots, "m")
    apart_m = 0.1 * 111_320 * math.cos(math.radians(52.0))
    (left, _), (right, _) = sorted(places(text))
    bar = re.search(r'd="M14 [\d.]+v5h([\d.]+)v-5"', text)
    said = re.search(r">([\d.]+) km<", text)
    assert bar is not None
    assert said is not None
    assert float(bar[1]) * apart_m / (right - left) == pytest.approx(float(said[1]) * 1000, rel=0.01)


def test_wells_of_a_nest_keep_their_names_apart() -> None:
    text = network_map([Spot(52.0, 0.5, "MF-10"), Spot(52.00001, 0.50001, "MF-11"), Spot(52.01, 0.51, "MF-12")], "ft")
    root = ElementTree.fromstring(text)  # noqa: S314 - made by us
    at = {
        e.text: (float(e.get("x", "")), float(e.get("y", "")))
        for e in root.iter(f"{SVG}text")
        if (e.text or "")[:2] == "MF"
    }
    (x1, y1), (x2, y2) = at["MF-10"], at["MF-11"]
    assert abs(x1 - x2) > 35 or abs(y1 - y2) > 10


@pytest.mark.parametrize("spots", [[Spot(52.0, 0.5, "one")], [Spot(52.0, 0.5, "a"), Spot(52.0, 0.5, "b")],
                                   [Spot(90.0, 0.0, "pole"), Spot(-90.0, 180.0, "pole")]])  # fmt: skip
def test_any_positions_make_a_map(spots: list[Spot]) -> None:
    for x, y in places(network_map(spots, "ft")):
        assert 0 <= x <= 400
        assert 0 <= y <= 500


def test_no_wells_make_no_map_and_thousands_a_small_one() -> None:
    assert network_map([], "ft") == ""
    many = [Spot(52 + i / 1e5, 0.5 + (i * 7919 % 10_000) / 1e5, f"W-{i}") for i in range(10_000)]
    assert len(network_map(many, "ft")) < 200_000


def test_names_on_the_map_cannot_act() -> None:
    assert "<script" not in network_map([Spot(52.0, 0.5, "<script>alert(1)</script>")], "ft")


def test_a_tape_that_shows_too_much_is_drawn_below_the_line() -> None:
    text = difference_plot([("3 Feb 2025", [Difference(15.24, -0.012), Difference(30.48, 0.0)])], "ft")
    (x1, y1), (x2, y2) = places(text)
    assert x1 < x2
    assert y1 > y2
    assert "filled: 3 Feb 2025" in text
    assert difference_plot([], "ft") == ""
