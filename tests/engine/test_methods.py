"""What a user relies on in every method: signs, units, repeats, references, shared instruments."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.registry import REDUCERS, reduce_readings
from tapedown.engine.physics.water import head_m, water_density_kg_m3
from tapedown.engine.uncertainty.budget import difference
from tapedown.values.reading_forms import METHODS
from tapedown.values.results import BELOW_LAND, BELOW_POINT, ELEVATION, Reduction
from tapedown.values.settings import Settings
from tapedown.values.units import PSI_KPA
from tests.engine.at_the_well import (
    FOOT_M,
    below_land_m,
    below_point_ft,
    below_point_m,
    elevation_m,
    gear,
    names,
    point,
    position,
    reading_set,
    reduced,
    seen,
)

EXAMPLES: dict[str, dict[str, Any]] = {
    "weighted tape": {"readings": ["84.30", "84.31"], "weight_interval": "1.20"},
    "chalked tape": {"readings": [{"hold": "50.00", "cut": "3.12"}, {"hold": "51.00", "cut": "4.13"}]},
    "electric tape": {"readings": ["45.12", "45.13"]},
    "air line": {"readings": ["18", "18"], "line_length": "150", "water_temp": "54 degF"},
    "flowing gauge": {"readings": ["6.5", "6.5"], "water_temp": "54 degF", "shut_in": "2 h"},
    "standpipe": {"readings": ["3.62", "3.60"], "shut_in": "2 h"},
    "logger check": {"readings": ["4.51", "4.51"], "type": "vented", "water_temp": "54 degF", "hanging_depth": "60.00"},
    "oil on water": {"readings": [{"oil": "9.28", "water": "9.60"}] * 2, "relative_density": "0.83"},
    "reported": {"readings": ["45.12"], "reference": "below measuring point", "what": "water level"},
}
EVERY_METHOD = pytest.mark.parametrize("method", EXAMPLES)


def whole_scene(height: str = "2.40", side: str = "above") -> ReadingContext:
    land = position(land_surface="120.55", vertical_datum="NAVD88", u_elevation="0.05")
    return ReadingContext(
        point=point(height, side), position=land, vertical_datum="NAVD88", seen=seen(water=["runs over"])
    )


def test_every_method_has_a_form_a_reducer_and_an_example_here() -> None:
    assert set(EXAMPLES) == set(METHODS) == set(REDUCERS)


def test_a_method_nobody_knows_is_a_slip_of_the_programmer() -> None:
    with pytest.raises(KeyError):
        reduce_readings("dowsing rod", reading_set("electric tape", EXAMPLES["electric tape"]), ReadingContext())


@EVERY_METHOD
def test_every_method_reaches_point_land_surface_and_elevation(method: str) -> None:
    found = reduced(method, EXAMPLES[method], whole_scene())
    assert [stage.result.name for stage in found.stages] == [BELOW_POINT, BELOW_LAND, ELEVATION]
    assert below_land_m(found) == pytest.approx(below_point_m(found) - 2.40 * FOOT_M)
    assert elevation_m(found) == pytest.approx(120.55 * FOOT_M - below_land_m(found))
    assert found.datum == "NAVD88"


@EVERY_METHOD
def test_the_steps_of_every_stage_add_up_to_its_value(method: str) -> None:
    found = reduced(method, EXAMPLES[method], whole_scene())
    for stage in found.stages:
        before = found.result(stage.starts_from)
        start = before.value_m if before else 0.0
        assert start + sum(step.amount_m for step in stage.steps) == pytest.approx(stage.result.value_m)


@EVERY_METHOD
def test_every_result_carries_its_uncertainty(method: str) -> None:
    found = reduced(method, EXAMPLES[method], whole_scene())
    for stage in found.stages:
        assert stage.result.u_m > 0
        assert stage.result.expanded_m == pytest.approx(stage.result.k * stage.result.u_m)
        assert 1.9 < stage.result.k < 3.2
    assert found.stages[1].result.u_m > found.stages[0].result.u_m


@EVERY_METHOD
def test_every_step_says_what_it_is_and_every_source_where_it_comes_from(method: str) -> None:
    for stage in reduced(method, EXAMPLES[method], whole_scene()).stages:
        for step in stage.steps:
            assert step.what
            assert all(part.what for part in step.parts)


@EVERY_METHOD
def test_a_point_as_far_below_land_surface_flips_the_sign_of_its_term(method: str) -> None:
    above = reduced(method, EXAMPLES[method], whole_scene("2.40", "above"))
    below = reduced(method, EXAMPLES[method], whole_scene("2.40", "below"))
    level = reduced(method, EXAMPLES[method], whole_scene("0", "level"))
    assert below_land_m(below) - below_land_m(level) == pytest.approx(2.40 * FOOT_M)
    assert below_land_m(level) - below_land_m(above) == pytest.approx(2.40 * FOOT_M)


def in_metres(given: Any) -> Any:
    """The same lengths written in metres with seven decimals; everything else as it stands, pressures in kPa."""
    if isinstance(given, list):
        return [in_metres(item) for item in given]
    if isinstance(given, dict):
        return {key: value if key in UNTOUCHED else in_metres(value) for key, value in given.items()}
    return f"{float(given) * FOOT_M:.7f} m" if str(given).replace(".", "").replace("-", "").isdigit() else given


UNTOUCHED = {"water_temp", "relative_density", "type", "shut_in", "reference", "what"}


@EVERY_METHOD
def test_a_foot_network_and_a_metre_network_find_the_same_depth(method: str) -> None:
    given = EXAMPLES[method]
    in_pressure = method in {"air line", "flowing gauge", "logger check"}
    metric = in_metres(given)
    if in_pressure:
        metric["readings"] = [f"{float(psi) * PSI_KPA:.7f} kPa" for psi in given["readings"]]
    feet = reduced(method, given, ReadingContext(Settings("ft"), point=point("2.40"), seen=seen(water=["runs over"])))
    metres = reduced(
        method,
        metric,
        ReadingContext(Settings("m"), point=point("0.73152", unit="m"), seen=seen(water=["runs over"])),
        "m",
    )
    assert below_point_m(metres) == pytest.approx(below_point_m(feet), abs=1e-6)
    assert below_land_m(metres) == pytest.approx(below_land_m(feet), abs=1e-6)


@given(st.integers(0, 30000), st.integers(1, 400), st.sampled_from(["above", "below"]))
def test_depth_to_water_follows_the_tape_and_the_point_at_every_depth(tape: int, height: int, side: str) -> None:
    shown, up = f"{tape / 100:.2f}", f"{height / 100:.2f}"
    found = reduced("electric tape", {"readings": [shown]}, ReadingContext(point=point(up, side)))
    sign = 1 if side == "above" else -1
    assert below_land_m(found) / FOOT_M == pytest.approx(tape / 100 - sign * height / 100, abs=1e-9)
    assert ("above-land-surface" in names(found.findings)) is (tape - sign * height < -1e-6)


@given(st.floats(0.1, 2.0), st.integers(2, 50))
def test_water_above_land_surface_is_a_negative_depth_and_a_higher_elevation(head: float, height: int) -> None:
    found = reduced("standpipe", {"readings": [f"{head:.2f}"]}, whole_scene(f"{height / 10:.1f}"))
    assert below_land_m(found) < 0
    assert elevation_m(found) > 120.55 * FOOT_M


def test_a_gauge_below_the_point_makes_up_for_where_it_sits() -> None:
    at_point = reduced("flowing gauge", EXAMPLES["flowing gauge"])
    lower = reduced("flowing gauge", {**EXAMPLES["flowing gauge"], "gauge_above_point": "-1.50"})
    assert below_point_ft(lower) - below_point_ft(at_point) == pytest.approx(1.50)


def test_an_altitude_gauge_in_feet_of_water_needs_no_temperature() -> None:
    given = {"constant_depth": "25.86", "constant_gauge_as_water": "75.5", "readings_as_water": ["50.0", "50.0"]}
    cold, warm = (reduced("air line", {**given, "water_temp": t}) for t in ("40", "80"))
    assert below_point_ft(cold) == below_point_ft(warm) == pytest.approx(51.36)


def test_the_weight_of_the_air_nearly_cancels_once_a_line_was_calibrated_by_tape() -> None:
    given = {"constant_depth": "269.00", "constant_gauge": "100", "water_temp": "59", "weight_of_air": "yes"}
    same = {**given, "readings": ["100", "100"]}
    bare = {**same, "weight_of_air": "no"}
    assert below_point_ft(reduced("air line", same)) == pytest.approx(below_point_ft(reduced("air line", bare)))
    other = {**given, "readings": ["60", "60"]}
    moved = below_point_ft(reduced("air line", other)) - below_point_ft(
        reduced("air line", {**other, "weight_of_air": "no"})
    )
    assert 1.0 < moved < 2.5


def test_a_line_calibrated_in_feet_of_water_weighs_its_air_from_there() -> None:
    head_ft = float(head_m(100 * PSI_KPA, water_density_kg_m3(15.0))) / FOOT_M
    given = {"constant_depth": "269.00", "constant_gauge_as_water": f"{head_ft:.6f}", "readings": ["100", "100"],
             "water_temp": "59", "weight_of_air": "yes"}  # fmt: skip
    assert below_point_ft(reduced("air line", given)) == pytest.approx(269.00, abs=1e-3)


def test_the_digit_of_the_gauge_at_calibration_stays_though_its_error_cancels() -> None:
    given = {"constant_depth": "85.85", "constant_gauge": "28", "readings": ["28", "28"], "gauge": "G-3"}
    u = reduced("air line", given).stages[0].result.u_m
    one_digit = float(head_m(PSI_KPA, water_density_kg_m3(12.0))) / 12**0.5
    assert u > 2**0.5 * one_digit


def density_part(reduction: Reduction) -> float:
    return float(next(part.u_m for part in reduction.parts if part.key == "density of the water"))


@pytest.mark.parametrize("method", ["air line", "flowing gauge", "logger check"])
def test_doubt_about_the_waters_temperature_counts_by_what_it_does_to_the_head(method: str) -> None:
    def depth_m(temp: str) -> float:
        return below_point_m(reduced(method, {**EXAMPLES[method], "water_temp": temp}))

    by_two_degrees = (depth_m("14 degC") - depth_m("10 degC")) / 2
    measured = reduced(method, {**EXAMPLES[method], "water_temp": "12 degC"})
    assert abs(density_part(measured)) == pytest.approx(abs(by_two_degrees) / 3**0.5, rel=0.01)
    guessed = reduced(method, {key: value for key, value in EXAMPLES[method].items() if key != "water_temp"})
    assert density_part(guessed) == pytest.approx(3 * density_part(measured))


def test_one_water_moves_the_depth_the_same_way_by_every_method() -> None:
    parts = [
        density_part(reduced(method, EXAMPLES[method])) for method in ("air line", "flowing gauge", "logger check")
    ]
    assert all(part < 0 for part in parts)


def test_a_named_gauge_cancels_between_two_readings_of_one_line() -> None:
    def shown(psi: str, gauge: str) -> Reduction:
        return reduced("air line", {**EXAMPLES["air line"], "readings": [psi, psi], "gauge": gauge})

    same, _ = difference(shown("20", "G-3").parts, shown("18", "G-3").parts)
    other, _ = difference(shown("20", "G-3").parts, shown("18", "G-4").parts)
    assert same < other / 2


def test_a_logger_with_a_tape_reading_alone_is_as_deep_and_as_sure_as_the_tape() -> None:
    told = {"readings": ["4.51", "4.51"], "type": "vented", "taped_depth": "45.12"}
    found = reduced("logger check", told)
    assert below_point_ft(found) == pytest.approx(45.12)
    assert found.stages[0].result.u_m == pytest.approx(0.01 * FOOT_M / 12**0.5)
    assert "hangs at 55.5" in found.stages[0].steps[0].note


def test_a_logger_with_a_recorded_hanging_depth_is_held_against_the_tape() -> None:
    told = {"readings": ["4.51", "4.51"], "type": "vented", "hanging_depth": "60.00", "water_temp": "54"}
    by_logger = below_point_ft(reduced("logger check", told))
    near = reduced("logger check", {**told, "taped_depth": f"{by_logger + 0.009:.3f}"})
    far = reduced("logger check", {**told, "taped_depth": f"{by_logger + 0.012:.3f}"})
    assert "logger-off-tape" not in names(near.findings)
    assert "logger-off-tape" in names(far.findings)
    wide = reduced("logger check", {**told, "taped_depth": f"{by_logger + 0.012:.3f}", "record_range": "20.00"})
    assert "logger-off-tape" not in names(wide.findings)


def test_a_coarse_barometer_makes_an_absolute_logger_less_sure() -> None:
    told = {"readings": ["142.35 kPa"], "type": "absolute", "hanging_depth": "60.00"}
    fine, coarse = (reduced("logger check", {**told, "barometer": b}).main for b in ("98.20 kPa", "98 kPa"))
    assert fine is not None
    assert coarse is not None
    assert coarse.u_m > 2 * fine.u_m


@pytest.mark.parametrize(
    ("reference", "value", "stages"),
    [
        ("below measuring point", "45.12", [BELOW_POINT, BELOW_LAND, ELEVATION]),
        ("below land surface", "42.72", [BELOW_LAND, ELEVATION]),
        ("elevation", "77.83", [ELEVATION, BELOW_LAND]),
    ],
)
def test_a_reported_value_reaches_the_same_level_from_any_reference(
    reference: str, value: str, stages: list[str]
) -> None:
    given = {"readings": [value], "reference": reference, "what": "water level", "how": "steel tape"}
    found = reduced("reported", given, whole_scene())
    assert [stage.result.name for stage in found.stages] == stages
    assert below_land_m(found) / FOOT_M == pytest.approx(42.72)
    assert elevation_m(found) / FOOT_M == pytest.approx(77.83)
    assert "single-reading" not in names(found.findings)


def test_a_stated_uncertainty_of_a_reported_value_is_used_and_else_the_default() -> None:
    given = {"readings": ["45.12"], "reference": "below land surface", "what": "water level"}
    stated = {part.what: part for part in reduced("reported", {**given, "u": "0.30"}).parts}
    default = {part.what: part for part in reduced("reported", given).parts}
    assert stated["as reported"].u_m == pytest.approx(0.30 * FOOT_M)
    assert stated["as reported"].source == "as stated"
    assert default["as reported"].u_m == pytest.approx(Settings().si("u_reported"))


def test_numbers_written_to_fewer_digits_are_less_sure() -> None:
    def u(interval: str, height: str) -> float:
        given = {"readings": ["84.30", "84.30"], "weight_interval": interval}
        result = reduced("weighted tape", given, ReadingContext(point=point(height))).main
        assert result is not None
        return float(result.u_m)

    assert u("1.20", "3.40") < u("1.2", "3.40") < u("1.2", "3.4")


def test_two_soundings_with_different_weights_do_not_share_their_interval() -> None:
    def keys(weight: str) -> set[str]:
        given = {"readings": ["84.30"], "weight_interval": "1.20", "weight": weight}
        return {part.key for part in reduced("weighted tape", given).parts if part.key}

    assert keys("W-3") & keys("W-3") == {"weight interval W-3"}
    assert not keys("W-3") & keys("W-4")
    assert not keys("")


def test_half_of_a_splice_is_sent_back_as_it_takes_off_many_feet() -> None:
    read, problems = METHODS["electric tape"].read({"readings": ["97.40"], "marker_above_splice": "20"}, "ft")
    assert read is None
    assert [problem.place for problem in problems] == ["marker_to_sensor"]


def test_a_setting_of_the_gear_wins_over_the_networks_for_readings_taken_with_it() -> None:
    rough = gear("ET-009", type="electric tape", settings=[{"name": "u_tape_uncalibrated", "value": "0.05 ft"}])
    reading = {"readings": ["45.12", "45.12"]}
    with_it = reduced("electric tape", {**reading, "tape": "ET-009"}, ReadingContext(gear=rough)).main
    without = reduced("electric tape", reading, ReadingContext(gear=rough)).main
    assert with_it is not None
    assert without is not None
    assert with_it.u_m > 0.05 * 0.3048 > without.u_m
