"""The blunders of Marrow Fen, found in its own record; and that being explained changes nothing in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.record import entries
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact, read_visit, write_visit
from tapedown.work.expected.explaining import Surprise, crossed_findings, explain_row, record_findings, surprises
from tapedown.work.marrow_fen import build
from tapedown.work.networks import OpenNetwork, gear_shelf, open_network, start_network
from tapedown.work.wells.files import well_codes
from tapedown.work.wells.history import find_row, history
from tests.work.conftest import SteppingClock

FT = 0.3048


@pytest.fixture(scope="module")
def fen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    """Marrow Fen."""
    network = build(tmp_path_factory.mktemp("marrow") / "fen")
    yield network
    network.record.close()


def found_in(network: OpenNetwork, code: str, *, struck: bool = False) -> list[Surprise]:
    shelf = gear_shelf(network)
    return surprises(network, history(network, code, shelf=shelf), shelf, struck=struck)


@pytest.mark.parametrize(
    ("code", "day", "name", "corrected_ft"),
    [
        ("MF-01", "2024-09-04", "whole mark misread", 20.08),
        ("MF-10", "2024-05-13", "one repeat misread", 10.13),
        ("MF-11", "2023-05-13", "wrong well", None),
        ("MF-12", "2022-11-12", "hold and cut swapped", 97.34),
        ("MF-12", "2023-02-11", "weight interval left out", 160.0),
    ],
)
def test_five_blunders_of_the_story_are_caught(
    fen: OpenNetwork, code: str, day: str, name: str, corrected_ft: float | None
) -> None:
    found = next(s for s in found_in(fen, code, struck=True) if s.row.entry.measured_at.startswith(day))
    first = found.explained.ranked[0]
    assert (first.name, found.explained.surprising) == (name, True)
    assert (
        first.corrected_m is None
        if corrected_ft is None
        else first.corrected_m == pytest.approx(corrected_ft * FT, abs=0.02 * FT)
    )
    assert found.finding is not None
    assert found.finding.message.count(name) >= 1


def test_nothing_else_of_the_story_is_called_a_blunder(fen: OpenNetwork) -> None:
    days = {(s.row.entry.about, s.row.entry.measured_at[:10]) for code in well_codes(fen) for s in found_in(fen, code)}
    assert len(days) == 4  # the fifth is struck
    assert all(record_findings(history(fen, code)) == [] for code in well_codes(fen))
    assert crossed_findings([history(fen, code) for code in well_codes(fen)]) == []


def test_a_row_is_held_against_what_was_known_before_it_alone(fen: OpenNetwork) -> None:
    shelf = gear_shelf(fen)
    told = history(fen, "MF-01", shelf=shelf)
    row = find_row(told, "2022-05-13 chalked tape")
    whole = explain_row(fen, told, row, shelf)
    until = told._replace(rows=told.rows[: told.rows.index(row) + 1])
    alone = explain_row(fen, until, row, shelf)
    assert whole is not None
    assert alone is not None
    assert whole.explained == alone.explained


def test_a_cut_down_casing_was_in_question_before_it_was_known(fen: OpenNetwork) -> None:
    then = fen._replace(as_of="2024-03-01T00:00:00.000000Z")
    shelf = gear_shelf(then)
    told = history(then, "MF-04", shelf=shelf)
    found = explain_row(then, told, find_row(told, "2023-09-04 chalked tape"), shelf)
    assert found is not None
    assert any(row.name == "measuring point changed unnoticed" for row in found.explained.ranked)


def test_explaining_writes_nothing(fen: OpenNetwork) -> None:
    before = [held.entry.id for held in entries(fen.record, struck=True)]
    for code in well_codes(fen):
        found_in(fen, code, struck=True)
    assert [held.entry.id for held in entries(fen.record, struck=True)] == before


def test_a_first_reading_is_unlike_nothing(tmp_path: Path) -> None:
    author = Author("R. Alder", "desk", SteppingClock())
    facts = {"name": "Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "Europe/London"}
    network = start_network(tmp_path / "fen", facts, author)
    enter_fact(network, "well", "W-1", {"code": "W-1"}, author)
    point = {"name": "MP-1", "height": "1.5", "side": "above", "description": "notch"}
    enter_fact(network, "measuring point", "W-1", point, author, measured_at="2020-01-01")
    visit = {"well": "W-1", "when": "2024-05-13T10:00", "people": ["R. Alder"],
             "readings": [{"method": "electric tape", "readings": ["24.00", "24.01"]}]}  # fmt: skip
    write_visit(network, read_visit(network, visit), author)
    assert found_in(network, "W-1") == []
    network.record.close()
    again = open_network(tmp_path / "fen")
    assert record_findings(history(again, "W-1")) == []
    again.record.close()
