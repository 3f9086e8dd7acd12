"""The facts around a reading: gravity at the well, its survey, settings and names of its gear."""

from __future__ import annotations

import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.pressure import water_at
from tapedown.engine.physics.hole import Direction
from tapedown.engine.physics.water import normal_gravity_m_s2
from tapedown.values.results import Finding
from tapedown.values.settings import Settings
from tapedown.values.written import written
from tests.engine.at_the_well import construction, gear, position, reduced


def test_gravity_follows_from_latitude_and_height_and_is_the_standard_one_without_a_latitude() -> None:
    assert ReadingContext().gravity_m_s2 == 9.80665
    assert ReadingContext(position=position(land_surface="5280")).gravity_m_s2 == 9.80665
    # GRS 80 at 45 degrees: 9.806199203 m/s2, at the equator 9.7803267715 (from memory), where WGS 84 has 9.7803253359;
    # a mile up 0.3086 mGal a metre less
    low, high = (ReadingContext(position=position(latitude="45", **more)).gravity_m_s2
                 for more in ({}, {"land_surface": "5280"}))  # fmt: skip
    assert low == pytest.approx(9.806199203 + 9.7803253359 - 9.7803267715, abs=2e-8)
    assert low - high == pytest.approx(3.086e-6 * 1609.344, rel=2e-3)


def test_gravity_high_up_is_that_of_a_smaller_share_of_the_earths_pull() -> None:
    """By the inverse square of the distance on a sphere of the mean radius."""
    for height_m in (1000.0, 4000.0):
        away = (6371008.8 / (6371008.8 + height_m)) ** 2
        lost = normal_gravity_m_s2(45.0) - normal_gravity_m_s2(45.0, height_m)
        assert lost == pytest.approx(9.8062 * (1 - away), rel=3e-3)


def test_stations_are_those_of_the_survey_with_an_azimuth_of_nothing_where_none_was_read() -> None:
    rows = [{"along": "0 m", "inclination": "1", "azimuth": "20"}, {"along": "50 m", "inclination": "2"}]
    assert ReadingContext(construction=construction(survey=rows)).stations == (
        Direction(0.0, 1.0, 20.0), Direction(50.0, 2.0, 0.0),
    )  # fmt: skip
    assert ReadingContext().stations == ReadingContext(construction=construction()).stations == ()


def test_settings_of_gear_win_over_the_networks_and_the_others_stay() -> None:
    own = gear("ET-009", settings=[{"name": "u_certificate", "value": "0.01 ft"}])
    network = Settings("m", {"u_certificate": "0.02 ft", "coverage": "0.99"})
    context = ReadingContext(network, gear=own)
    assert context.with_gear("ET-009").settings == Settings("m", {"u_certificate": "0.01 ft", "coverage": "0.99"})
    assert context.with_gear("ET-010") == context
    assert ReadingContext(network, gear=gear("ET-009")).with_gear("ET-009").settings == network


def test_gear_that_is_not_in_the_record_is_told_by_its_serial_number() -> None:
    context, findings = ReadingContext(gear=gear("ET-009")), list[Finding]()
    assert context.known_gear("", findings) is None
    assert context.known_gear("ET-009", findings) == context.gear["ET-009"]
    assert findings == []
    assert context.known_gear("ET-010", findings) is None
    (found,) = findings
    assert found.message == "no gear ET-010 in the record: its length, weight and calibration are not used"
    assert (found.check, found.about) == ("gear-not-known", "gear/ET-010")
    chalk = {"readings": [{"hold": "50.00", "cut": "3.12"}], "tape": "ST-041", "weight": "W-9"}
    about = {one.about for one in reduced("chalked tape", chalk).findings if one.check == "gear-not-known"}
    assert about == {"gear/ST-041", "gear/W-9"}


@pytest.mark.parametrize("step", [0.0, 0.1])
def test_a_length_is_said_in_the_networks_unit(step: float) -> None:
    assert ReadingContext(Settings("m")).say(25.04, step) == ("25.04 m" if step == 0 else "25.0 m")


def test_water_of_a_measured_density_is_that_whatever_its_temperature() -> None:
    findings: list[Finding] = []
    water = water_at(
        written("30 degC", "degC", "temperature"),
        ReadingContext(),
        findings,
        written("1025.0 kg/m3", "kg/m3", "density"),
    )
    assert (water.temp_c, water.density_kg_m3) == (30.0, 1025.0)
    assert water.u_density_kg_m3 == pytest.approx(0.1 / 12**0.5)
    assert water.m_per_kpa == pytest.approx(1000 / 1025.0 / 9.80665)
    assert findings == []
