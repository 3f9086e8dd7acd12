"""Stretches of handling and of another unit, told by their steps; constructed minute by minute."""

from __future__ import annotations

import pytest

from tapedown.loggers.stretches import Jump, Stretch, atmosphere_findings, handled_stretches, unit_findings

AIR = (-0.2, 0.2)
LIFTED, LOWERED = Jump(600.0, 660.0, 5.0, 0.1), Jump(1200.0, 1260.0, 0.0, 5.0)


def test_a_step_and_the_step_back_bound_what_lies_between() -> None:
    assert handled_stretches([LIFTED, LOWERED], -9e9, 9e9, 3600.0) == [Stretch(660.0, 1200.0, "handling")]
    assert handled_stretches([LIFTED, LOWERED], -9e9, 9e9, 3600.0, AIR) == [Stretch(660.0, 1200.0, "in air")]
    assert handled_stretches([LIFTED, LOWERED], -9e9, 9e9, 540.0) == [Stretch(660.0, 1200.0, "handling")]
    assert handled_stretches([LIFTED, LOWERED], -9e9, 9e9, 539.0) == []


def test_two_steps_the_same_way_are_no_stretch() -> None:
    assert handled_stretches([LIFTED, LIFTED._replace(before_s=1200.0, after_s=1260.0)], -9e9, 9e9, 3600.0) == []


def test_rows_before_the_logger_was_lowered_are_a_stretch_from_the_first_of_them() -> None:
    """It is lowered 20 minutes after the first row."""
    assert handled_stretches([LOWERED], 0.0, 9e9, 1200.0) == [Stretch(0.0, 1200.0, "handling")]
    assert handled_stretches([LOWERED], 0.0, 9e9, 1200.0, AIR) == [Stretch(0.0, 1200.0, "in air")]
    assert handled_stretches([LOWERED], 0.0, 9e9, 1199.0) == []
    assert handled_stretches([LOWERED._replace(before=3.0)], 0.0, 9e9, 1200.0, AIR) == []


def test_rows_after_the_logger_was_lifted_are_a_stretch_to_the_last_of_them() -> None:
    assert handled_stretches([LIFTED], -9e9, 1260.0, 600.0) == [Stretch(660.0, 1260.0, "handling")]
    assert handled_stretches([LIFTED], -9e9, 1260.0, 600.0, AIR) == [Stretch(660.0, 1260.0, "in air")]
    assert handled_stretches([LIFTED], -9e9, 1260.0, 599.0) == []
    assert handled_stretches([LIFTED._replace(after=3.0)], -9e9, 1260.0, 600.0, AIR) == []


@pytest.mark.parametrize(
    ("before", "after", "quantity", "told"),
    [
        (20.0, 20.0 * 6.8948, "pressure", "from psi to kPa"),
        (137.9, 20.0, "pressure", "from kPa to psi"),
        (29.9, 29.9 * 3.3864, "pressure", "from inHg to kPa"),
        (101.3, 101.3 / 3.3864, "pressure", "from kPa to inHg"),
    ],
)
def test_a_step_by_the_ratio_of_two_units_names_which_was_and_which_came(
    before: float, after: float, quantity: str, told: str
) -> None:
    (found,) = unit_findings([Jump(0.0, 900.0, before, after)], quantity)
    assert told in found.message


@pytest.mark.parametrize(("before", "after"), [(-3.0, -9.84), (0.0, 5.0), (5.0, 0.0), (10.0, 14.0)])
def test_a_step_by_no_such_ratio_or_through_nought_is_no_change_of_unit(before: float, after: float) -> None:
    assert unit_findings([Jump(0.0, 900.0, before, after)], "length") == []


@pytest.mark.parametrize(("step_kpa", "found"), [(94.9, 0), (95.0, 1), (107.0, 1), (107.1, 0), (-101.3, 1)])
def test_a_step_by_one_atmosphere_is_told(step_kpa: float, found: int) -> None:
    assert len(atmosphere_findings([Jump(0.0, 900.0, 0.0, step_kpa)])) == found
