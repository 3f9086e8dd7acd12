"""Places in other systems: worked examples of the publisher of the EPSG set, and PROJ itself, axis by axis.

The worked examples of IOGP publication 373-7-2 (EPSG guidance note 7-2) are from memory: no copy was at hand. Where
they begin in another datum than WGS 84, the example is of the projection alone, so it is put through PROJ's projection.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.exchange.services.map_systems import CRS84, EPSG4326, MapSystem, systems_for

pyproj = pytest.importorskip("pyproj", reason="pyproj is not installed: extra formats")
EPSG = "http://www.opengis.net/def/crs/EPSG/0/"
NORTH_FIRST = (2193, 3006, 31467)
EAST_FIRST = (3857, 32618, 26918, 27700, 2263)


def system(code: int) -> MapSystem:
    return systems_for(str(code)).offered[f"{EPSG}{code}"]


def at(code: int, longitude: float, latitude: float) -> tuple[float, float]:
    """A place in a system, east before north."""
    place = (longitude, latitude)
    found = system(code).places([place])[place]
    assert found is not None
    return found


def test_the_web_map_comes_out_as_in_the_worked_example() -> None:
    """Popular Visualisation Pseudo Mercator (from memory): 24 22 54.433 N, 100 20 00.000 W."""
    x, y = at(3857, -(100 + 20 / 60), 24 + 22 / 60 + 54.433 / 3600)
    assert (round(x, 2), round(y, 2)) == (-11169055.58, 2800000.00)


def test_the_british_grid_comes_out_as_in_the_worked_example() -> None:
    """Transverse Mercator (from memory): 50 30 N, 0 30 E on OSGB 36 is 577 274.99 m E, 69 740.50 m N.

    The example is of the projection; PROJ's own way from OSGB 36 to WGS 84 goes before it.
    """
    latitude, longitude = pyproj.Transformer.from_crs(4277, 4326).transform(50.5, 0.5)
    x, y = at(27700, longitude, latitude)
    assert x == pytest.approx(577274.99, abs=0.02)
    assert y == pytest.approx(69740.50, abs=0.02)


def test_a_transverse_mercator_follows_its_central_meridian_and_its_scale() -> None:
    """UTM by definition: easting 500 000 m on the central meridian, where lengths are 0.9996 of the ellipsoid's."""
    x, y = at(32618, -75.0, 1 / 3600)
    radius_m = 6378137.0 * (1 - 0.00669437999014)  # of the meridian at the equator, WGS 84: a (1 - e^2)
    assert x == pytest.approx(500_000, abs=1e-6)
    assert y == pytest.approx(0.9996 * radius_m * math.radians(1 / 3600), abs=1e-6)


def test_the_origin_of_a_state_plane_zone_is_told_in_its_own_feet() -> None:
    """SPCS83 New York Long Island (EPSG 2263): origin 40 10 N, 74 W at 300 000 m, which is 984 250 ftUS, and 0.

    WGS 84 and NAD 83 are one here, as in the transformation EPSG 1188.
    """
    x, y = at(2263, -74.0, 40 + 10 / 60)
    assert x == pytest.approx(984_250.0, abs=0.001)
    assert y == pytest.approx(0, abs=0.001)


@pytest.mark.parametrize("code", EAST_FIRST + NORTH_FIRST)
def test_numbers_and_their_order_are_those_of_proj(code: int) -> None:
    ours = system(code)
    assert ours.north_first is (code in NORTH_FIRST)
    by_definition = pyproj.Transformer.from_crs(4326, code, allow_ballpark=False)
    home = pyproj.CRS.from_epsg(code).area_of_use
    longitude, latitude = (home.west + home.east) / 2, (home.south + home.north) / 2
    found = at(code, longitude, latitude)
    assert ours.turned(*found) == by_definition.transform(latitude, longitude)
    assert ours.turned(*ours.turned(*found)) == found


@given(st.floats(-179, 179), st.floats(-84, 84))
def test_a_place_comes_back_from_the_web_map(longitude: float, latitude: float) -> None:
    back = pyproj.Transformer.from_crs(3857, 4326, always_xy=True).transform(*at(3857, longitude, latitude))
    assert back == pytest.approx((longitude, latitude), abs=1e-8)


def test_latitude_comes_first_only_where_the_definition_has_it_so() -> None:
    offered = systems_for("").offered
    assert offered[EPSG4326].turned(43.0, -76.4) == (-76.4, 43.0)
    assert offered[CRS84].turned(-76.4, 43.0) == (-76.4, 43.0)


def test_a_place_that_a_projection_cannot_show_has_none_rather_than_a_wrong_one() -> None:
    assert system(32618).places([(15.0, 0.0)]) == {(15.0, 0.0): None}


@pytest.mark.parametrize(
    ("code", "why"),
    [(999999, "PROJ knows no such system"), (5703, "PROJ knows"), (4979, "no projected system"), (2053, "to the east")],
)
def test_what_cannot_be_answered_in_is_left_out_with_the_reason(code: int, why: str) -> None:
    """2053 counts to the west and the south."""
    found = systems_for(f"{code}, 32618")
    assert list(found.offered) == [CRS84, EPSG4326, f"{EPSG}3857", f"{EPSG}32618"]
    (reason,) = found.left_out
    assert reason.startswith(f"EPSG:{code} (")
    assert why in reason
