"""Printing from the command line."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import VISIT, Run
from tests.reports.printed import size_mm, words_of


def entered(fen: Run) -> Run:
    Path("visit.toml").write_text(VISIT, encoding="utf-8")
    assert fen("visit", "visit.toml").code == 0
    return fen


def test_a_well_sheet_and_a_report_are_written_and_their_size_told(fen: Run) -> None:
    run = entered(fen)
    ran = run("print", "well", "MF-07", "sheet.pdf", "--paper", "Letter")
    assert ran.code == 0, ran.err
    assert ran.out.startswith("wrote sheet.pdf (")
    sheet = Path("sheet.pdf").read_bytes()
    assert size_mm(sheet) == (216, 279)
    assert "82.10 ft ± " in words_of(sheet)
    assert run("print", "network", "report.pdf").code == 0
    assert "MF-07 Alder Carr" in words_of(Path("report.pdf").read_bytes())


def test_two_runs_as_of_a_day_write_the_same_file(fen: Run) -> None:
    run = entered(fen)
    for name in ("one.pdf", "two.pdf"):
        assert run("print", "well", "MF-07", name, "--as-of", "2099-05-14").code == 0
    assert Path("one.pdf").read_bytes() == Path("two.pdf").read_bytes()
    assert "as known on 14 May 2099" in words_of(Path("one.pdf").read_bytes())


def test_a_figure_and_a_map_are_written_as_drawings(fen: Run) -> None:
    run = entered(fen)
    place = ("latitude=43.1", "longitude=-76.3")
    assert run("add", "position", "MF-07", *place, "--from", "2015-05-01").code == 0
    assert run("print", "figure", "MF-07", "figure.svg").code == 0
    assert run("print", "map", "map.svg").code == 0
    assert Path("figure.svg").read_text(encoding="utf-8").startswith("<svg ")
    assert ">MF-07<" in Path("map.svg").read_text(encoding="utf-8")


def test_a_map_without_a_position_is_refused_with_the_mend(fen: Run) -> None:
    ran = fen("print", "map", "map.svg")
    assert ran.code == 3
    assert "latitude" in ran.err
    assert not Path("map.svg").exists()


def test_a_file_that_is_no_sheet_is_left_alone_and_a_sheet_is_renewed(fen: Run) -> None:
    notes = Path("notes.txt")
    notes.write_text("keys under the mat", encoding="utf-8")
    ran = fen("print", "well", "MF-07", "notes.txt")
    assert ran.code == 3
    assert "left as it is" in ran.err
    assert notes.read_text(encoding="utf-8") == "keys under the mat"
    Path("sheet.pdf").write_bytes(b"%PDF-1.7 old")
    assert fen("print", "well", "MF-07", "sheet.pdf").code == 0
    assert len(Path("sheet.pdf").read_bytes()) > 1000


def test_a_place_that_cannot_be_written_is_told_with_the_mend(fen: Run) -> None:
    ran = fen("print", "well", "MF-07", "no/such/folder/sheet.pdf")
    assert ran.code == 3
    assert "no/such/folder/sheet.pdf cannot be written" in ran.err
    assert "name another place" in ran.err


def test_what_is_not_there_is_refused_and_nothing_is_written(fen: Run) -> None:
    assert fen("print", "well", "MF-08", "sheet.pdf").code == 5
    assert fen("print", "network", "report.pdf", "--round", "spring").code == 5
    assert not Path("sheet.pdf").exists()
    assert not Path("report.pdf").exists()
