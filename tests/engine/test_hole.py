from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.context import ReadingContext
from tapedown.engine.physics.hole import (
    Direction,
    arc_m,
    cosine,
    dogleg_rad,
    leaning_vertical_m,
    ratio_factor,
    surveyed,
    surveyed_vertical_m,
)
from tapedown.values.settings import Settings
from tests.engine.at_the_well import below_land_m, below_point_m, construction, point, reduced

INCLINATION = st.floats(0.0, 60.0)
AZIMUTH = st.floats(0.0, 360.0)


def by_numeric_integration(a: Direction, b: Direction, share: float) -> np.ndarray:
    """Integral of the unit tangent that turns evenly from a to b: Gauss-Legendre over the spherical turn."""
    start, end = tangent(a), tangent(b)
    turn = math.atan2(float(np.linalg.norm(np.cross(start, end))), float(start @ end))
    nodes, weights = np.polynomial.legendre.leggauss(24)
    s = (nodes + 1) / 2 * share
    aside = end - (start @ end) * start
    norm = float(np.linalg.norm(aside))
    aside = aside / norm if norm > 1e-14 else aside * 0
    path = np.outer(np.cos(s * turn), start) + np.outer(np.sin(s * turn), aside)
    moved: np.ndarray = (weights[:, None] / 2 * share * path).sum(axis=0) * (b.along_m - a.along_m)
    return moved


def tangent(d: Direction) -> np.ndarray:
    inclination, azimuth = math.radians(d.inclination_deg), math.radians(d.azimuth_deg)
    level = math.sin(inclination)
    return np.array([level * math.cos(azimuth), level * math.sin(azimuth), math.cos(inclination)])


@given(INCLINATION, AZIMUTH, INCLINATION, AZIMUTH, st.floats(0.0, 1.0))
def test_an_arc_is_the_integral_of_its_turning_tangent(
    i1: float, a1: float, i2: float, a2: float, share: float
) -> None:
    a, b = Direction(0.0, i1, a1), Direction(100.0, i2, a2)
    assert arc_m(a, b, share) == pytest.approx(by_numeric_integration(a, b, share), abs=1e-6)


@pytest.mark.parametrize("turn_deg", [0.0, 1e-6, 5e-5, 7e-5, 1e-4, 1e-3, 1e-2, 0.1, 1.0])
def test_a_nearly_straight_hole_loses_no_digits(turn_deg: float) -> None:
    """Survey instruments write hundredths of a degree, and a small turn of a small lean is far less than that."""
    _, _, down = arc_m(Direction(0.0, 0.0, 0.0), Direction(100.0, turn_deg, 0.0))
    beta = math.radians(turn_deg)
    assert down == pytest.approx(100.0 * (1 - beta**2 / 6), abs=1e-7)


@given(INCLINATION, AZIMUTH, INCLINATION, AZIMUTH)
def test_the_angle_between_two_directions_is_that_of_their_vectors(i1: float, a1: float, i2: float, a2: float) -> None:
    a, b = Direction(0.0, i1, a1), Direction(100.0, i2, a2)
    u, v = tangent(a), tangent(b)
    assert dogleg_rad(a, b) == pytest.approx(math.atan2(float(np.linalg.norm(np.cross(u, v))), float(u @ v)), abs=1e-9)


@given(st.lists(st.tuples(st.floats(1.0, 80.0), INCLINATION, AZIMUTH), min_size=1, max_size=6), st.floats(0.0, 600.0))
def test_depth_grows_with_the_path_and_never_faster(legs: list[tuple[float, float, float]], path: float) -> None:
    along, stations = 0.0, []
    for leg, inclination, azimuth in legs:
        along += leg
        stations.append(Direction(along, inclination, azimuth))
    here, further = surveyed_vertical_m(path, stations), surveyed_vertical_m(path + 1.0, stations)
    assert here <= path + 1e-9
    assert -1e-9 <= further - here <= 1.0 + 1e-9


def test_a_survey_needs_stations_in_order() -> None:
    with pytest.raises(ValueError, match="at least one"):
        surveyed_vertical_m(10.0, [])
    with pytest.raises(ValueError, match="further down"):
        surveyed_vertical_m(10.0, [Direction(10, 0, 0), Direction(10, 1, 0)])


@given(st.floats(0.0, 45.0), st.floats(2.0, 300.0), st.floats(0.0, 1.5), st.booleans())
def test_a_straight_lean_gives_the_same_by_angle_and_by_survey(
    lean: float, depth: float, stick_up: float, along: bool
) -> None:
    given_lean = {"lean": f"{lean:.3f}", "u_lean": "0.2"}
    straight = [{"along": f"{at} m", "inclination": f"{lean:.3f}", "azimuth": "120"} for at in (0, 50, 400)]
    where = point(f"{stick_up:.2f}", unit="m", along_casing="yes" if along else "no")
    reading = {"readings": [f"{depth:.2f}"]}
    by_angle = reduced("electric tape", reading, ReadingContext(Settings("m"), point=where,
                       construction=construction("m", **given_lean)), "m")  # fmt: skip
    by_survey = reduced("electric tape", reading, ReadingContext(Settings("m"), point=where,
                        construction=construction("m", survey=straight, u_lean="0.2")), "m")  # fmt: skip
    assert below_point_m(by_survey) == pytest.approx(below_point_m(by_angle), abs=1e-6)
    assert below_land_m(by_survey) == pytest.approx(below_land_m(by_angle), abs=1e-6)
    angle_result, survey_result = by_angle.main, by_survey.main
    assert angle_result is not None
    assert survey_result is not None
    assert survey_result.u_m == pytest.approx(angle_result.u_m, rel=1e-4)


def test_a_stick_up_taped_along_the_casing_takes_off_its_rise_and_a_plumbed_one_its_whole_height() -> None:
    leaning = construction("m", lean="20")
    reading = {"readings": ["50.00"]}
    taped = reduced(
        "electric tape",
        reading,
        ReadingContext(point=point("1.00", unit="m", along_casing="yes"), construction=leaning),
        "m",
    )
    plumbed = reduced(
        "electric tape", reading, ReadingContext(point=point("1.00", unit="m"), construction=leaning), "m"
    )
    assert below_land_m(taped) == pytest.approx(49.0 * math.cos(math.radians(20)))
    assert below_land_m(plumbed) == pytest.approx(50.0 * math.cos(math.radians(20)) - 1.0)


def test_in_a_leaning_hole_what_is_uncertain_along_the_tape_counts_by_the_slope() -> None:
    reading = {"readings": ["50.00", "50.00"]}
    plumb = reduced("electric tape", reading, ReadingContext(), "m").main
    leaning = construction("m", lean="60", u_lean="0")
    slanted = reduced("electric tape", reading, ReadingContext(construction=leaning), "m").main
    assert plumb is not None
    assert slanted is not None
    assert slanted.u_m == pytest.approx(plumb.u_m / 2, rel=1e-9)


def test_a_hole_not_surveyed_is_only_ever_too_long_and_that_stays_out_of_the_uncertainty() -> None:
    reading = {"readings": ["100.00", "100.00"]}
    unknown = reduced("electric tape", reading, unit="m")
    plumb = reduced("electric tape", reading, ReadingContext(construction=construction(lean="0", u_lean="0")), "m")
    assert unknown.main is not None
    assert plumb.main is not None
    (effect,) = unknown.one_sided
    assert effect.low_m == pytest.approx(100 * (math.cos(math.radians(1)) - 1))
    assert effect.high_m == 0.0
    assert plumb.one_sided == ()
    assert unknown.main.u_m == pytest.approx(plumb.main.u_m)


def test_lengths_and_angles_may_come_as_columns() -> None:
    paths, leans = np.array([10.0, 100.0, 200.0]), np.array([0.0, 5.0, 30.0])
    assert leaning_vertical_m(paths, leans) == pytest.approx([leaning_vertical_m(p, a) for p, a in zip(paths, leans)])
    assert cosine(leans) == pytest.approx([cosine(float(a)) for a in leans])


STATIONS = [Direction(30.0, 2.0, 10.0), Direction(80.0, 12.0, 60.0), Direction(140.0, 25.0, 200.0)]


def by_path(path_m: float) -> np.ndarray:
    """Displacement at a path by numeric integration of the turning tangent, straight above and below the survey."""
    moved = min(path_m, 30.0) * tangent(STATIONS[0])
    for a, b in itertools.pairwise(STATIONS):
        share = min(1.0, max(0.0, (path_m - a.along_m) / (b.along_m - a.along_m)))
        moved = moved + by_numeric_integration(a, b, share) if share else moved
    return moved + max(0.0, path_m - 140.0) * tangent(STATIONS[-1])


@pytest.mark.parametrize("path_m", [-1.0, 0.0, 15.0, 30.0, 50.0, 80.0, 110.0, 140.0, 200.0])
def test_a_place_in_a_surveyed_hole_is_the_integral_of_its_direction_to_all_three_sides(path_m: float) -> None:
    found = surveyed(path_m, STATIONS)
    assert found[:3] == pytest.approx(tuple(by_path(path_m)), abs=1e-9)
    step = (by_path(path_m + 1e-4) - by_path(path_m - 1e-4)) / 2e-4
    assert found.slope == pytest.approx(step[2], abs=1e-5)


def test_a_hole_of_one_direction_or_one_station_is_straight() -> None:
    for stations in ([Direction(50.0, 30.0, 90.0)], [Direction(50.0, 30.0, 90.0), Direction(90.0, 30.0, 90.0)]):
        for path_m in (20.0, 50.0, 70.0, 120.0):
            north, east, down, slope = surveyed(path_m, stations)
            assert (north, east) == pytest.approx((0.0, path_m / 2), abs=1e-9)
            assert (down, slope) == pytest.approx((path_m * math.cos(math.radians(30)), math.cos(math.radians(30))))


@pytest.mark.parametrize("beta", [1e-9, 9.9e-7, 1.1e-6, 0.01, 0.5, 2.0])
def test_the_ratio_factor_is_that_of_minimum_curvature(beta: float) -> None:
    assert ratio_factor(beta) == pytest.approx(2 / beta * math.tan(beta / 2), rel=1e-12)


def test_the_worked_example_of_minimum_curvature_by_ratio_factor_is_the_arc() -> None:
    a, b = STATIONS[1], STATIONS[2]
    half = (b.along_m - a.along_m) / 2 * ratio_factor(dogleg_rad(a, b))
    assert arc_m(a, b) == pytest.approx(tuple(half * (tangent(a) + tangent(b))), rel=1e-12)


def test_how_a_reading_is_brought_upright_is_told_with_angle_and_part() -> None:
    reading = {"readings": ["100.00"]}
    lean = ReadingContext(construction=construction("m", lean="20 deg", u_lean="0.4 deg"))
    step = reduced("electric tape", reading, lean, "m").stages[0].steps[-1]
    assert (step.what, step.source) == ("leaning hole: path to vertical depth", "L cos(theta)")
    assert step.note == "20 deg from vertical"
    assert step.amount_m == pytest.approx(100 * (math.cos(math.radians(20)) - 1))
    (part,) = step.parts
    assert (part.key, part.what, part.source) == ("angle of the hole", "angle of the hole", "as stated")
    assert part.u_m == pytest.approx(100 * math.sin(math.radians(20)) * math.radians(0.4))
    unsaid = ReadingContext(construction=construction("m", lean="20 deg"))
    (part,) = reduced("electric tape", reading, unsaid, "m").stages[0].steps[-1].parts
    assert (part.u_m, part.source) == (pytest.approx(100 * math.sin(math.radians(20)) * math.radians(0.5)), "ours")
    rows = [{"along": f"{s.along_m} m", "inclination": f"{s.inclination_deg}", "azimuth": f"{s.azimuth_deg}"}
            for s in STATIONS]  # fmt: skip
    surveyed_hole = ReadingContext(construction=construction("m", survey=rows))
    step = reduced("electric tape", reading, surveyed_hole, "m").stages[0].steps[-1]
    assert (step.source, step.note) == ("minimum curvature", "survey of 3 stations")
    assert step.amount_m == pytest.approx(by_path(100.0)[2] - 100.0, abs=1e-6)
    assert step.parts[0].u_m == pytest.approx(math.hypot(*by_path(100.0)[:2]) * math.radians(0.5), rel=1e-6)


def test_a_stick_up_in_a_surveyed_hole_goes_on_in_the_direction_of_its_first_station() -> None:
    rows = [{"along": f"{s.along_m} m", "inclination": f"{s.inclination_deg + 18}", "azimuth": f"{s.azimuth_deg}"}
            for s in STATIONS]  # fmt: skip
    hole = construction("m", survey=rows)
    start = math.cos(math.radians(20))
    for along, path_m, rise_m in (("yes", 1.5, 1.5 * start), ("no", 1.5 / start, 1.5)):
        where = point("1.50", unit="m", along_casing=along)
        context = ReadingContext(Settings("m"), point=where, construction=hole)
        found = reduced("electric tape", {"readings": ["90.00"]}, context, "m")
        turned = [s._replace(inclination_deg=s.inclination_deg + 18) for s in STATIONS]
        down = surveyed(90.0 - path_m, turned).down_m
        assert below_land_m(found) == pytest.approx(down, abs=1e-5)
        assert below_point_m(found) == pytest.approx(down + rise_m, abs=1e-5)
        note = found.stages[1].steps[0].note
        assert note == (
            "1.50 m above land surface, 1.41 m of it vertical" if along == "yes" else "1.50 m above land surface"
        )
