from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.values.units import UNITS
from tapedown.values.written import Written, in_unit, written

NUMERALS = st.from_regex(r"[+-]?[0-9]{1,5}(\.[0-9]{1,4})?", fullmatch=True)
LENGTH_UNITS = st.sampled_from(sorted(UNITS["length"]))


@given(NUMERALS, LENGTH_UNITS)
def test_digits_and_unit_come_back_as_they_were_written(text: str, unit: str) -> None:
    found = written(f"{text} {unit}", "m")
    assert (found.text, found.unit) == (text, unit)
    assert written(str(found), "m") == found


@given(NUMERALS, LENGTH_UNITS)
def test_trailing_zeros_are_part_of_the_fact(text: str, unit: str) -> None:
    text = text if "." in text else f"{text}."
    finer = written(f"{text}0", unit)
    coarser = written(text, unit)
    assert finer != coarser
    assert finer.si == pytest.approx(coarser.si)
    assert finer.decimals == coarser.decimals + 1
    assert finer.resolution_si == pytest.approx(coarser.resolution_si / 10)


@given(NUMERALS)
def test_a_decimal_comma_and_a_true_minus_are_read(text: str) -> None:
    if re.fullmatch(r"[+-]?[1-9]\d*\.\d{3}", text):  # 1,234 may be a thousand: the person must say
        with pytest.raises(ValueError, match="thousand or a decimal comma"):
            written(text.replace(".", ","), "ft")
    else:
        assert written(text.replace(".", ","), "ft") == written(text, "ft")
    assert written(text.replace("-", "−"), "ft") == written(text, "ft")


@given(NUMERALS, LENGTH_UNITS)
def test_the_unit_may_stand_close_or_be_left_to_the_network(text: str, unit: str) -> None:
    assert written(f"{text}{unit}", "m") == written(text, unit) == written(f"  {text}   {unit} ", "m")


@pytest.mark.parametrize(
    "nonsense",
    ["", "abc", "nan", "inf", "1e5", "1,234.5", "84.3.0", "--3", "84 30", "0x10", "ft", ".", "-", None, True, [84.3]],
)
def test_what_is_no_number_at_a_well_is_refused_with_how_to_write_it(nonsense: object) -> None:
    with pytest.raises(ValueError, match=r"write it like|is not a unit|thousand"):
        written(nonsense, "ft")


def test_numbers_from_a_file_that_lost_their_text_are_still_read() -> None:
    assert written(84, "ft") == Written("84", "ft")
    assert written(84.3, "ft") == Written("84.3", "ft")


def test_a_number_may_start_with_its_point() -> None:
    assert written(".85", "ft") == Written("0.85", "ft")
    assert written("-,85 m", "ft") == Written("-0.85", "m")


def test_the_last_digit_is_worth_what_its_unit_is_worth() -> None:
    assert written("84.30", "ft").resolution_si == pytest.approx(0.003048)
    assert written("84", "in").resolution_si == pytest.approx(0.0254)
    assert written("28", "psi", "pressure").resolution_si == pytest.approx(6.894757)
    assert written("50.0", "degF", "temperature").resolution_si == pytest.approx(0.1 * 5 / 9)


@given(st.floats(-1e5, 1e5))
def test_lengths_go_to_the_networks_unit_and_back(length_m: float) -> None:
    assert in_unit(length_m, "ft") * 0.3048 == pytest.approx(length_m, abs=1e-9)
    assert in_unit(length_m, "m") == length_m
    assert math.isfinite(in_unit(length_m, "ft"))
