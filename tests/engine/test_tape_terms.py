"""Heat and stretch of a hanging tape: all of it or none of it, and what is left out is carried as uncertainty."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.physics.stretch import sag_m
from tapedown.values.results import Reduction, Step
from tapedown.values.units import POUND_FORCE_N, POUND_KG
from tests.engine.at_the_well import (
    FOOT_M,
    STEEL_TAPE,
    below_point_ft,
    below_point_m,
    calibrated,
    construction,
    gear,
    names,
    position,
    reduced,
)

DEEP = {"readings": ["400.00", "400.00"], "weight_interval": "1.20", "tape": "ST-014"}
PHYSICAL = {
    "tape warmer or colder than its certificate",
    "stretch by the tape's own weight",
    "stretch by the hanging weight",
    "pull of the certificate",
}
FIGURES = ("area", "modulus", "expansion", "mass_per_length", "standard_temp", "standard_pull", "mass")


def steps(reduction: Reduction) -> dict[str, Step]:
    return {step.what: step for step in reduction.stages[0].steps}


def with_tape(without: str = "", **changes: str) -> ReadingContext:
    figures = {name: value for name, value in {**STEEL_TAPE, **changes}.items() if name != without}
    return ReadingContext(gear=gear("ST-014", **figures))


def test_with_a_whole_certificate_every_term_is_applied() -> None:
    found = reduced("weighted tape", {**DEEP, "hanging": {"tape_temp": "50"}}, with_tape())
    shown = steps(found)
    assert set(shown) >= PHYSICAL
    assert shown["tape warmer or colder than its certificate"].amount_m == pytest.approx(
        6.45e-6 * (50 - 68) * 400 * FOOT_M, rel=1e-9
    )
    stiffness = 0.006 * 29e6
    assert shown["pull of the certificate"].amount_m == pytest.approx(-10 * 400 / stiffness * FOOT_M, rel=1e-9)
    own = 0.0204 * 400**2 / 2 / stiffness
    assert shown["stretch by the tape's own weight"].amount_m == pytest.approx(own * FOOT_M, rel=1e-6)


@pytest.mark.parametrize("missing", FIGURES)
def test_with_any_figure_missing_no_term_is_applied_and_the_person_is_told_which(missing: str) -> None:
    found = reduced("weighted tape", DEEP, with_tape(missing))
    assert not PHYSICAL & set(steps(found))
    assert below_point_ft(found) == pytest.approx(401.20)
    told = next(f for f in found.findings if f.check == "tape-terms-incomplete")
    words = {"area": "cross-section", "mass_per_length": "mass per length", "mass": "mass of the hanging weight"}
    assert (
        words.get(missing, missing.replace("standard_temp", "standard temperature").replace("_", " ")) in told.message
    )


def test_what_is_left_out_is_carried_as_uncertainty_and_lowers_the_quality() -> None:
    whole = reduced("weighted tape", DEEP, with_tape())
    part = reduced("weighted tape", DEEP, with_tape("standard_pull"))
    assert whole.main is not None
    assert part.main is not None
    left_out = [p for p in part.parts if "not corrected" in p.what]
    assert {p.what for p in left_out} == {"heat, not corrected", "stretch, not corrected"}
    assert left_out[0].u_m == pytest.approx(1.16e-5 * 17 * 400 * FOOT_M / math.sqrt(3))
    assert left_out[1].u_m == pytest.approx(0.00002 * 400 * FOOT_M / math.sqrt(3))
    assert not [p for p in whole.parts if "not corrected" in p.what]
    assert part.quality == "estimate"


@pytest.mark.parametrize("depth", [50, 150, 300, 450])
def test_the_doubt_of_an_uncorrected_tape_covers_what_the_correction_would_have_been(depth: int) -> None:
    given = {**DEEP, "readings": [f"{depth}.00", f"{depth}.00"], "hanging": {"tape_temp": "50"}}
    corrected = reduced("weighted tape", given, with_tape())
    left = reduced("weighted tape", given)
    assert left.main is not None
    assert abs(below_point_m(corrected) - below_point_m(left)) < left.main.expanded_m


def test_a_short_tape_without_figures_is_no_reason_to_bother_anybody() -> None:
    found = reduced("weighted tape", {**DEEP, "readings": ["84.30", "84.30"], "tape": ""})
    assert not {"tape-not-corrected", "tape-terms-incomplete"} & names(found.findings)
    assert any("not corrected" in part.what for part in found.parts)


def test_a_weight_standing_on_the_bottom_hangs_by_half_give_or_take_half() -> None:
    hanging_weight = {**gear("ST-014", **STEEL_TAPE), **gear("W-3", type="weight", mass="3 lb")}
    sounded = reduced("weighted tape", {**DEEP, "weight": "W-3"}, ReadingContext(gear=hanging_weight))
    full = 3 * 400 / (0.006 * 29e6) * FOOT_M
    step = steps(sounded)["stretch by the hanging weight"]
    assert step.amount_m == pytest.approx(full / 2, rel=1e-9)
    assert step.parts[0].u_m == pytest.approx(full / 2 / math.sqrt(3), rel=1e-9)
    chalk = {"readings": [{"hold": "400.00", "cut": "0.00"}], "tape": "ST-014", "weight": "W-3"}
    hung = steps(reduced("chalked tape", chalk, ReadingContext(gear=hanging_weight)))["stretch by the hanging weight"]
    assert hung.amount_m == pytest.approx(full, rel=1e-9)
    assert hung.parts == ()


def test_section_modulus_and_masses_are_doubted_by_a_twentieth_of_the_stretch_they_make_together() -> None:
    found = reduced("weighted tape", DEEP, with_tape())
    stretch_m = sum(step.amount_m for what, step in steps(found).items() if what in PHYSICAL and "warmer" not in what)
    part = next(part for part in found.parts if part.what == "section, modulus and masses")
    assert part.u_m == pytest.approx(0.05 * stretch_m)


def test_below_water_the_tape_hangs_lighter_and_stretches_less() -> None:
    dry = reduced("weighted tape", DEEP, with_tape())
    wet = reduced("weighted tape", {**DEEP, "hanging": {"water_at": "100.00"}}, with_tape())
    own_dry, own_wet = (steps(r)["stretch by the tape's own weight"].amount_m for r in (dry, wet))
    stiffness, w = 0.006 * 29e6, 0.0204
    light = w * (1 - 1000 / 7850)
    expected = (light * 300**2 / 2 + light * 300 * 100 + w * 100**2 / 2) / stiffness
    assert own_wet == pytest.approx(expected * FOOT_M, rel=1e-4)
    assert own_wet < own_dry


def test_a_chalked_tape_is_stretched_over_what_hung_between_cut_and_hold() -> None:
    chalk = {"readings": [{"hold": "400.00", "cut": "100.00"}], "tape": "ST-014", "hanging": {"tape_temp": "50"}}
    shown = steps(reduced("chalked tape", chalk, with_tape()))
    assert shown["tape warmer or colder than its certificate"].amount_m == pytest.approx(
        6.45e-6 * (50 - 68) * 300 * FOOT_M
    )
    assert shown["pull of the certificate"].amount_m == pytest.approx(-10 * 300 / (0.006 * 29e6) * FOOT_M)


def test_temperature_comes_as_a_mean_or_from_the_surface_down_or_is_guessed_with_a_note() -> None:
    by_mean = reduced("weighted tape", {**DEEP, "hanging": {"tape_temp": "58"}}, with_tape())
    profile = {"surface_temp": "54", "temp_gradient": "0.02"}
    by_profile = reduced("weighted tape", {**DEEP, "hanging": profile}, with_tape())
    guessed = reduced("weighted tape", DEEP, with_tape())
    assert below_point_m(by_profile) == pytest.approx(below_point_m(by_mean), abs=1e-9)
    assert "tape-temperature-unknown" in names(guessed.findings)
    assert "tape-temperature-unknown" not in names(by_mean.findings)
    heat = {r: next(p for p in r.parts if p.what == "tape temperature").u_m for r in (by_mean, guessed)}
    assert heat[guessed] == pytest.approx(heat[by_mean] * 6)


def test_a_tape_of_wires_and_jacket_is_reckoned_from_its_layers() -> None:
    layers = [
        {"material": "steel wires", "area": "1 mm2", "modulus": "200 GPa", "expansion": "0.000012 /degC"},
        {"material": "jacket", "area": "10 mm2", "modulus": "0.8 GPa", "expansion": "0.00015 /degC"},
    ]
    figures = {k: v for k, v in STEEL_TAPE.items() if k not in {"area", "modulus", "expansion"}}
    told: dict[str, Any] = {**figures, "layers": layers, "type": "electric tape"}
    context = ReadingContext(gear=gear("ET-021", **told))
    given = {"readings": ["400.00"], "tape": "ET-021", "hanging": {"tape_temp": "10 degC"}}
    shown = steps(reduced("electric tape", given, context))
    alpha = (200e3 * 1.2e-5 + 8e3 * 1.5e-4) / 208e3
    assert shown["tape warmer or colder than its certificate"].amount_m == pytest.approx(alpha * -10 * 400 * FOOT_M)
    assert shown["pull of the certificate"].amount_m == pytest.approx(-10 * POUND_FORCE_N * 400 * FOOT_M / 208e3)


def test_a_certificate_held_at_the_ends_only_adds_its_sag_by_share_of_length() -> None:
    found = steps(reduced("weighted tape", DEEP, with_tape(support="ends only")))
    weight_n_m = 0.0204 * POUND_KG / FOOT_M * 9.80665
    whole = sag_m(500 * FOOT_M, weight_n_m, 10 * POUND_FORCE_N)
    sag = found["sag in the certificate"]
    assert sag.amount_m == pytest.approx(whole * 400 / 500)
    assert (sag.source, sag.note) == ("w^2 L^3 / (24 P^2), by share of length", "held at its ends only")
    assert "sag in the certificate" not in steps(reduced("weighted tape", DEEP, with_tape(support="throughout")))


def test_gravity_at_the_well_is_used_where_its_latitude_is_known() -> None:
    pole = ReadingContext(gear=gear("ST-014", **STEEL_TAPE), position=position(latitude="90"))
    at_pole = steps(reduced("weighted tape", DEEP, pole))["stretch by the tape's own weight"].amount_m
    standard = steps(reduced("weighted tape", DEEP, with_tape()))["stretch by the tape's own weight"].amount_m
    assert at_pole / standard == pytest.approx(9.8321849378 / 9.80665)


def test_in_a_leaning_hole_the_tape_is_corrected_before_it_is_brought_upright() -> None:
    context = with_tape()._replace(construction=construction(lean="20", u_lean="0.1"))
    plumb, leaning = reduced("weighted tape", DEEP, with_tape()), reduced("weighted tape", DEEP, context)
    assert below_point_m(leaning) == pytest.approx(below_point_m(plumb) * math.cos(math.radians(20)))


def test_what_is_told_of_a_tape_not_corrected_or_guessed_has_its_numbers_and_what_is_missing() -> None:
    told = {one.check: one for one in reduced("weighted tape", DEEP, with_tape("modulus")).findings}
    assert told["tape-terms-incomplete"].message.startswith(
        "tape ST-014 is not corrected for heat and stretch: modulus missing."
    )
    assert told["tape-not-corrected"].message == (
        "400.00 ft of tape is more than 200.00 ft: heat and stretch matter and are not corrected"
    )
    assert told["tape-not-corrected"].hint == "needed: modulus"
    unknown = {one.check: one for one in reduced("weighted tape", {**DEEP, "tape": ""}).findings}
    assert unknown["tape-not-corrected"].hint == "needed: the tape's own figures"
    assert "tape-terms-incomplete" not in unknown
    bare = ReadingContext(gear=gear("ST-014", length="500 ft"))
    nothing = {one.check: one for one in reduced("weighted tape", DEEP, bare).findings}
    assert "tape-terms-incomplete" not in nothing
    assert nothing["tape-not-corrected"].hint == (
        "needed: standard temperature, standard pull, mass per length, mass of the hanging weight, cross-section, "
        "modulus, expansion"
    )
    guessed = {one.check: one.message for one in reduced("weighted tape", DEEP, with_tape()).findings}
    assert guessed["tape-temperature-unknown"] == "tape temperature taken as 15 +- 12 degC"


@pytest.mark.parametrize("figure", ["area", "modulus", "expansion", "standard_temp", "standard_pull"])
def test_one_figure_of_a_certificate_is_enough_to_be_asked_for_the_others(figure: str) -> None:
    context = ReadingContext(gear=gear("ST-014", **{figure: STEEL_TAPE[figure]}))
    assert "tape-terms-incomplete" in names(reduced("weighted tape", DEEP, context).findings)


def test_an_electric_tape_counts_as_corrected_by_its_calibration_and_a_steel_tape_does_not() -> None:
    marks = calibrated("ST-014", [("0", "0"), ("500", "500.20")], "between marks")
    for kind, corrected in (("electric tape", True), ("steel tape", False)):
        context = ReadingContext(gear=gear("ST-014", type=kind), calibrations=marks)
        found = reduced("electric tape", {"readings": ["400.00"], "tape": "ST-014"}, context)
        assert ("tape-not-corrected" in names(found.findings)) is not corrected
        assert below_point_ft(found) == pytest.approx(400.16)
        assert found.digits.step == (0.01 if corrected else 0.1)
        assert any("not corrected" in part.what for part in found.parts) is not corrected
    uncalibrated = ReadingContext(gear=gear("ST-014", type="electric tape"))
    found = reduced("electric tape", {"readings": ["400.00"], "tape": "ST-014"}, uncalibrated)
    assert "tape-not-corrected" in names(found.findings)


def test_the_density_of_tape_and_weight_decides_what_water_carries_of_them() -> None:
    weight = gear("W-3", type="weight", mass="3 lb", density="11340 kg/m3")
    tape = gear("ST-014", **STEEL_TAPE, density="8000 kg/m3")
    read = {"readings": [{"hold": "400.00", "cut": "100.00"}], "tape": "ST-014", "weight": "W-3"}
    shown = steps(reduced("chalked tape", read, ReadingContext(gear={**tape, **weight})))
    stiffness = 0.006 * 29e6
    assert shown["stretch by the hanging weight"].amount_m / FOOT_M == pytest.approx(
        3 * (1 - 1000 / 11340) * 300 / stiffness, rel=1e-9
    )
    own = 0.0204 * ((1 - 1000 / 8000) * 100 * 300 + 300**2 / 2) / stiffness
    assert shown["stretch by the tape's own weight"].amount_m / FOOT_M == pytest.approx(own, rel=1e-6)
    assert shown["stretch by the hanging weight"].note == "1.36 kg"
    rests = steps(reduced("weighted tape", {**DEEP, "weight": "W-3"}, ReadingContext(gear={**tape, **weight})))
    assert rests["stretch by the hanging weight"].note == "0.68 kg (half of it: the weight stands on the bottom)"
    (part,) = rests["stretch by the hanging weight"].parts
    assert (part.what, part.source) == ("share of the weight the bottom carries", "none to all of it rests")


def test_a_weight_without_its_mass_leaves_the_terms_out_though_the_tapes_own_is_known() -> None:
    known = {**gear("ST-014", **STEEL_TAPE), **gear("W-4", type="weight")}
    found = reduced("weighted tape", {**DEEP, "weight": "W-4"}, ReadingContext(gear=known))
    told = next(one for one in found.findings if one.check == "tape-terms-incomplete")
    assert "mass of the hanging weight missing" in told.message
