"""Worked examples for filling wells and for the uncertainty of a sum.

Cases of our collection that are left out, as the engine has no function for them: the volume of water in a well and
its table of factors (purging is not measuring), the uncertainty of a gradient between two wells, half a contour
interval as the accuracy of a map elevation (a person enters the resulting standard uncertainty), the change of a
measuring point between two levellings (a plain difference; the record keeps both).
"""

from __future__ import annotations

import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.uncertainty.budget import combine, half_width, total
from tapedown.engine.well.fill import Sounding, filling_rate, well_condition
from tapedown.values.days import day_number
from tapedown.values.results import Part
from tests.engine.at_the_well import FOOT_M, construction, names
from tests.published.case import Case, cases

SCREENED = construction(completed_depth="82.10", screens=[{"top": "70", "bottom": "80"}])
COUNTY = "geometry; 20 % of the screen: San Joaquin Co. doc 932734 p. 56"
YEAR_D = 365.25


def sounding(on: str, depth_ft: float) -> Sounding:
    return Sounding(on, depth_ft * FOOT_M, (Part("", "read", 0.003),))


@cases(
    Case("4 % of the screen", 79.6, (2.5, 0.4, 0.04, False), 1e-6, COUNTY, "constructed"),
    Case("21 % of the screen", 77.9, (4.2, 2.1, 0.21, True), 1e-6, COUNTY, "constructed"),
    Case("still in the sump", 81.0, (1.1, 0.0, 0.0, False), 1e-6, COUNTY, "constructed"),
)
def test_fill_and_the_share_of_screen_it_buries(case: Case) -> None:
    found = well_condition([sounding("2026-05-14", case.given)], ReadingContext(construction=SCREENED))
    assert found is not None
    assert found.fill is not None
    fill, buried, share, redevelop = case.expected
    screen = found.screens[0]
    assert (found.fill.value_m / FOOT_M, screen.buried_m / FOOT_M, screen.share) == pytest.approx(
        (fill, buried, share), abs=case.tolerance
    )
    assert ("screen-buried" in names(found.findings)) is redevelop


@cases(
    Case(
        "81.9 to 79.4 ft in ten years",
        (("2015-05-01", 81.9), ("2025-05-01", 79.4)),
        (0.25, 5.6),
        0.02,
        "straight line to 20 % of the screen",
        "constructed",
    ),
)
def test_rate_of_filling_and_years_left(case: Case) -> None:
    soundings = [sounding(*dated) for dated in case.given]
    rate, years = case.expected
    assert filling_rate(soundings, 0.95).value_m / FOOT_M == pytest.approx(rate, abs=1e-3)
    found = well_condition(soundings, ReadingContext(construction=SCREENED))
    assert found is not None
    assert found.projection is not None
    ahead = day_number(found.projection.on) - day_number(soundings[-1].on)
    assert ahead / YEAR_D == pytest.approx(years, abs=case.tolerance)


@cases(
    Case(
        "four sources",
        (0.005, 0.005, 0.007, 0.005),
        (0.01036, 0.02072),
        1e-5,
        "root of the sum of squares, k 2",
        "constructed",
    )
)
def test_independent_sources_combine_as_the_root_of_the_sum_of_squares(case: Case) -> None:
    resolution, tape, repeat, height = case.given
    parts = [half_width("graduation of 0.01 ft", resolution, "to the nearest mark")]
    parts += [Part("", what, u) for what, u in (("tape", tape), ("repeat", repeat), ("height", height))]
    u, _ = combine(parts)
    assert (u, 2 * u) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "end gauge",
        0.99,
        (32.0, 16, 93.0),
        0.6,
        "JCGM 100:2008 (GUM) annex H.1; figures from memory, result worked out anew: u 31.7, nu 16.8, U 92.5 nm",
        "memory",
    ),
)
def test_gum_h1_calibration_of_an_end_gauge(case: Case) -> None:
    """Temperature 50 mm x 11.5e-6 x 0.029 degC = 16.7 nm, expansion 50 mm x 0.1 degC x 0.58e-6 = 2.9 nm."""
    nm = [
        Part("", "standard", 25.0, 18),
        Part("", "comparison, repeated", 5.8, 24),
        Part("", "comparator, random", 3.9, 5),
        Part("", "comparator, systematic", 6.7, 8),
        Part("", "difference in temperature", 16.6, 2),
        Part("", "difference in expansion", 2.9, 50),
    ]
    comparison, dof = combine(nm[1:4])
    assert comparison == pytest.approx(9.7, abs=0.05)
    assert dof == pytest.approx(25.6, abs=0.2)
    found = total("length", 838.0, nm, case.given)
    u, whole_dof, expanded = case.expected
    assert found.u_m == pytest.approx(u, abs=case.tolerance)
    assert int(found.dof) == whole_dof
    assert found.k == pytest.approx(2.92, abs=0.005)
    assert found.expanded_m == pytest.approx(expanded, abs=case.tolerance)
