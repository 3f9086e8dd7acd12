"""The page of a logger series: the figure, its moves, treatments taken back and brought back, a point explained."""

from __future__ import annotations

import re

import pytest

from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork
from tests.web.conftest import Browser
from tests.work.test_logger_series import HOURS, START, air_kpa, dip, file_of, pressure, take, treatment

PAGE = "/wells/MF-07/series/level"


@pytest.fixture
def treatments(fen: OpenNetwork, author: Author) -> list[str]:
    """A logger with its barometer and two tape readings, both treated."""
    take(fen, author, "level", file_of(pressure()), "absolute pressure")
    take(fen, author, "air", file_of(air_kpa()), "air pressure")
    for hour in (0, HOURS - 1):
        dip(fen, author, hour)
    baro = treatment(fen, author, barometer={"series": "MF-07/air"})
    return [baro, treatment(fen, author, onto_the_tape={"share": "in time"})]


@pytest.mark.usefixtures("treatments")
def test_the_page_shows_the_figure_the_treatments_and_the_tape(office: Browser) -> None:
    text = office.get(PAGE).text
    assert "as logged, kPa" in text
    assert "depth below land surface, ft" in text
    assert "series MF-07/air" in text
    assert text.count("zero of the logger at") == 1
    assert '<a href="/wells/MF-07/series/level">level</a>' in office.get("/wells/MF-07").text


@pytest.mark.usefixtures("treatments")
def test_the_json_beside_the_page_tells_the_same(office: Browser) -> None:
    found = office.json(f"{PAGE}.json")
    assert found["rows"] == HOURS
    assert len(found["checks"]) == 2
    assert {"barometer", "onto_the_tape"} <= {name for t in found["treatments"] for name in t}


@pytest.mark.usefixtures("treatments")
def test_a_stretch_of_the_figure_is_drawn_anew(office: Browser) -> None:
    middle = START.timestamp() + HOURS * 1800
    answer = office.get(f"{PAGE}/figure.svg?from_s={middle}&to_s={middle + 86400}")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert float(answer.headers["x-from"]) == pytest.approx(middle, abs=1)
    assert answer.text.startswith("<svg ")
    assert answer.text.endswith("</svg>")
    whole = office.get(f"{PAGE}/figure.svg").text
    assert len(re.findall(r"[ML]", whole)) < 3 * 4 * 1700
    assert "12:00" in answer.text  # hours on the axis of a single day


@pytest.mark.usefixtures("treatments")
def test_a_stretch_outside_the_record_shows_the_record(office: Browser) -> None:
    assert office.get(f"{PAGE}/figure.svg?from_s=-1e10&to_s=-9e9").text == office.get(f"{PAGE}/figure.svg").text
    office.get(f"{PAGE}/figure.svg?from_s=soon", status=422)


def test_a_treatment_is_taken_back_and_brought_back(office: Browser, treatments: list[str]) -> None:
    fields = {"by": "R. Alder", "reason": "the wrong barometer"}
    office.post(f"{PAGE}/off/{treatments[0]}", fields)
    off = office.get(PAGE).text
    assert "10 m of water too much" in off
    assert "bring it back" in off
    office.post(f"{PAGE}/on/{treatments[0]}", {"by": "R. Alder", "reason": "the right one after all"})
    assert "10 m of water too much" not in office.get(PAGE).text


@pytest.mark.usefixtures("treatments")
def test_a_point_explains_itself(office: Browser) -> None:
    at_s = START.timestamp() + 500 * 3600
    text = office.get(f"{PAGE}/at?at_s={at_s + 600}").text
    assert "line 502 of level.csv" in text
    assert "water above the sensor" in text
    assert "shared in time" in text
    office.get(f"{PAGE}/at?at_s=1", status=404)


@pytest.mark.usefixtures("treatments")
def test_what_is_not_there_is_not_found(office: Browser) -> None:
    office.get("/wells/MF-07/series/nothing", status=404)
    office.get("/wells/MF-99/series/level", status=404)


@pytest.mark.usefixtures("treatments")
def test_a_barometer_has_a_page_too(office: Browser) -> None:
    text = office.get("/wells/MF-07/series/air").text
    assert "as logged, kPa" in text
    assert "None. Without a tape reading" in text
