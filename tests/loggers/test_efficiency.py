"""Barometric efficiency and tide lines against constructed truth and general-purpose libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants, stats

from tapedown.loggers.efficiency import clark, deconvolution, regression
from tapedown.loggers.epoch import Array
from tapedown.loggers.tides import CYCLES_PER_DAY, tide_lines
from tapedown.values.units import to_si


def air(n: int = 240, seed: int = 1) -> Array:
    return np.cumsum(np.random.default_rng(seed).normal(0, 0.01, n))


def test_every_way_finds_the_efficiency_of_a_level_that_answers_at_once() -> None:
    """Constructed: the level falls by 0.6 of a rise of the air pressure."""
    level = 3 - 0.6 * air()
    for way in (clark, regression, lambda w, b: deconvolution(w, b, 3)):
        assert way(level, air()).efficiency == pytest.approx(0.6, abs=1e-9)


def test_clark_stays_near_the_truth_under_a_trend_and_regression_on_it() -> None:
    """Constructed; with 0.15 of a standard deviation a step of trend, Clark's sums read 0.612 for 0.6."""
    trend = 0.0015 * np.arange(240)
    assert clark(3 - 0.6 * air() + trend, air()).efficiency == pytest.approx(0.6, abs=0.05)
    assert regression(3 - 0.6 * air() + trend, air()).efficiency == pytest.approx(0.6, abs=1e-9)


def test_the_regression_is_that_of_a_general_purpose_library() -> None:
    level = 3 - 0.6 * air() + np.random.default_rng(2).normal(0, 0.002, 240)
    found, theirs = regression(level, air()), stats.linregress(np.diff(air()), np.diff(level))
    assert found.efficiency == pytest.approx(-theirs.slope, rel=1e-9)
    assert found.u == pytest.approx(theirs.stderr, rel=1e-9)


def test_a_level_that_answers_late_gives_its_response_step_by_step() -> None:
    """Constructed response: 0.3, 0.2, 0.1, 0.05 of a change of pressure, 0 to 3 steps after it."""
    pressure = air(400)
    change = np.convolve(np.diff(pressure), [0.3, 0.2, 0.1, 0.05])[: len(pressure) - 1]
    level = np.concatenate([[0.0], -np.cumsum(change)])
    found = deconvolution(level, pressure, 6)
    assert found.response == pytest.approx([0.3, 0.5, 0.6, 0.65, 0.65, 0.65, 0.65], abs=1e-9)
    assert found.efficiency == pytest.approx(0.65)
    assert "6 lags" in found.method


def test_holes_in_the_level_are_left_out() -> None:
    level = 3 - 0.6 * air()
    level[50:60] = np.nan
    for way in (clark, regression, lambda w, b: deconvolution(w, b, 3)):
        assert way(level, air()).efficiency == pytest.approx(0.6, abs=1e-9)


def test_air_that_does_not_move_tells_nothing() -> None:
    with pytest.raises(ValueError, match="does not change"):
        clark(np.arange(5.0), np.ones(5))


def test_units_of_air_pressure_as_heads_of_water_are_the_handbook_ones() -> None:
    """1 mbar = 1.0197 cm, 1 inHg = 1.133 ft of water at 1000 kg/m3 (definitions, from memory)."""
    g = constants.g
    assert to_si(1, "mbar", "pressure") / g * 100 == pytest.approx(1.0197, abs=1e-4)
    assert to_si(1, "inHg", "pressure") / g / 0.3048 == pytest.approx(1.133, abs=1e-3)


@pytest.mark.parametrize(
    ("name", "turns"),
    [
        ("M2", (2, 0, 0)),
        ("S2", (2, 2, -2)),
        ("N2", (2, -1, 0, 1)),
        ("O1", (1, -1, 0)),
        ("K1", (1, 1, 0)),
        ("P1", (1, 1, -2)),
    ],
)
def test_the_rates_of_the_tides_follow_from_those_of_moon_and_sun(name: str, turns: tuple[int, ...]) -> None:
    """Doodson numbers on the mean rates of tau, s, h, p in degrees an hour (from memory)."""
    rates = (14.4920521, 0.5490165, 0.0410686, 0.0046418)
    cycles = sum(turn * rate for turn, rate in zip(turns, rates)) * 24 / 360
    assert CYCLES_PER_DAY[name] == pytest.approx(cycles, abs=3e-7)


def test_tide_lines_are_found_under_noise_and_trend() -> None:
    rng = np.random.default_rng(5)
    at_s = np.arange(0, 120 * 86400, 3600.0)
    turn = 2 * np.pi * at_s / 86400
    level = 0.012 * np.cos(CYCLES_PER_DAY["M2"] * turn - 1.0) + 0.007 * np.cos(CYCLES_PER_DAY["O1"] * turn - 2.0)
    found = tide_lines(at_s, level + 1e-9 * at_s + rng.normal(0, 0.003, len(at_s)))
    for line, amplitude, phase in zip(found, (0.012, 0.007), (1.0, 2.0)):
        assert abs(line.amplitude_m - amplitude) < 3 * line.u_amplitude_m
        assert np.radians(line.phase_deg) == pytest.approx(phase, abs=0.1)
        assert line.u_amplitude_m < 0.0003


def test_a_record_too_short_to_tell_two_lines_apart_is_refused() -> None:
    at_s = np.arange(0, 5 * 86400, 3600.0)
    with pytest.raises(ValueError, match="apart"):
        tide_lines(at_s, np.zeros(len(at_s)), ("M2", "S2"))
