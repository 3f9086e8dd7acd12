from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.context import ReadingContext
from tapedown.engine.uncertainty.digits import own_step, percent, reporting_digits, rounded, spoken, spread, step_in
from tapedown.values.results import Digits, Result
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, construction, position, reduced

DEPTH_FT, U_FT = st.floats(0.0, 3000.0), st.floats(1e-4, 50.0)
UNIT_M = {"ft": FOOT_M, "m": 1.0}
STEPS = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 10.0]


@given(DEPTH_FT, U_FT, st.sampled_from([0.001, 0.01, 0.1, 1.0]), st.sampled_from(["ft", "m"]), st.booleans())
def test_a_value_is_never_reported_finer_than_it_was_read(
    depth: float, u: float, read: float, unit: str, corrected: bool
) -> None:
    digits = reporting_digits(
        depth * FOOT_M, u * UNIT_M[unit], read * UNIT_M[unit], Settings(unit), corrected=corrected
    )
    assert digits.step >= read
    assert digits.unit == unit


@given(DEPTH_FT, U_FT, st.floats(1.0, 100.0), st.booleans())
def test_more_uncertainty_never_gives_finer_digits(depth: float, u: float, times: float, corrected: bool) -> None:
    less, more = (
        reporting_digits(depth * FOOT_M, size * FOOT_M, 0.003, Settings(), corrected=corrected)
        for size in (u, u * times)
    )
    assert more.step >= less.step
    assert 10 * less.step > u * (1 - 1e-6)


@given(DEPTH_FT, st.floats(0.0, 500.0), st.booleans(), st.sampled_from(["ft", "m"]))
def test_deeper_never_gives_finer_digits(depth: float, deeper: float, corrected: bool, unit: str) -> None:
    steps = [
        reporting_digits(d * FOOT_M, 0.001, 0.001, Settings(unit), corrected=corrected).step
        for d in (depth, depth + deeper)
    ]
    assert steps[0] <= steps[1]


@pytest.mark.parametrize(
    ("depth_ft", "feet", "metres"), [(150, 0.01, 0.001), (300, 0.1, 0.01), (800, 0.2, 0.02), (1500, 0.5, 0.05)]
)
def test_the_rule_by_depth_in_feet_and_in_metres(depth_ft: float, feet: float, metres: float) -> None:
    assert reporting_digits(depth_ft * FOOT_M, 1e-4, 1e-4, Settings("ft"), corrected=False).step == feet
    assert reporting_digits(depth_ft * FOOT_M, 1e-4, 1e-4, Settings("m"), corrected=False).step == metres


def test_a_corrected_tape_earns_its_digits_back() -> None:
    given = (300 * FOOT_M, 0.01 * FOOT_M, 0.01 * FOOT_M, Settings())
    assert reporting_digits(*given, corrected=False).step == 0.1
    assert reporting_digits(*given, corrected=True).step == 0.01


@pytest.mark.parametrize(
    ("u_ft", "read_ft", "reason"),
    [(2.0, 0.01, "expanded uncertainty"), (0.005, 0.1, "digit that was read"), (0.005, 0.001, "rule by depth")],
)
def test_the_reason_names_what_decided(u_ft: float, read_ft: float, reason: str) -> None:
    digits = reporting_digits(100 * FOOT_M, u_ft * FOOT_M, read_ft * FOOT_M, Settings(), corrected=False)
    assert reason in digits.reason


def test_a_rule_of_ours_says_that_it_is_ours_and_a_changed_one_says_so() -> None:
    assert "ours" in reporting_digits(10.0, 1e-4, 1e-4, Settings(), corrected=False).reason
    changed = Settings("ft", {"digits_uncorrected": "0.1"})
    assert "set here" in reporting_digits(10.0, 1e-4, 1e-4, changed, corrected=False).reason


def test_an_elevation_is_not_judged_as_if_it_were_a_depth() -> None:
    given = {"readings": ["2512.34"], "reference": "elevation", "what": "water level", "u": "0.005"}
    assert reduced("reported", given).digits.step == 0.01


@given(st.integers(-10_000_000, 10_000_000), st.sampled_from(STEPS))
def test_rounding_is_to_the_nearest_multiple_with_ties_to_even(thousandths: int, step: float) -> None:
    number = thousandths / 1000
    size = Decimal(str(step))
    expected = (Decimal(thousandths) / 1000 / size).quantize(Decimal(1), rounding=ROUND_HALF_EVEN) * size
    text = rounded(number, step)
    assert Decimal(text) == expected
    assert not text.startswith("-0.00") or Decimal(text) != 0


@given(st.floats(-5000, 5000), st.sampled_from(STEPS))
def test_a_rounded_number_shows_exactly_the_digits_of_its_step_and_stays_put(number: float, step: float) -> None:
    text = rounded(number, step)
    assert len(text.partition(".")[2]) == max(0, -Decimal(str(step)).normalize().as_tuple().exponent)  # type: ignore[operator]
    assert abs(float(text) - number) <= step / 2 * (1 + 1e-6)
    assert rounded(float(text), step) == text


def test_zero_has_no_sign() -> None:
    assert rounded(-0.001, 0.01) == "0.00"
    assert rounded(-0.3, 1.0) == "0"
    assert rounded(-3.0, 10.0) == "0"


def test_depth_of_a_leaning_hole_and_land_surface_leave_the_step_to_the_coarsest_reason() -> None:
    context = ReadingContext(Settings("m"), construction=construction("m", lean="10", u_lean="1"),
                  position=position("m", land_surface="30.00"))  # fmt: skip
    found = reduced("electric tape", {"readings": ["80.00", "80.00"]}, context, "m")
    assert found.main is not None
    assert found.digits.step == 0.1
    assert found.main.expanded_m > 0.1


@pytest.mark.parametrize(
    ("length_m", "unit", "step", "text"),
    [(0.0061, "m", 0.0, "0.006 m"), (0.5, "m", 0.0, "0.5 m"), (0.99949, "m", 0.0, "0.999 m"), (1.0, "m", 0.0, "1.00 m"),
     (-1.0, "m", 0.0, "-1.00 m"), (-0.25, "m", 0.0, "-0.25 m"), (25.004, "m", 0.0, "25.00 m"),
     (25.006, "m", 0.0, "25.01 m"), (25.26, "m", 0.1, "25.3 m"), (0.26, "m", 0.1, "0.3 m"),
     (25.0, "ft", 0.0, "82.02 ft"), (0.0, "ft", 0.0, "0 ft"), (0.1, "ft", 0.01, "0.33 ft")],
)  # fmt: skip
def test_a_length_is_spoken_in_hundredths_and_a_small_one_in_thousandths(
    length_m: float, unit: str, step: float, text: str
) -> None:
    assert spoken(length_m, Settings(unit), step) == text


@pytest.mark.parametrize(
    ("length_m", "unit", "step", "text"),
    [(0.0131, "m", 0.0, "0.014"), (0.0130, "m", 0.0, "0.013"), (0.131, "m", 0.0, "0.14"), (1.31, "m", 0.0, "1.4"),
     (13.1, "m", 0.0, "14"), (131.0, "m", 0.0, "140"), (0.0131, "m", 0.01, "0.014"), (0.0131, "m", 1.0, "0.1"),
     (0.0131, "m", 0.001, "0.014"), (1.31, "m", 0.01, "1.4"), (0.001, "ft", 0.0, "0.0033"), (0.0, "m", 0.01, "0"),
     (-0.1, "m", 0.01, "0"), (0.0131, "m", 0.5, "0.02")],
)  # fmt: skip
def test_an_uncertainty_is_shown_by_two_digits_rounded_up_and_no_finer_than_a_tenth_of_the_step(
    length_m: float, unit: str, step: float, text: str
) -> None:
    assert spread(length_m, unit, step) == text


@given(st.floats(1e-7, 1e4))
def test_an_uncertainty_is_never_shown_smaller_than_it_is_nor_by_more_than_a_tenth_larger(size: float) -> None:
    shown = float(spread(size, "m"))
    assert size * (1 - 1e-8) <= shown <= size * 1.1 * (1 + 1e-8)


@pytest.mark.parametrize(
    ("step", "unit", "other", "found"),
    [(0.01, "ft", "m", 0.001), (0.5, "ft", "m", 0.1), (1.0, "ft", "m", 0.1), (0.01, "m", "ft", 0.01),
     (0.05, "m", "ft", 0.1), (0.5, "m", "m", 0.5), (0.01, "ft", "ft", 0.01), (1.0, "m", "cm", 100.0)],
)  # fmt: skip
def test_a_step_in_another_unit_is_the_power_of_ten_that_loses_no_digit(
    step: float, unit: str, other: str, found: float
) -> None:
    assert step_in(step, unit, other) == found


@pytest.mark.parametrize(
    ("share", "text"), [(0.0649, "6%"), (0.065, "6%"), (0.0651, "7%"), (1.0, "100%"), (-0.02, "-2%")]
)
def test_a_share_is_told_to_the_nearest_per_cent(share: float, text: str) -> None:
    assert percent(share) == text


@pytest.mark.parametrize(
    ("depth_ft", "uncorrected", "corrected"),
    [(200.0, 0.01, 0.01), (200.1, 0.1, 0.01), (500.0, 0.1, 0.01), (500.1, 0.2, 0.1), (1000.0, 0.2, 0.1),
     (1000.1, 0.5, 0.1), (-200.1, 0.1, 0.01)],
)  # fmt: skip
def test_the_rule_by_depth_changes_just_beyond_its_limits(
    depth_ft: float, uncorrected: float, corrected: float
) -> None:
    for was_corrected, step in ((False, uncorrected), (True, corrected), (None, 0.001)):
        found = reporting_digits(
            depth_ft * FOOT_M, 0.0011 * FOOT_M, 0.001 * FOOT_M, Settings(), corrected=was_corrected
        )
        assert found.step == step
        assert found.reason.startswith(f"to {step:g} ft: the ")
        assert found.reason.endswith(" allows no finer")


@given(st.floats(1e-6, 1e3), st.sampled_from([0.001, 0.01, 0.1, 0.2, 0.5, 1.0]), st.sampled_from(["ft", "m"]))
def test_a_result_of_its_own_is_shown_no_finer_than_its_own_uncertainty(u: float, step: float, unit: str) -> None:
    """The first significant digit of the uncertainty is the last one worth writing (after GUM 7.2.6)."""
    result = Result("elevation", 30.0, u * UNIT_M[unit] / 2, 1e9, 2.0, u * UNIT_M[unit])
    first = float(Decimal(1).scaleb(Decimal(f"{u * (1 + 2.3e-9):.12e}").adjusted()))
    assert own_step(result, Digits(step, unit, "")) == pytest.approx(max(step, first))
