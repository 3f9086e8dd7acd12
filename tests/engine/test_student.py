from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tapedown.engine.uncertainty.student import EXACT_TO, coverage_factor


def scipys(level: float, dof: float) -> float:
    return float(stats.t.ppf((1 + level) / 2, dof))


@pytest.mark.parametrize("level", [0.5, 0.6827, 0.9, 0.95, 0.9545, 0.99, 0.9973])
def test_whole_degrees_of_freedom_agree_with_scipy_to_ten_digits(level: float) -> None:
    for dof in range(1, EXACT_TO + 1):
        assert coverage_factor(float(dof), level) == pytest.approx(scipys(level, dof), rel=1e-10)


@given(st.floats(EXACT_TO + 1, 1e9), st.floats(0.5, 0.9973))
def test_beyond_the_exact_sum_the_expansion_agrees_with_scipy(dof: float, level: float) -> None:
    assert coverage_factor(dof, level) == pytest.approx(scipys(level, dof), rel=1e-8)


@given(st.floats(1.0, 400.0), st.floats(0.5, 0.9973))
def test_fewer_degrees_of_freedom_never_narrow_the_interval(dof: float, level: float) -> None:
    assert coverage_factor(dof, level) >= coverage_factor(dof * 1.5, level) - 1e-9


def test_a_fraction_is_cut_down_to_a_whole_number_as_the_gum_advises() -> None:
    assert coverage_factor(16.9, 0.99) == coverage_factor(16.0, 0.99)
    assert coverage_factor(0.3, 0.95) == coverage_factor(1.0, 0.95)


@given(st.lists(st.floats(0.0, 1e9), min_size=1, max_size=20), st.floats(0.5, 0.9973))
def test_an_array_gets_the_same_factors_as_its_numbers_one_by_one(dofs: list[float], level: float) -> None:
    together = coverage_factor(np.array(dofs), level)
    assert together == pytest.approx([coverage_factor(dof, level) for dof in dofs], rel=1e-12)


def test_an_unknown_number_in_an_array_stays_unknown_and_harms_no_other() -> None:
    found = np.asarray(coverage_factor(np.array([np.nan, 16.0, np.inf]), 0.99))
    assert np.isnan(found[0])
    assert found[1:] == pytest.approx([2.9208, 2.5758], abs=1e-4)


@pytest.mark.parametrize("level", [0.0, 1.0, 95.0, -0.1])
def test_a_level_that_is_no_probability_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        coverage_factor(10.0, level)
