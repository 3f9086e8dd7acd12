"""Handing on and taking in, as a person types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import VISIT, Run
from tests.work.test_taking_in import waterml


@pytest.fixture
def visited(fen: Run) -> Run:
    Path("visit.toml").write_text(VISIT)
    assert fen("visit", "visit.toml").code == 0
    return fen


def test_a_delivery_is_made_checked_and_taken_into_a_new_folder(visited: Run) -> None:
    made = visited("deliver", "out", "--as", "csv", "--as", "entries", "--unit", "ft", "--unit", "m")
    assert made.code == 0, made.err
    assert "1 wells" in made.out
    assert "SHA-256" in made.out
    checked = visited("verify", "--delivery", "out")
    assert checked.code == 0
    assert checked.out.startswith("sound: ")
    assert visited("-n", "again", "take-in", "out").code == 0
    assert visited("-n", "again", "heads").out == visited("heads").out
    assert visited("-n", "again", "history", "MF-07").out == visited("history", "MF-07").out


def test_a_changed_delivery_is_not_sound_and_says_which_file(visited: Run) -> None:
    assert visited("deliver", "out", "--as", "csv").code == 0
    Path("out/csv/wells.csv").write_text("well\nMF-99\n")
    told = visited("verify", "--delivery", "out")
    assert told.code == 7
    assert "csv/wells.csv" in told.out
    assert not json.loads(visited("verify", "--delivery", "out", "--json").out)["sound"]
    refused = visited("take-in", "out")
    assert refused.code == 7
    assert "was changed" in refused.err


def test_what_cannot_be_delivered_is_refused_with_the_mend(visited: Run) -> None:
    for arguments, word in (
        (("deliver", "out"), "--as"),
        (("deliver", "out", "--as", "dbf"), "the formats are"),
        (("deliver", "out", "--as", "csv", "--well", "MF-70"), "MF-07"),
        (("deliver", ".", "--as", "csv"), "nothing is overwritten"),
        (("take-in", "nowhere.zip"), "check the name"),
        (("take-in", "visit.toml"), "tapedown import"),
        (("verify", "--delivery", "."), "tapedown deliver"),
    ):
        told = visited(*arguments)
        assert told.code in {3, 4, 5}, arguments
        assert word in told.err, arguments
        assert not Path("out").exists()


def test_a_dry_run_writes_nothing_and_a_real_one_what_it_said(visited: Run) -> None:
    assert visited("deliver", "out.zip", "--as", "csv").code == 0
    start = ("start", "other", "--name", "Other Fen", "--unit", "m", "--datum", "ODN", "--zone", "Europe/London")
    assert visited(*start).code == 0
    before = visited("-n", "other", "heads").out
    dry = visited("-n", "other", "take-in", "out.zip", "--dry-run")
    assert "nothing was written" in dry.out
    assert visited("-n", "other", "heads").out == before
    assert "not taken: what these tables do not carry" in visited("-n", "other", "take-in", "out.zip").out
    assert "reported: total depth" in visited("-n", "other", "history", "MF-07").out


def test_a_series_nobody_knows_the_meaning_of_lists_what_it_may_be(visited: Run) -> None:
    Path("theirs.xml").write_bytes(waterml(("2026-05-14T10:20:00Z", "<wml2:value>12.3</wml2:value>")))
    for arguments in ((), ("--quantity", "stage")):
        told = visited("take-in", "theirs.xml", *arguments)
        assert told.code == 8
        assert "depth_to_water_below_land_surface" in told.out
    assert visited("take-in", "theirs.xml", "--quantity", "depth_to_water_below_land_surface").code == 0
    assert "12.3" in visited("history", "MF-31").out
