from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from tapedown.values.units import FOOT_M, POUND_FORCE_N, POUND_KG, PSI_KPA, UNITS, from_si, known_unit, to_si

EVERY_UNIT = [(quantity, unit) for quantity, units in UNITS.items() for unit in units]

SCIPYS = {
    ("length", "ft"): constants.foot,
    ("length", "in"): constants.inch,
    ("length", "US survey ft"): constants.survey_foot,
    ("pressure", "psi"): constants.psi / 1000,
    ("pressure", "bar"): constants.bar / 1000,
    ("mass", "lb"): constants.pound,
    ("force", "lbf"): constants.pound_force,
    ("force", "kgf"): constants.kilogram_force,
    ("area", "in2"): constants.inch**2,
    ("density", "lb/ft3"): constants.pound / constants.foot**3,
    ("mass per length", "lb/100 ft"): constants.pound / constants.foot / 100,
    ("modulus", "psi"): constants.psi,
    ("duration", "yr"): constants.Julian_year / constants.hour,
    ("temperature difference", "degF"): constants.degree_Fahrenheit,
    ("expansion", "/degF"): 1 / constants.degree_Fahrenheit,
    ("temperature gradient", "degF/ft"): constants.degree_Fahrenheit / constants.foot,
    ("pressure", "m of water"): 1000 * constants.g / 1000,
}


@pytest.mark.parametrize(("named", "factor"), SCIPYS.items(), ids=[f"{unit}" for _, unit in SCIPYS])
def test_factors_are_those_of_scipy(named: tuple[str, str], factor: float) -> None:
    quantity, unit = named
    assert to_si(1.0, unit, quantity) == pytest.approx(factor, rel=1e-10)


def test_the_conventional_inch_of_mercury_is_rounded_to_seven_digits() -> None:
    assert to_si(1.0, "inHg", "pressure") == pytest.approx(25.4 * constants.mmHg / 1000, rel=3e-7)


def test_degrees_fahrenheit_have_their_offset() -> None:
    assert to_si(32.0, "degF", "temperature") == pytest.approx(0.0, abs=1e-12)
    assert to_si(212.0, "degF", "temperature") == pytest.approx(100.0)
    assert to_si(-40.0, "degF", "temperature") == pytest.approx(-40.0)
    assert to_si(18.0, "degF", "temperature difference") == pytest.approx(10.0)


@given(st.sampled_from(EVERY_UNIT), st.floats(-1e4, 1e4))
def test_every_unit_goes_to_si_and_back(named: tuple[str, str], number: float) -> None:
    quantity, unit = named
    assert from_si(to_si(number, unit, quantity), unit, quantity) == pytest.approx(number, rel=1e-12, abs=1e-9)


@given(st.sampled_from(EVERY_UNIT), st.floats(-1e4, 1e4), st.floats(0.0, 1e3))
def test_no_unit_turns_more_into_less(named: tuple[str, str], number: float, more: float) -> None:
    quantity, unit = named
    assert to_si(number + more, unit, quantity) >= to_si(number, unit, quantity)


def test_named_factors_are_exact() -> None:
    assert FOOT_M == 0.3048
    assert POUND_KG == 0.45359237
    assert pytest.approx(4.4482216152605, rel=1e-14) == POUND_FORCE_N
    assert pytest.approx(POUND_FORCE_N / 0.0254**2 / 1000, rel=1e-12) == PSI_KPA


@pytest.mark.parametrize(
    ("spelled", "quantity", "ours"),
    [("feet", "length", "ft"), ("metres", "length", "m"), ("°F", "temperature", "degF"), (" in ", "length", "in"),
     ("millibar", "pressure", "mbar"), ("days", "duration", "d")],
)  # fmt: skip
def test_units_may_be_spelled_as_people_spell_them(spelled: str, quantity: str, ours: str) -> None:
    assert known_unit(spelled, quantity) == ours


@pytest.mark.parametrize(
    ("unit", "quantity"), [("fathom", "length"), ("ft", "pressure"), ("psi", "length"), ("", "mass")]
)
def test_a_unit_of_another_quantity_is_refused_with_the_choices(unit: str, quantity: str) -> None:
    with pytest.raises(ValueError, match="use one of") as refused:
        known_unit(unit, quantity)
    assert all(choice in str(refused.value) for choice in UNITS[quantity])
