"""A treatment added in the office: its form, what it would change, then ink; the same entry as by command line."""

from __future__ import annotations

from typing import Any

import pytest

from tapedown.record import entries
from tapedown.values.series.treatments import TREATMENTS
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork, network_of
from tapedown.work.series.changes import add_treatment
from tapedown.work.series.corrected import corrected
from tests.web.conftest import Browser, visible
from tests.work.test_logger_series import HOURS, air_kpa, dip, file_of, pressure, take, treatment

SERIES = "/wells/MF-07/series/level"
TAPE = f"{SERIES}/treatments/onto%20the%20tape"
IN_TIME = {"onto_the_tape.share": "in time", "why": "two readings"}


@pytest.fixture
def logged(fen: OpenNetwork, author: Author) -> OpenNetwork:
    """A logger with its barometer taken off, and two tape readings."""
    take(fen, author, "level", file_of(pressure()), "absolute pressure")
    take(fen, author, "air", file_of(air_kpa()), "air pressure")
    for hour in (0, HOURS - 1):
        dip(fen, author, hour)
    treatment(fen, author, barometer={"series": "MF-07/air"})
    return fen


def bodies(network: OpenNetwork) -> list[dict[str, Any]]:
    return [held.entry.data for held in entries(network.record, kinds=["treatment"])]


def test_a_treatment_is_looked_at_before_it_is_entered(office: Browser, logged: OpenNetwork) -> None:
    before = len(bodies(logged))
    told = visible(office.post(TAPE, {**IN_TIME, "then": "look"}, status=200).text)
    assert "Nothing is written yet" in told
    assert f"rows that get a depth {HOURS}" in told
    assert "moved then" in told
    assert "-0.09" in told or "+0.09" in told  # the 3 cm it drifts, in feet
    assert len(bodies(logged)) == before
    office.post(TAPE, {**IN_TIME, "then": "enter"})
    assert "onto the tape : share in time" in visible(office.get(SERIES).text)


def test_a_treatment_from_the_page_is_the_one_from_the_command_line(
    office: Browser, logged: OpenNetwork, author: Author
) -> None:
    given = {"share": "in time", "walk": "0.1", "handled": ["2026-02-01T10:00+00:00"]}
    add_treatment(logged, "MF-07", "level", "onto the tape", given, why="two readings", author=author)
    fields = {**IN_TIME, "onto_the_tape.walk": "0.1", "onto_the_tape.handled[1]": "2026-02-01T10:00+00:00"}
    office.post(TAPE, {**fields, "then": "enter"})
    one, other = bodies(logged)[-2:]
    assert one == other


def test_what_was_looked_at_is_what_is_then_shown(office: Browser, logged: OpenNetwork) -> None:
    """The series worked out for the look is the one the page shows once the treatment is entered."""
    office.post(TAPE, {**IN_TIME, "then": "look"}, status=200)
    office.post(TAPE, {**IN_TIME, "then": "enter"})
    found = corrected(network_of(logged.record), "MF-07", "level").rows.collect()
    assert found["depth_m"].null_count() == 0


@pytest.mark.usefixtures("logged")
@pytest.mark.parametrize("does", list(TREATMENTS))
def test_every_treatment_has_its_form_and_its_json(office: Browser, does: str) -> None:
    path = f"{SERIES}/treatments/{does.replace(' ', '%20')}"
    page = office.get(path).text
    told = office.json(f"{path}.json")
    assert [field["name"] for field in told["fields"]] == [field.name for field in TREATMENTS[does].fields]
    for field in TREATMENTS[does].fields:
        assert field.name.replace("_", " ") in page
    assert path.replace("%20", " ") in office.get(SERIES).text.replace("%20", " ")


@pytest.mark.usefixtures("logged")
@pytest.mark.parametrize(
    ("does", "fields", "said"),
    [
        ("onto the tape", {"onto_the_tape.walk": "far"}, "walk"),
        ("onto the tape", {"onto_the_tape.share": "by steps"}, "steps need the times of handling"),
        ("barometer", {"barometer.series": "MF-99/air"}, "MF-99"),
        ("barometer", {"barometer.series": "MF-07/nothing"}, "MF-07/nothing"),
        ("barometer", {"barometer.series": "MF-07/level"}, "cannot be corrected by itself"),
        ("quality tests", {"quality_tests.neighbour": "MF-07/none"}, "MF-07/none"),
        ("water", {}, "nothing is given"),
        ("set aside", {"set_aside.start": "2026-02-02T00:00+00:00", "set_aside.end": "2026-02-01T00:00+00:00",
                       "set_aside.because": "in air"}, "does not lie after"),
        ("clock drift", {"clock_drift.set_at": "2026-02-02T00:00+00:00", "clock_drift.fast_by": "3 min",
                         "clock_drift.read_at": "2026-02-02T00:00+00:00"}, "does not lie after"),
        ("clock shift", {"clock_shift.add": "60", "clock_shift.start": "2026-02-02 10:00"}, "offset"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_beside_its_field_and_nothing_typed_is_lost(
    office: Browser, does: str, fields: dict[str, str], said: str
) -> None:
    path = f"{SERIES}/treatments/{does.replace(' ', '%20')}"
    page = office.post(path, {**fields, "why": "seen at the well", "then": "enter"}, status=422).text
    assert said in visible(page)
    assert "Nothing was written." in page
    assert 'value="seen at the well"' in page
    for value in fields.values():
        assert value in page


@pytest.mark.usefixtures("logged")
def test_a_treatment_needs_a_name_and_a_reason(office: Browser, fen: OpenNetwork) -> None:
    before = len(bodies(fen))
    assert "nobody is named" in visible(office.post(TAPE, {**IN_TIME, "by": "", "then": "enter"}, status=422).text)
    office.post(TAPE, {"onto_the_tape.share": "in time", "then": "enter"}, status=422)
    assert len(bodies(fen)) == before


@pytest.mark.usefixtures("logged")
def test_another_row_of_a_list_is_asked_for_without_losing_what_was_typed(office: Browser) -> None:
    fields = {"onto_the_tape.handled[1]": "2026-02-01T10:00+00:00", "add": "onto_the_tape.handled"}
    page = office.post(TAPE, fields, status=200).text
    assert 'name="onto_the_tape.handled[2]"' in page
    assert "2026-02-01T10:00+00:00" in page


@pytest.mark.usefixtures("logged")
def test_a_stretch_that_would_be_refused_is_told_before_it_is_entered(
    office: Browser, fen: OpenNetwork, author: Author
) -> None:
    fields = {**IN_TIME, "onto_the_tape.drift_share_max": "0.01", "then": "look"}
    told = visible(office.post(TAPE, fields, status=200).text)
    assert "refused anew 2026-01-10" in told


@pytest.mark.usefixtures("logged")
def test_a_treatment_or_a_series_nobody_knows_is_told(office: Browser) -> None:
    assert "there is no treatment" in visible(office.get(f"{SERIES}/treatments/magic", status=404).text)
    office.get("/wells/MF-07/series/none/treatments/water", status=404)
