from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.context import ReadingContext
from tapedown.engine.tape.calibration import between_marks_m, electric_limit_m, fit_line
from tests.engine.at_the_well import FOOT_M, below_point_ft, calibrated, gear, names, reduced

MARKS = st.lists(
    st.tuples(st.floats(1.0, 400.0), st.floats(-0.05, 0.05)), min_size=3, max_size=12, unique_by=lambda mark: mark[0]
).filter(lambda marks: max(m[0] for m in marks) - min(m[0] for m in marks) > 20)


@given(MARKS, st.floats(0.0, 500.0))
def test_the_fitted_line_and_its_uncertainty_agree_with_scipy_and_numpy(
    marks: list[tuple[float, float]], at: float
) -> None:
    shown, true = np.array([m for m, _ in marks]), np.array([m + off for m, off in marks])
    line, peer = fit_line(list(shown), list(true)), stats.linregress(shown, true)
    value, u = line.at(at)
    assert line.slope == pytest.approx(peer.slope, rel=1e-9)
    assert line.offset_m == pytest.approx(peer.intercept, abs=1e-8)
    assert value == pytest.approx(peer.intercept + peer.slope * at, abs=1e-8)
    assert line.residual_m / math.sqrt(line.spread_m2) == pytest.approx(peer.stderr, abs=1e-6)
    design = np.column_stack([np.ones_like(shown), shown])
    solved, *_ = np.linalg.lstsq(design, true)
    variance = float(np.sum((true - design @ solved) ** 2)) / (len(marks) - 2)
    ahead = np.array([1.0, at])
    assert u == pytest.approx(
        math.sqrt(variance * ahead @ np.linalg.inv(design.T @ design) @ ahead), rel=1e-6, abs=1e-9
    )


def test_the_lines_uncertainty_is_that_of_numpys_covariance() -> None:
    shown = np.array([50.01, 150.06, 250.09, 350.14, 420.10])
    true = np.array([50.0, 150.0, 250.0, 350.0, 420.03])
    _, covariance = np.polyfit(shown, true, 1, cov="unscaled")
    line = fit_line(list(shown), list(true))
    gradient = np.array([300.0, 1.0])
    assert line.at(300.0)[1] == pytest.approx(line.residual_m * math.sqrt(gradient @ covariance @ gradient), rel=1e-9)
    assert line.dof == 3


def test_a_line_is_best_known_among_its_marks_and_worse_beyond_them() -> None:
    line = fit_line([50.01, 150.06, 250.09, 350.14], [50.0, 150.0, 250.0, 350.0])
    inside, edge, beyond = (line.at(x)[1] for x in (200.0, 350.0, 500.0))
    assert inside < edge < beyond


def test_two_marks_carry_no_line() -> None:
    with pytest.raises(ValueError, match="three are needed"):
        fit_line([50.0, 100.0], [50.0, 100.0])
    with pytest.raises(ValueError, match="three are needed"):
        fit_line([50.0, 50.0, 50.0], [50.0, 50.0, 50.0])


@given(MARKS)
def test_between_marks_a_mark_gets_exactly_its_own_correction(marks: list[tuple[float, float]]) -> None:
    ordered = sorted(marks)
    for shown, add in ordered:
        assert between_marks_m(shown, ordered) == pytest.approx(add, abs=1e-12)


@given(MARKS, st.floats(0.0, 400.0))
def test_between_marks_agrees_with_numpys_interpolation(marks: list[tuple[float, float]], at: float) -> None:
    ordered = [(0.0, 0.0), *sorted(marks)]
    at = min(at, ordered[-1][0])
    expected = np.interp(at, [m for m, _ in ordered], [a for _, a in ordered])
    assert between_marks_m(at, ordered[1:]) == pytest.approx(expected, abs=1e-9)


def test_beyond_the_last_mark_its_rate_is_carried_on() -> None:
    marks = [(50.0, 0.01), (100.0, 0.03)]
    assert between_marks_m(150.0, marks) == pytest.approx(0.05)
    assert between_marks_m(0.0, marks) == 0.0
    assert between_marks_m(10.0, []) == 0.0


def test_only_the_stretch_of_tape_that_was_used_is_corrected() -> None:
    """Hold 120, cut 2: what the tape is out below the cut mark does not count."""
    marks = [("2.00", "2.01"), ("120.00", "120.05")]
    context = ReadingContext(calibrations=calibrated("ST-014", marks, "between marks"))
    found = reduced("chalked tape", {"readings": [{"hold": "120.00", "cut": "2.00"}], "tape": "ST-014"}, context)
    assert below_point_ft(found) == pytest.approx(118.04)


def test_a_checked_tape_is_not_corrected_but_its_largest_difference_is_carried() -> None:
    marks = [("50.00", "50.01"), ("100.00", "100.02")]
    context = ReadingContext(
        gear=gear("ET-021", type="electric tape"), calibrations=calibrated("ET-021", marks, "checked")
    )
    found = reduced("electric tape", {"readings": ["90.00"], "tape": "ET-021"}, context)
    assert below_point_ft(found) == pytest.approx(90.00)
    part = next(part for part in found.parts if part.what == "calibration of the tape")
    assert part.u_m / FOOT_M == pytest.approx(math.hypot(0.02 / math.sqrt(3), 0.002))


@pytest.mark.parametrize(("when", "due"), [("2027-01-20", False), ("2027-03-15T10:00+00:00", True), ("", False)])
def test_a_tape_is_overdue_after_a_year_and_a_little(when: str, due: bool) -> None:
    context = ReadingContext(
        when=when, calibrations=calibrated("ET-021", [("0", "0"), ("300", "300")], "between marks")
    )
    found = reduced("electric tape", {"readings": ["90.00"], "tape": "ET-021"}, context)
    assert ("calibration-overdue" in names(found.findings)) is due


def test_two_readings_by_the_same_calibrated_tape_share_its_calibration() -> None:
    context = ReadingContext(calibrations=calibrated("ET-021", [("0", "0"), ("300", "300.05")], "between marks"))
    keys = [
        {
            part.key
            for part in reduced("electric tape", {"readings": [depth], "tape": "ET-021"}, context).parts
            if part.key
        }
        for depth in ("90.00", "91.00")
    ]
    assert keys[0] == keys[1] == {"calibration ET-021 2026-01-10"}


def test_a_tape_nobody_named_is_not_taken_for_the_same_tape_twice() -> None:
    found = reduced("electric tape", {"readings": ["90.00"]})
    part = next(part for part in found.parts if part.what == "tape without certificate")
    assert part.key == ""
    named = reduced("electric tape", {"readings": ["90.00"], "tape": "ET-021"}, ReadingContext(gear=gear("ET-021")))
    assert "tape ET-021" in {part.key for part in named.parts}


def test_electric_limits_of_both_editions() -> None:
    assert electric_limit_m(100.0) == pytest.approx(0.02 * FOOT_M)
    assert electric_limit_m(499 * FOOT_M, "2006") == pytest.approx(0.01 * FOOT_M)
    assert electric_limit_m(501 * FOOT_M, "2006") == pytest.approx(0.501 * FOOT_M)
