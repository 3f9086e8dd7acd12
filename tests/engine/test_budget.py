from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values, ufloat

from tapedown.engine.uncertainty.budget import (
    amount,
    combine,
    difference,
    half_width,
    last_digit,
    parts_of,
    scaled,
    total,
)
from tapedown.values.results import Part, Step

SIZES = st.floats(-0.5, 0.5).filter(lambda u: abs(u) > 1e-6)
KEYED = st.lists(
    st.tuples(st.sampled_from(["", "", "tape ST-014", "point MP-1", "gauge G-3"]), SIZES), min_size=1, max_size=8
)


def package_u(drawn: Sequence[tuple[str, float]]) -> float:
    """The same sum by the `uncertainties` package: one variable a key, one for every part without a key."""
    shared = {key: ufloat(0.0, 1.0) for key, _ in drawn if key}
    terms = [u * (shared[key] if key else ufloat(0.0, 1.0)) for key, u in drawn]
    return float(sum(terms[1:], terms[0]).std_dev)


@given(KEYED)
def test_a_sum_agrees_with_the_uncertainties_package_shared_instruments_included(
    drawn: list[tuple[str, float]],
) -> None:
    u, _ = combine([Part(key, "part", size) for key, size in drawn])
    assert u == pytest.approx(package_u(drawn), rel=1e-9, abs=1e-12)


@given(KEYED)
def test_a_reading_less_itself_keeps_only_what_is_not_shared(drawn: list[tuple[str, float]]) -> None:
    parts = [Part(key, "part", size) for key, size in drawn]
    u, _ = difference(parts, parts)
    own = math.sqrt(2 * sum(size**2 for key, size in drawn if not key))
    assert u == pytest.approx(own, rel=1e-9, abs=1e-12)


def test_what_is_shared_counts_twice_when_it_enters_twice_the_same_way() -> None:
    u, _ = combine([Part("tape", "above", 0.003), Part("tape", "below", 0.003)])
    assert u == pytest.approx(0.006)
    alone, _ = combine([Part("", "above", 0.003), Part("", "below", 0.003)])
    assert alone == pytest.approx(0.003 * math.sqrt(2))


def test_a_shared_quantity_behaves_as_full_correlation_does_in_the_package() -> None:
    a, b = correlated_values([0.0, 0.0], [[0.04, 0.06], [0.06, 0.09]])
    u, _ = combine([Part("gauge", "then", 0.2), Part("gauge", "now", -0.3)])
    assert u == pytest.approx((a - b).std_dev)


@given(st.lists(st.tuples(SIZES, st.floats(1.0, 100.0)), min_size=1, max_size=6), st.floats(0.01, 100.0))
def test_scaling_a_sum_scales_its_uncertainty_and_keeps_its_degrees_of_freedom(
    drawn: list[tuple[float, float]], factor: float
) -> None:
    parts = [Part("", "part", u, dof) for u, dof in drawn]
    u, dof = combine(parts)
    scaled_u, scaled_dof = combine(scaled(parts, factor))
    assert scaled_u == pytest.approx(factor * u)
    assert scaled_dof == pytest.approx(dof)


@given(st.lists(st.tuples(SIZES, st.floats(1.0, 100.0)), min_size=1, max_size=6))
def test_degrees_of_freedom_lie_between_the_smallest_and_their_sum(drawn: list[tuple[float, float]]) -> None:
    """Welch-Satterthwaite bounds, GUM G.4.1."""
    _, dof = combine([Part("", "part", u, dof) for u, dof in drawn])
    freedoms = [dof for _, dof in drawn]
    assert min(freedoms) * (1 - 1e-9) <= dof <= sum(freedoms) * (1 + 1e-9)


@given(KEYED, st.randoms(use_true_random=False))
def test_the_order_of_the_parts_does_not_matter(drawn: list[tuple[str, float]], shuffler: object) -> None:
    mixed = sorted(drawn, key=lambda _: shuffler.random())  # type: ignore[attr-defined]
    u, dof = combine([Part(key, "part", size, 9) for key, size in drawn])
    mixed_u, mixed_dof = combine([Part(key, "part", size, 9) for key, size in mixed])
    assert (mixed_u, mixed_dof) == pytest.approx((u, dof), rel=1e-9, abs=1e-12)


def test_a_column_of_readings_gets_what_each_would_get_alone() -> None:
    u = np.array([0.003, 0.01, 0.0])
    together = total("depth", np.array([10.0, 20.0, 30.0]), [Part("", "read", u), Part("tape", "tape", 0.002, 8)], 0.95)
    u_m, dof, expanded_m = (np.asarray(x) for x in (together.u_m, together.dof, together.expanded_m))
    for i in range(3):
        alone = total("depth", 0.0, [Part("", "read", float(u[i])), Part("tape", "tape", 0.002, 8)], 0.95)
        assert u_m[i] == pytest.approx(alone.u_m)
        assert dof[i] == pytest.approx(alone.dof)
        assert expanded_m[i] == pytest.approx(alone.expanded_m)


def test_nothing_uncertain_is_no_division_by_nothing() -> None:
    assert total("depth", 1.0, [Part("", "exact", 0.0)], 0.95).expanded_m == 0.0
    column = total("depth", np.array([1.0]), [Part("", "exact", np.array([0.0]))], 0.95)
    assert np.asarray(column.expanded_m) == [0.0]


def test_rectangular_parts_have_the_spread_of_a_rectangle() -> None:
    drawn = np.random.default_rng(14).uniform(-0.01, 0.01, 1_000_000)
    assert half_width("gauge", 0.01, "stated").u_m == pytest.approx(drawn.std(), rel=2e-3)
    assert last_digit(0.02).u_m == pytest.approx(drawn.std(), rel=2e-3)


def test_amount_and_parts_of_a_sum_keep_the_order_of_working() -> None:
    steps = [Step("tape", 84.30, (Part("", "a", 1.0),)), Step("weight", 1.20, (Part("", "b", 2.0), Part("", "c", 3.0)))]
    assert amount(steps) == pytest.approx(85.50)
    assert [part.what for part in parts_of(steps)] == ["a", "b", "c"]
