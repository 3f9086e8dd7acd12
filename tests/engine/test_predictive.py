"""The predictive distribution is Student's t, as scipy has it."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.uncertainty.predictive import Predictive


def finite(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


@example(z=3.577562032661018e-07, scale_m=1.0, dof=128.0)
@given(
    z=finite(-40, 40),
    scale_m=finite(1e-3, 30),
    dof=finite(0.8, 400),
)
@example(z=6e-8, scale_m=1.0, dof=32.0)
def test_density_and_tails_are_student_t(z: float, scale_m: float, dof: float) -> None:
    found, depth_m = Predictive(12.0, scale_m, dof), 12.0 + z * scale_m
    assert found.log_density(depth_m) == pytest.approx(stats.t.logpdf(depth_m, dof, 12.0, scale_m), rel=1e-9, abs=1e-9)
    assert found.beyond(depth_m) == pytest.approx(2 * stats.t.sf(abs(z), dof), rel=1e-8, abs=1e-12)


@given(level=finite(0.05, 0.999), dof=finite(0.8, 400))
def test_an_interval_holds_what_it_says(level: float, dof: float) -> None:
    found = Predictive(3.0, 0.2, dof)
    assert found.half_width_m(level) == pytest.approx(0.2 * stats.t.ppf(0.5 + level / 2, dof), rel=1e-7)


def test_a_level_of_certainty_is_refused() -> None:
    with pytest.raises(ValueError, match="must lie between 0 and 1"):
        Predictive(3.0, 0.2, 5.0).half_width_m(1.0)
