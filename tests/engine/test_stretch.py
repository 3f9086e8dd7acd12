from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tapedown.engine.physics.stretch import (
    HangingLoad,
    composite,
    elastic_m,
    hanging_load,
    mean_temp_c,
    sag_m,
    thermal_m,
)

MASS = st.floats(0.0, 5.0)
LOADS = st.builds(hanging_load, MASS, st.floats(0.0, 0.1))


def tension_n(x: float, load: HangingLoad, wet_m: float) -> float:
    """Tension at x above the tape's lower end: what hangs below it, in air or in water."""
    end = load.end_wet_n if wet_m > 0 else load.end_n
    wet = min(x, wet_m)
    return end + load.tape_wet_n_m * wet + load.tape_n_m * (x - wet)


@given(st.floats(1.0, 400.0), LOADS, st.floats(0.0, 100.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_stretch_is_the_integral_of_tension_less_the_certificates_pull(
    to_m: float, load: HangingLoad, pull_n: float, from_share: float, wet_share: float
) -> None:
    from_m, wet_m, stiffness = from_share * to_m, wet_share * to_m, 8e5
    kink = [wet_m] if from_m < wet_m < to_m else None
    expected, _ = quad(lambda x: (tension_n(x, load, wet_m) - pull_n) / stiffness, from_m, to_m, points=kink)
    found = elastic_m(to_m, load, pull_n, stiffness, from_m=from_m, wet_m=wet_m)
    assert found == pytest.approx(expected, rel=1e-7, abs=1e-9)


@given(st.floats(1.0, 400.0), st.floats(0.1, 0.9), LOADS, st.floats(0.0, 100.0))
def test_two_stretches_of_tape_add_up_to_the_whole(to_m: float, at: float, load: HangingLoad, pull_n: float) -> None:
    wet_m = 0.3 * to_m
    lower = elastic_m(at * to_m, load, pull_n, 8e5, wet_m=wet_m)
    upper = elastic_m(to_m, load, pull_n, 8e5, from_m=at * to_m, wet_m=wet_m)
    assert lower + upper == pytest.approx(elastic_m(to_m, load, pull_n, 8e5, wet_m=wet_m), abs=1e-12)


def test_water_carries_an_eighth_of_steel() -> None:
    load = hanging_load(2.0, 0.03)
    assert load.end_wet_n / load.end_n == pytest.approx(0.873, abs=1e-3)
    brass = hanging_load(2.0, 0.03, end_density_kg_m3=8500.0)
    assert brass.end_wet_n / brass.end_n == pytest.approx(0.882, abs=1e-3)
    assert load.tape_wet_n_m / load.tape_n_m == pytest.approx(0.873, abs=1e-3)


def test_a_composite_of_one_material_is_that_material() -> None:
    stiffness, expansion = composite([(4e-6, 200e9, 1.16e-5)])
    assert (stiffness, expansion) == pytest.approx((8e5, 1.16e-5))


def test_in_a_composite_the_stiff_material_decides_the_expansion() -> None:
    stiffness, expansion = composite([(1e-6, 200e9, 1.2e-5), (1e-5, 0.8e9, 1.5e-4)])
    assert stiffness == pytest.approx(208e3)
    assert expansion == pytest.approx((200e3 * 1.2e-5 + 8e3 * 1.5e-4) / 208e3)
    with pytest.raises(ValueError, match="positive"):
        composite([])


def test_columns_of_tapes_get_what_each_would_get_alone() -> None:
    to, end, wet = np.array([30.0, 150.0, 300.0]), np.array([0.0, 1.0, 2.0]), np.array([0.0, 40.0, 300.0])
    load = hanging_load(end, 0.03)
    together = np.asarray(elastic_m(to, load, 44.5, 8e5, from_m=1.0, wet_m=wet))
    for i in range(3):
        alone = hanging_load(float(end[i]), 0.03)
        expected = elastic_m(float(to[i]), alone, 44.5, 8e5, from_m=1.0, wet_m=float(wet[i]))
        assert together[i] == pytest.approx(expected, rel=1e-12)
    assert thermal_m(to, 1.16e-5, 12.0, 20.0) == pytest.approx([thermal_m(float(x), 1.16e-5, 12.0, 20.0) for x in to])
    assert sag_m(to, 0.3, 44.5) == pytest.approx([sag_m(float(x), 0.3, 44.5) for x in to])
    assert mean_temp_c(12.0, 0.02, to) == pytest.approx([mean_temp_c(12.0, 0.02, float(x)) for x in to])


def test_what_hangs_weighs_by_its_mass_and_is_lifted_by_the_water_it_displaces() -> None:
    """Archimedes: 2 kg of steel (7850 kg/m3) displace 0.2548 litres; a metre of the tape weighs 0.03 kg."""
    assert hanging_load(2.0, 0.03) == pytest.approx(
        (2 * 9.80665, (2 - 2 / 7.850) * 9.80665, 0.03 * 9.80665, (0.03 - 0.03 / 7.850) * 9.80665)
    )
    lead, plastic, brine, moon = 11340.0, 900.0, 1100.0, 1.62
    found = hanging_load(2.0, 0.03, end_density_kg_m3=lead, tape_density_kg_m3=plastic, water_density_kg_m3=brine,
                         gravity_m_s2=moon)  # fmt: skip
    wet_tape = (0.03 - 0.03 / plastic * brine) * moon
    assert found == pytest.approx((2 * moon, (2 - 2 / lead * brine) * moon, 0.03 * moon, wet_tape))
    assert found.tape_wet_n_m < 0


def test_a_tape_held_at_its_ends_sags_as_a_parabola_does() -> None:
    """Length of the parabola w x (L - x) / (2 P) less its chord, by numeric integration, where the sag is small."""
    span, weight, pull = 30.0, 0.2, 50.0
    length, _ = quad(lambda x: (1 + (weight * (span - 2 * x) / (2 * pull)) ** 2) ** 0.5, 0.0, span)
    assert sag_m(span, weight, pull) == pytest.approx(length - span, rel=2e-3)


def test_the_mean_of_a_temperature_that_falls_evenly_is_that_of_the_middle() -> None:
    assert mean_temp_c(12.0, 0.02, 100.0) == pytest.approx(float(np.linspace(12.0, 14.0, 11).mean()))
    assert thermal_m(100.0, 1.2e-5, 30.0, 20.0) == pytest.approx(0.012)
