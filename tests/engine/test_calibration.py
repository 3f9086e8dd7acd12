from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.context import Calibrated, ReadingContext
from tapedown.engine.tape.calibration import between_marks_m, electric_limit_m, fit_line, is_overdue, true_length_m
from tapedown.values.days import day_number
from tapedown.values.results import Reduction
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, below_point_ft, calibrated, fact, gear, names, reduced

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


@pytest.mark.parametrize(
    ("when", "due"),
    # 365.25 days and a twentieth are 383.5
    [("2026-05-14", False), ("2027-06-01", False), ("2027-06-02", True)],
)
def test_a_calibration_holds_a_year_and_a_twentieth_of_one(when: str, due: bool) -> None:
    assert day_number("2027-06-01") - day_number("2026-05-14") == 383
    assert is_overdue("2026-05-14T10:00", when, Settings()) is due
    assert is_overdue("2026-05-14", "2026-07-01", Settings("ft", {"calibration_due": "30 d"}))


def test_what_is_overdue_beyond_its_marks_or_outside_its_limit_is_told_with_the_numbers() -> None:
    marks = [("50.00", "50.01"), ("100.00", "100.03"), ("150.00", "149.97"), ("200.00", "200.02")]
    told = {}
    for apply in ("between marks", "checked"):
        context = ReadingContext(
            when="2028-07-10", gear=gear("ET-021", type="electric tape"),
            calibrations=calibrated("ET-021", marks, apply, on="2026-01-10T09:00"),
        )  # fmt: skip
        found = reduced("electric tape", {"readings": ["210.00", "210.00"], "tape": "ET-021"}, context).findings
        told[apply] = [(one.check, one.message, one.about) for one in found if one.check.startswith("calibration")]
    overdue = ("calibration-overdue", "ET-021 was last checked on 2026-01-10, 2.5 years before", "gear/ET-021")
    beyond = "210.00 ft was read; ET-021 is calibrated to 200.00 ft: the last rate is carried on"
    assert told["between marks"] == [("calibration-out-of-range", beyond, "gear/ET-021"), overdue]
    outside = "ET-021 shows {} where the reference shows {}: more than 0.02 ft"
    assert told["checked"] == [
        ("calibration-outside-limit", outside.format("100.00 ft", "100.03 ft"), "gear/ET-021"),
        ("calibration-outside-limit", outside.format("150.00 ft", "149.97 ft"), "gear/ET-021"),
        overdue,
    ]


def test_a_line_is_read_between_two_marks_of_the_tape_and_carries_the_doubt_of_the_reference() -> None:
    """Hold 300, cut 40: the line at the hold less the line at the cut; at a cut of 0 the line itself, offset too."""
    marks = [("50.00", "50.03"), ("150.00", "150.05"), ("250.00", "250.10"), ("350.00", "350.10")]
    shown, true = (np.array([float(mark[i]) for mark in marks]) for i in (0, 1))
    peer = stats.linregress(shown, true)
    context = ReadingContext(calibrations=calibrated("ST-014", marks, "straight line"))

    def read(cut: str) -> Reduction:
        return reduced("chalked tape", {"readings": [{"hold": "300.00", "cut": cut}], "tape": "ST-014"}, context)

    assert below_point_ft(read("40.00")) == pytest.approx(260.0 * peer.slope)
    whole = read("0.00")
    assert below_point_ft(whole) == pytest.approx(300.0 * peer.slope + peer.intercept)
    part = next(part for part in whole.parts if part.what == "calibration of the tape")
    residual = np.sqrt(np.sum((true - peer.intercept - peer.slope * shown) ** 2) / 2)
    of_line = residual * math.sqrt(1 / 4 + (300.0 - 200.0) ** 2 / np.sum((shown - 200.0) ** 2))
    assert part.u_m / FOOT_M == pytest.approx(math.hypot(of_line, 0.002))
    assert part.dof == 2


def test_marks_that_state_no_doubt_have_that_of_the_setting_and_the_largest_counts() -> None:
    def u_ft(*stated: str) -> float:
        marks = [{"shown": f"{50 * i}.00", "true": f"{50 * i}.00", **({"u": u} if u else {})}
                 for i, u in enumerate(stated, 1)]  # fmt: skip
        told = {"serial": "ET-021", "against": "ST-001", "marks": marks, "apply": "between marks"}
        context = ReadingContext(calibrations={"ET-021": Calibrated("2026-01-10", fact("calibration", told))})
        found = reduced("electric tape", {"readings": ["90.00"], "tape": "ET-021"}, context)
        return float(next(part.u_m for part in found.parts if part.what == "calibration of the tape")) / FOOT_M

    assert u_ft("0.001 ft", "0.004 ft") == pytest.approx(0.004)
    assert u_ft("0.001 ft", "") == pytest.approx(0.003)


def test_a_tape_is_not_corrected_below_its_zero_and_not_before_its_first_mark_of_all() -> None:
    assert between_marks_m(-1.0, [(50.0, 0.01), (100.0, 0.03)]) == 0.0
    assert between_marks_m(25.0, [(50.0, 0.01), (100.0, 0.03)]) == pytest.approx(0.005)
    from_zero = [(0.0, 0.02), (100.0, 0.03)]
    assert [between_marks_m(at, from_zero) for at in (0.0, 50.0, 100.0, 200.0)] == pytest.approx(
        [0.02, 0.025, 0.03, 0.04]
    )
    assert between_marks_m(5.0, [(0.0, 0.02)]) == 0.02


@pytest.mark.parametrize(("depth_ft", "limit_ft"), [(0.0, 0.01), (499.9, 0.01), (500.0, 0.5), (650.0, 0.65)])
def test_the_older_limit_changes_at_five_hundred_feet(depth_ft: float, limit_ft: float) -> None:
    assert electric_limit_m(depth_ft * FOOT_M, "2006") == pytest.approx(limit_ft * FOOT_M)
    assert electric_limit_m(depth_ft * FOOT_M) == pytest.approx(0.02 * FOOT_M)


def test_a_cable_whose_mark_lies_short_shows_too_much_in_proportion() -> None:
    assert true_length_m(50.0, 100.0, 102.0) == pytest.approx(51.0)
