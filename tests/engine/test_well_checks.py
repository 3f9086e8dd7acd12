"""What cannot be true of a well, at the very limit on both sides; lengths in feet and metres as people write them."""

from __future__ import annotations

import pytest

from tapedown.engine.checks.wells import beyond_well, check_construction, check_depth, check_elevation, check_position
from tapedown.values.results import Finding
from tapedown.values.settings import Settings
from tapedown.values.written import written
from tests.engine.at_the_well import FOOT_M, construction, names, position


@pytest.mark.parametrize(("depth", "found"), [("-0.1 m", 1), ("0 m", 0), ("3000 m", 0), ("3000.1 m", 1)])
def test_a_depth_lies_between_land_surface_and_the_deepest_well(depth: str, found: int) -> None:
    assert len(check_depth(written(depth, "m"))) == found


@pytest.mark.parametrize(("depth", "found"), [("-10.1 m", 1), ("-10 m", 0), ("9 m", 0)])
def test_water_that_stands_above_land_is_allowed_as_far_as_is_said(depth: str, found: int) -> None:
    assert len(check_depth(written(depth, "m"), -10.0)) == found


@pytest.mark.parametrize(
    ("what", "elevation", "found"),
    [
        ("land surface", "-450.1 m", 1),
        ("land surface", "-450 m", 0),
        ("land surface", "8900 m", 0),
        ("land surface", "8900.1 m", 1),
        ("water", "-3450 m", 0),
        ("water", "-3450.1 m", 1),
        ("water", "8900 m", 0),
        ("water", "8900.1 m", 1),
    ],
)
def test_an_elevation_lies_on_land_and_water_as_deep_under_it_as_a_well_goes(
    what: str, elevation: str, found: int
) -> None:
    assert len(check_elevation(written(elevation, "m"), what)) == found


@pytest.mark.parametrize(
    ("name", "degrees", "found"),
    [("latitude", "90", 0), ("latitude", "-90.1", 1), ("longitude", "-180", 0), ("longitude", "180.1", 1)],
)
def test_a_position_lies_on_the_globe(name: str, degrees: str, found: int) -> None:
    assert len(check_position(position(**{name: degrees}))) == found


@pytest.mark.parametrize(
    ("hole", "found"),
    [("82.3", set()), ("82.21", set()), ("82.19", {"hole-above-well"}), ("80.0", {"hole-above-well"})],
)
def test_a_hole_may_end_above_its_well_by_the_last_digit_written_and_no_more(hole: str, found: set[str]) -> None:
    assert names(check_construction(construction(completed_depth="82.3", hole_depth=hole))) == found


@pytest.mark.parametrize(
    ("top", "bottom", "found"),
    [
        ("80.0", "82.3", set()),
        ("80.0", "82.39", set()),
        ("80.0", "82.41", {"screen-below-well"}),
        ("82.0", "82.0", set()),
        ("82.1", "82.0", {"screen-upside-down"}),
        ("85.0", "80.0", {"screen-upside-down", "screen-below-well"}),
    ],
)
def test_a_screen_lies_the_right_way_up_inside_its_well(top: str, bottom: str, found: set[str]) -> None:
    built = construction(completed_depth="82.3", screens=[{"top": top, "bottom": bottom}])
    assert names(check_construction(built)) == found


@pytest.mark.parametrize(("excess_m", "found"), [(-0.001, 0), (0.072, 0), (0.074, 1)])
def test_a_bottom_may_be_felt_below_the_recorded_one_by_what_feeling_errs(excess_m: float, found: int) -> None:
    """Of 300.0 ft on record: twice 0.02 ft of feeling, 0.05 ft of the last digit, 0.05 % of the depth: 0.24 ft."""
    built = construction(completed_depth="300.0")
    limit_m = (0.04 + 0.05 + 0.15) * FOOT_M
    assert limit_m == pytest.approx(0.0732, abs=1e-4)
    assert len(beyond_well(300.0 * FOOT_M + excess_m, "bottom", built, Settings())) == found
    assert beyond_well(300.0 * FOOT_M + excess_m, "bottom", None, Settings()) == []


def test_what_cannot_be_is_told_with_the_numbers_as_they_were_written() -> None:
    def said(found: list[Finding]) -> list[str]:
        return [one.message for one in found]

    upside = construction(completed_depth="78", hole_depth="70", screens=[{"top": "80.0", "bottom": "75"}])
    assert said(check_construction(upside)) == [
        "screen from 80.0 ft to 75 ft",
        "screen from 80.0 ft to 75 ft in a well 78 ft deep",
        "hole 70 ft deep, well 78 ft deep",
    ]
    assert said(check_construction(construction(completed_depth="20000", hole_depth="21000"))) == [
        "a depth of 20000 ft", "a depth of 21000 ft",
    ]  # fmt: skip
    assert said(check_position(position(land_surface="30000", latitude="91", longitude="181"))) == [
        "land surface at 30000 ft", "latitude 91 deg", "longitude 181 deg",
    ]  # fmt: skip
    hints = [one.hint for one in check_position(position(latitude="91", longitude="181"))]
    assert hints == ["latitude lies within 90 degrees either way", "longitude lies within 180 degrees either way"]
    deep = beyond_well(301.0 * FOOT_M, "water", construction(completed_depth="300.0"), Settings())
    assert said(deep) == ["water at 301.00 ft below land surface, but the well is recorded as 300.0 ft deep"]
    assert beyond_well(301.0 * FOOT_M, "water", construction(), Settings()) == []
