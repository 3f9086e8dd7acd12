"""The whole sum of one reading by every method: each line with its amount, each part of its uncertainty with its size.

Amounts and sizes are worked by hand in feet from what was read and from the settings of the network; where water
presses, its density is that of the other published formula (Kell 1975). Names, keys and sources are those that exports
carry and that two readings are compared by.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.physics.water import normal_gravity_m_s2, water_density_kell_kg_m3
from tapedown.values.results import MANY, Part, Step
from tapedown.values.settings import Settings
from tapedown.values.units import PSI_KPA
from tests.engine.at_the_well import (
    FOOT_M,
    STEEL_TAPE,
    below_land_ft,
    below_point_ft,
    calibrated,
    elevation_ft,
    gear,
    point,
    position,
    reduced,
)

OURS = Settings()


def digit(step_ft: float) -> float:
    """Rectangular over one step (GUM F.2.2.1)."""
    return step_ft / math.sqrt(12)


def half(half_ft: float) -> float:
    """Rectangular within plus and minus (GUM 4.3.7)."""
    return half_ft / math.sqrt(3)


def pair(tolerance_ft: float, apart_ft: float = 0.0) -> float:
    """Repeatability of the mean of two: the tolerance with 8 degrees of freedom, pooled with what was seen."""
    expected = tolerance_ft / (1.96 * math.sqrt(2))
    return math.sqrt((8 * expected**2 + apart_ft**2 / 2) / 9 / 2)


def alone(tolerance_ft: float) -> float:
    """Repeatability of one reading: what the tolerance lets expect."""
    return tolerance_ft / (1.96 * math.sqrt(2))


def ft_per_psi(temp_c: float = 12.0, gravity: float = 9.80665) -> float:
    return float(PSI_KPA * 1000 / (water_density_kell_kg_m3(temp_c) * gravity) / FOOT_M)


def share_of_density(temp_c: float, half_c: float) -> float:
    """Standard uncertainty of the density over the density, from a temperature within plus and minus `half_c`."""
    slope = (water_density_kell_kg_m3(temp_c + 0.5) - water_density_kell_kg_m3(temp_c - 0.5)) / 1.0
    return float(abs(slope) * half_c / math.sqrt(3) / water_density_kell_kg_m3(temp_c))


class Line(NamedTuple):
    """One step: name, amount, source, note, and its parts as (key, name, size, source)."""

    what: str
    amount_ft: float
    source: str
    note: str
    parts: tuple[tuple[str, str, float, str], ...] = ()


class Sum(NamedTuple):
    """A reading by a method, what stood around it, and the lines down to the measuring point."""

    method: str
    read: Mapping[str, Any]
    lines: tuple[Line, ...]
    context: ReadingContext = ReadingContext()


def last(step_ft: float, name: str = "last digit read", times: float = 1.0) -> tuple[str, str, float, str]:
    return ("", name, times * digit(step_ft), "digits as written")


def repeats(n: int, size_ft: float, times: float = 1.0) -> tuple[str, str, float, str]:
    return ("", f"repeatability of {n}", times * size_ft, "pooled, GUM 4.2.4")


def by_setting(name: str, what: str, size_ft: float, key: str = "") -> tuple[str, str, float, str]:
    return (key, what, size_ft, OURS.source(name))


def uncalibrated(size_ft: float, tape: str = "") -> Line:
    key = f"tape {tape}" if tape else ""
    part = by_setting("u_tape_share", "tape without certificate", size_ft, key)
    return Line("tape calibration", 0.0, "", "no calibration in the record", (part,))


def left_out(length_ft: float) -> Line:
    """Heat of a tape taken as 15 +- 12 degC instead of its 20, steel; stretch by 2 in 100,000."""
    return Line(
        "heat and stretch of the tape, not corrected", 0.0, "", "carried as uncertainty",
        (by_setting("tape_temp_unknown", "heat, not corrected", half(1.16e-5 * 17 * length_ft)),
         by_setting("stretch_doubt", "stretch, not corrected", half(2e-5 * length_ft))),
    )  # fmt: skip


def water_part(head_ft: float, temp_c: float = 12.0, half_c: float = 2.0) -> tuple[str, str, float, str]:
    size = head_ft * share_of_density(temp_c, half_c)
    return ("density of the water", "density of the water", size, "settings: u_water_temp")


def gauge_part(size_ft: float, key: str = "", source: str = "") -> tuple[str, str, float, str]:
    return (key, "gauge", size_ft, source or OURS.source("u_gauge_psi"))


TAPE = "tape at the measuring point"
PSI = ft_per_psi()
AT_12 = "fresh water at 12.0 degC, 999.500 kg/m3"
GAUGE = {"water_temp": "12 degC", "gauge": "G-3"}
HUNG = 84.305
AIR_KPA = 98.20 + 1.225 * 9.80665 * 13.0 / 1000  # the barometer at land surface, the water 13 m below it

SUMS = (
    Sum("weighted tape", {"readings": ["84.30", "84.31"], "weight_interval": "1.20"}, (
        Line(TAPE, HUNG, "USGS TM 1-A1 GWPD 11", "84.30, 84.31 ft",
             (last(0.01), repeats(2, pair(0.02, 0.01)),
              ("", "feeling the bottom", 0.02, "settings: u_bottom_feel"))),
        Line("weight interval", 1.20, "USGS TM 1-A1 GWPD 11", "1.20 ft",
             (("", "weight interval", 0.003, "settings: u_weight_interval"),)),
        uncalibrated(0.005), left_out(HUNG))),
    Sum("weighted tape", {"readings": ["412.3"], "weight_interval": "1.2", "weight": "W-3", "tape": "ST-014",
                          "bottom": "soft"}, (
        # of 413.5 ft the tolerance grows by 1 in 10,000 beyond 200 ft
        Line(TAPE, 412.3, "USGS TM 1-A1 GWPD 11", "412.3 ft",
             (last(0.1), repeats(1, alone(0.02 + 213.5e-4)),
              ("", "feeling the bottom", 0.04, "settings: u_bottom_feel"))),
        Line("weight interval", 1.2, "USGS TM 1-A1 GWPD 11", "1.2 ft",
             (("weight interval W-3", "weight interval", digit(0.1), "settings: u_weight_interval"),)),
        uncalibrated(412.3 * 25e-6, "ST-014"), left_out(412.3))),
    Sum("weighted tape", {"readings": ["84.30"], "bottom": "unsure"}, (
        Line(TAPE, 84.30, "USGS TM 1-A1 GWPD 11", "84.30 ft",
             (last(0.01), repeats(1, alone(0.02)), ("", "feeling the bottom", 0.04, "settings: u_bottom_feel"))),
        Line("weight interval", 0.0, "USGS TM 1-A1 GWPD 11", "not given",
             (("", "weight interval", 0.003, "settings: u_weight_interval"),)),
        uncalibrated(0.005), left_out(84.30))),
    Sum("chalked tape", {"readings": [{"hold": "50.00", "cut": "3.12"}, {"hold": "51.00", "cut": "4.1"}]}, (
        Line("hold", 50.5, "USGS TM 1-A1 GWPD 1", "50.00 ft, 51.00 ft",
             (last(0.1, "last digit of the hold"), repeats(2, pair(0.02, 0.02)))),
        Line("cut", -3.61, "USGS TM 1-A1 GWPD 1", "3.12 ft, 4.1 ft", (last(0.1, "last digit of the cut"),)),
        uncalibrated(0.005), left_out(46.89))),
    Sum("electric tape", {"readings": ["245.12", "245.13"], "tape": "ET-021", "marker_above_splice": "20.0",
                          "marker_to_sensor": "0.85"}, (
        Line(TAPE, 245.125, "USGS TM 1-A1 GWPD 4", "245.12, 245.13 ft",
             (last(0.01), repeats(2, pair(0.02 + 45.13e-4, 0.01)))),
        Line("splice", -19.15, "USGS TM 1-A1 GWPD 4 p. 35", "20.0 ft to sensor at 0.85 ft",
             (("splice ET-021", "splice", math.hypot(digit(0.1), digit(0.01)), "digits as written"),)),
        uncalibrated(245.125 * 25e-6, "ET-021"), left_out(245.125))),
    Sum("electric tape", {"readings": ["45.12"], "marker_above_splice": "20.00", "marker_to_sensor": "0.85"}, (
        Line(TAPE, 45.12, "USGS TM 1-A1 GWPD 4", "45.12 ft", (last(0.01), repeats(1, alone(0.02)))),
        Line("splice", -19.15, "USGS TM 1-A1 GWPD 4 p. 35", "20.00 ft to sensor at 0.85 ft",
             (("", "splice", math.hypot(digit(0.01), digit(0.01)), "digits as written"),)),
        uncalibrated(0.005), left_out(45.12))),
    Sum("air line", {**GAUGE, "readings": ["18.0", "18.2"], "line_length": "150.0"}, (
        Line("air line, lower end", 150.0, "USGS TM 1-A1 GWPD 13", "150.0 ft as stated",
             (last(0.1, "length of the line"),)),
        Line("water above the line's end", -18.1 * PSI, "USGS TM 1-A1 GWPD 13", f"18.0, 18.2 psi, {AT_12}",
             (gauge_part(-half(PSI), "gauge G-3"), water_part(-18.1 * PSI), last(0.1 * PSI),
              repeats(2, pair(1.0, 0.2 * PSI)))))),
    Sum("air line", {**GAUGE, "readings": ["18"], "constant_depth": "85.85", "constant_gauge": "28.5",
                     "gauge_error": "0.4 psi"}, (
        Line("depth by tape, at calibration", 85.85, "USGS TM 1-A1 GWPD 13", "85.85 ft", (last(0.01),)),
        Line("gauge, at calibration", 28.5 * PSI, "USGS TM 1-A1 GWPD 13", f"28.5 psi, {AT_12}",
             (gauge_part(half(0.4 * PSI), "gauge G-3", "as stated"), water_part(28.5 * PSI), last(0.1 * PSI))),
        Line("water above the line's end", -18 * PSI, "USGS TM 1-A1 GWPD 13", f"18 psi, {AT_12}",
             (gauge_part(-half(0.4 * PSI), "gauge G-3", "as stated"), water_part(-18 * PSI), last(1.0 * PSI),
              repeats(1, alone(1.0)))))),
    Sum("air line", {"readings_as_water": ["50.0", "50.4"], "constant_depth": "25.86",
                     "constant_gauge_as_water": "75.5", "gauge": "G-3"}, (
        Line("depth by tape, at calibration", 25.86, "USGS TM 1-A1 GWPD 13", "25.86 ft", (last(0.01),)),
        Line("gauge, at calibration", 75.5, "USGS TM 1-A1 GWPD 13", "75.5 ft",
             (by_setting("u_altitude_gauge", "altitude gauge", half(0.1), "gauge G-3"), last(0.1))),
        Line("water above the line's end", -50.2, "USGS TM 1-A1 GWPD 13", "50.0, 50.4 ft",
             (by_setting("u_altitude_gauge", "altitude gauge", -half(0.1), "gauge G-3"),
              last(0.1, times=-1.0), repeats(2, pair(1.0, 0.4), -1.0))))),
    Sum("flowing gauge", {"readings": ["6.5", "6.5"], "water_temp": "12 degC", "gauge_above_point": "0.75",
                          "gauge_error": "0.5 psi", "shut_in": "2 h"}, (
        Line("head above the gauge", -6.5 * PSI, "USGS TM 1-A1 GWPD 12", f"6.5, 6.5 psi, {AT_12}",
             (gauge_part(-half(0.5 * PSI), source="as stated"), water_part(-6.5 * PSI), last(0.1 * PSI),
              repeats(2, pair(1.0)))),
        Line("gauge above the measuring point", -0.75, "USGS TM 1-A1 GWPD 12", "0.75 ft",
             (last(0.01, "height of the gauge"),)))),
    Sum("flowing gauge", {"readings": ["6.5"], "gauge_above_point": "0.00"}, (
        # a temperature that was not measured is taken as three times as uncertain
        Line("head above the gauge", -6.5 * PSI, "USGS TM 1-A1 GWPD 12", f"6.5 psi, {AT_12}",
             (gauge_part(-half(PSI)), water_part(-6.5 * PSI, half_c=6.0), last(0.1 * PSI), repeats(1, alone(1.0)))),
    )),
    Sum("standpipe", {"readings": ["3.62", "3.60"], "shut_in": "2 h"}, (
        Line("level above the measuring point", -3.61, "USGS TM 1-A1 GWPD 12", "3.62, 3.60 ft",
             (by_setting("u_standpipe", "level in the tube", half(0.1)), last(0.01), repeats(2, pair(0.2, 0.02)))),)),
    Sum("logger check", {"readings": ["14.51", "14.51"], "type": "vented", "water_temp": "12 degC",
                         "hanging_depth": "60.0", "logger": "L-7"}, (
        Line("hanging depth of the sensor", 60.0, "USGS TM 1-A1 GWPD 16", "60.0 ft", (last(0.1),)),
        # 0.1 % of the head is more than 0.01 ft, and the repeats may lie 0.1 % of the head apart
        Line("water above the sensor", -14.51 * PSI, "(p - p_air) / (rho g)",
             "14.51, 14.51 psi vented, fresh water at 12.0 degC",
             (by_setting("u_logger", "logger", -14.51e-3 * PSI, "logger L-7"),
              ("density of the water", "density of the water", -14.51 * PSI * share_of_density(12.0, 2.0), ""),
              last(0.01 * PSI, times=-1.0), repeats(2, pair(14.51e-3 * PSI), -1.0))))),
    Sum("logger check", {"readings": ["142.35 kPa"], "type": "absolute", "water_density": "1001.0 kg/m3",
                         "hanging_depth": "14.00 m", "taped_depth": "13.00 m", "barometer": "98.20 kPa",
                         "barometer_at_land_surface": "yes"}, (
        Line("hanging depth of the sensor", 14.0 / FOOT_M, "USGS TM 1-A1 GWPD 16", "14.00 m",
             (last(0.01 / FOOT_M),)),
        Line("water above the sensor", -(142.35 - AIR_KPA) / 1.0010 / 9.80665 / FOOT_M, "(p - p_air) / (rho g)",
             "142.35 kPa absolute, air 98.356 kPa, density 1001.0 kg/m3 as measured",
             (by_setting("u_logger", "logger", -(142.35 - AIR_KPA) / 1.0010 / 9.80665 / FOOT_M / 1000),
              ("density of the water", "density of the water",
               -(142.35 - AIR_KPA) / 1.0010 / 9.80665 / FOOT_M * digit(0.1) / 1001.0, ""),
              last(0.01 / 1.0010 / 9.80665 / FOOT_M, times=-1.0), repeats(1, alone(0.02), -1.0),
              last(0.01 / 1.0010 / 9.80665 / FOOT_M, "last digit of the barometer", -1.0))))),
    Sum("logger check", {"readings": ["4.51", "4.51"], "type": "vented", "taped_depth": "45.12",
                         "water_temp": "12 degC"}, (
        Line("depth to water by tape", 45.12, "USGS TM 1-A1 GWPD 16",
             "45.12 ft; 10.41 ft of water above the sensor, which hangs at 55.53 ft", (last(0.01, "tape reading"),)),)),
    Sum("oil on water", {"readings": [{"oil": "9.28", "water": "9.60"}, {"oil": "9.30", "water": "9.61"}],
                         "relative_density": "0.83"}, (
        Line("interface of oil and water", 9.605, "probe or paste", "9.28 ft / 9.60 ft, 9.30 ft / 9.61 ft",
             (last(0.01, "last digit of the interface", 0.17), repeats(2, pair(0.02, 0.01)))),
        Line("oil pressing the interface down", -0.315 * 0.83, "T x relative density", "0.315 ft x 0.83",
             (by_setting("u_relative_density", "relative density", 0.315 * 0.02),
              last(0.01, "last digit of the oil surface", 0.83))),
        uncalibrated(0.005), left_out(9.605))),
    Sum("reported", {"readings": ["45.12"], "reference": "below measuring point", "what": "water level"}, (
        Line("water level below measuring point", 45.12, "not said how", "45.12 ft",
             (by_setting("u_reported", "as reported", 0.05), last(0.01))),)),
    Sum("reported", {"readings": ["98.1"], "reference": "below measuring point", "what": "total depth",
                     "how": "driller's log", "u": "0.5"}, (
        Line("total depth below measuring point", 98.1, "driller's log", "98.1 ft",
             (("", "as reported", 0.5, "as stated"), last(0.1))),)),
)  # fmt: skip
EVERY_SUM = pytest.mark.parametrize("worked", [pytest.param(s, id=f"{i} {s.method}") for i, s in enumerate(SUMS)])


def steps_to_the_point(worked: Sum) -> list[Step]:
    return list(reduced(worked.method, worked.read, worked.context).stages[0].steps)


@EVERY_SUM
def test_every_line_of_a_sum_stands_with_its_amount_its_source_and_what_was_read(worked: Sum) -> None:
    found = [(s.what, s.source, s.note) for s in steps_to_the_point(worked)]
    assert found == [(line.what, line.source, line.note) for line in worked.lines]
    amounts = [s.amount_m / FOOT_M for s in steps_to_the_point(worked)]
    assert amounts == pytest.approx([line.amount_ft for line in worked.lines], rel=1e-5, abs=1e-9)


def same_part(part: Part, line: tuple[str, str, float, str]) -> None:
    key, what, size_ft, source = line
    assert (part.key, part.what, part.source) == (key, what, source)
    assert part.u_m / FOOT_M == pytest.approx(size_ft, rel=2e-3 if what == "density of the water" else 1e-5)
    assert part.dof == (7 + int(what[-1]) if what.startswith("repeatability") else MANY)


@EVERY_SUM
def test_every_part_of_a_sum_has_its_size_and_names_the_quantity_behind_it(worked: Sum) -> None:
    for step, line in zip(steps_to_the_point(worked), worked.lines, strict=True):
        for part, told in zip(step.parts, line.parts, strict=True):
            same_part(part, told)


SCENE = ReadingContext(
    point=point("2.4"),
    position=position(land_surface="120.5", vertical_datum="NGVD29", latitude="47.5", elevation_method="levelled",
                      datum_shift={"to": "NAVD88", "offset": "3.30", "u": "0.15", "source": "county surveyor"}),
    vertical_datum="NAVD88",
)  # fmt: skip


def test_from_the_point_to_land_surface_and_to_the_elevation_every_line_and_part_stands() -> None:
    read = reduced("electric tape", {"readings": ["45.12", "45.12"]}, SCENE)
    (to_land,) = read.stages[1].steps
    assert (to_land.what, to_land.source) == ("measuring point MP-1", "USGS TM 1-A1 GWPD 3, fig. 1")
    assert to_land.note == "2.4 ft above land surface"
    same_part(
        to_land.parts[0], by_setting("u_point_height", "height of the measuring point", digit(0.1), "point MP-1 2.4 ft")
    )
    land, shift, depth = read.stages[2].steps
    assert (land.what, land.source, land.note) == ("land-surface elevation", "levelled", "120.5 ft, NGVD29")
    same_part(land.parts[0], ("land surface", "elevation of land surface", 0.1, "levelled"))
    assert (shift.what, shift.source, shift.note) == ("NGVD29 to NAVD88", "county surveyor", "3.30 ft")
    same_part(shift.parts[0], ("datum shift", "offset between datums", 0.15, "county surveyor"))
    assert (depth.what, depth.amount_m) == ("minus depth below land surface", -read.stages[1].result.value_m)
    before = [part for stage in read.stages[:2] for step in stage.steps for part in step.parts]
    assert [(p.key, p.what, -p.u_m, p.source) for p in depth.parts] == [
        (p.key, p.what, p.u_m, p.source) for p in before
    ]
    assert (below_land_ft(read), elevation_ft(read)) == pytest.approx((42.72, 120.5 + 3.30 - 42.72))
    assert (read.stages[0].starts_from, read.stages[1].starts_from) == ("", "depth below measuring point")


def test_a_reported_elevation_becomes_a_depth_with_every_line_and_part() -> None:
    given = {"readings": ["77.83"], "reference": "elevation", "what": "water level", "how": "GPS"}
    read = reduced("reported", given, SCENE)
    assert (below_land_ft(read), elevation_ft(read)) == pytest.approx((120.5 - 77.83, 77.83))
    (reported,) = read.stages[0].steps
    assert (reported.what, reported.source, reported.note) == ("water level as elevation", "GPS", "77.83 ft")
    land, water = read.stages[1].steps
    assert (land.what, land.note, water.what) == (
        "land-surface elevation",
        "120.5 ft, NGVD29",
        "minus reported elevation",
    )
    same_part(land.parts[0], ("land surface", "elevation of land surface", 0.1, "levelled"))
    assert [part.u_m for part in water.parts] == [-part.u_m for part in reported.parts]
    assert read.datum == "NGVD29"
    assert read.main is not None
    assert read.main.u_m / FOOT_M == pytest.approx(math.sqrt(0.1**2 + 0.05**2 + digit(0.01) ** 2))


def test_a_tape_with_its_certificate_shows_every_term_with_its_name_and_part() -> None:
    hung = gear("ST-014", **STEEL_TAPE)
    read = {"readings": [{"hold": "300.00", "cut": "50.00"}], "tape": "ST-014",
            "hanging": {"surface_temp": "60 degF", "temp_gradient": "0.01 degF/ft"}}  # fmt: skip
    scene = ReadingContext(position=SCENE.position, gear=hung)
    steps = {step.what: step for step in reduced("chalked tape", read, scene).stages[0].steps}
    gravity = normal_gravity_m_s2(47.5, 120.5 * FOOT_M) / 9.80665
    stiffness_lbf, light = 0.006 * 29e6, 1 - 1000 / 7850
    own = steps["stretch by the tape's own weight"]
    # 50 ft of 300 hang in water; the tape below the cut carries itself and stretches nothing that was read
    in_air = (0.0204 * light * 50 * 250 + 0.0204 * 250**2 / 2) / stiffness_lbf * gravity
    assert own.amount_m / FOOT_M == pytest.approx(in_air, rel=1e-6)
    assert (own.source, own.note) == ("w L^2 / (2 A E)", "250.00 ft hanging, 50.00 ft of it in water")
    end = steps["stretch by the hanging weight"]
    assert end.amount_m / FOOT_M == pytest.approx(1 * light * 250 / stiffness_lbf * gravity, rel=1e-6)
    assert (end.source, end.note, end.parts) == ("W L / (A E)", "0.454 kg", ())
    pull = steps["pull of the certificate"]
    assert pull.amount_m / FOOT_M == pytest.approx(-10 * 250 / stiffness_lbf, rel=1e-6)
    assert (pull.source, pull.note) == ("-P0 L / (A E)", "44.48 N")
    elastic_ft = (own.amount_m + end.amount_m + pull.amount_m) / FOOT_M
    same_part(pull.parts[0], ("", "section, modulus and masses", 0.05 * elastic_ft, "5 %, ours"))
    heat = steps["tape warmer or colder than its certificate"]
    # 60 degF at the top and 0.01 degF more each foot: 61.25 degF in the middle of 250 ft, against 68 degF
    assert heat.amount_m / FOOT_M == pytest.approx(6.45e-6 * (61.25 - 68) * 250, rel=1e-6)
    assert (heat.source, heat.note) == ("alpha (T - T0) L", "1.16e-05 /degC x (16.2 - 20.0) degC x 250.00 ft")
    same_part(heat.parts[0], by_setting("tape_temp_half_width", "tape temperature", half(6.45e-6 * 1.8 * 2 * 250)))


def line_at(marks: Sequence[tuple[str, str]], shown: float) -> float:
    """True length at what the tape shows, by numpy's straight line through the marks."""
    slope, start = np.polyfit([float(s) for s, _ in marks], [float(t) for _, t in marks], 1)
    return float(start + slope * shown)


def test_a_calibrated_tape_names_its_calibration_in_the_sum() -> None:
    marks = [("50.00", "50.01"), ("100.00", "100.04"), ("150.00", "150.05"), ("200.00", "200.09")]
    for apply, add_ft, how, dof in (
        ("between marks", 0.025, "between 4 marks", MANY),
        ("checked", 0.0, "checked, largest difference 0.09 ft", MANY),
        ("straight line", line_at(marks, 75.0) - 75.0,
         "line through 4 marks", 2),
    ):  # fmt: skip
        context = ReadingContext(calibrations=calibrated("ET-021", marks, apply))
        read = reduced("electric tape", {"readings": ["75.00"], "tape": "ET-021"}, context)
        step = next(step for step in read.stages[0].steps if step.what == "tape calibration")
        assert (step.source, step.note) == (
            "ST-001, the office tape", f"ET-021, 2026-01-10, against ST-001, the office tape: {how}"
        )  # fmt: skip
        (part,) = step.parts
        assert (part.key, part.what, part.source) == (
            "calibration ET-021 2026-01-10", "calibration of the tape", "ST-001, the office tape"
        )  # fmt: skip
        assert part.dof == dof
        assert below_point_ft(read) == pytest.approx(75.0 + add_ft)
