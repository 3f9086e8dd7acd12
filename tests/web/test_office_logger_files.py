"""A logger's file taken in through the office: looked at, its profile mended, then entered as by the command line."""

from __future__ import annotations

import re

import pytest

from tapedown.exchange.loggers.profiles import read_profile
from tapedown.record import blob, entries
from tapedown.values.series.series import LoggerFile
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork
from tapedown.work.series.files import take_logger_file
from tests.web.conftest import HOME, Browser, visible
from tests.work.test_logger_series import HOURS, file_of, pressure

SENT = {"well": "MF-07", "series": "level", "logger": "LG-031"}


def send(office: Browser, data: bytes, *, name: str = "level.csv", status: int = 303, **more: str) -> str:
    found = office.post("/loggers/new", {**SENT, **more}, files={"file": (name, data)}, status=status)
    return found.headers["location"] if status == 303 else found.text


def field(page: str, name: str) -> str:
    """What a text area or hidden field holds."""
    found = re.search(rf'<textarea[^>]* name="{name}"[^>]*>(.*?)</textarea>', page, re.DOTALL) or re.search(
        rf'name="{name}" value="([^"]*)"', page
    )
    assert found is not None
    return found[1].replace("&#34;", '"')


def again(office: Browser, page: str, then: str, *, status: int = 303, **more: str) -> str:
    """The page sent again, with what is changed."""
    kept = {"kept": field(page, "kept"), "profile": field(page, "profile")}
    found = office.post("/loggers/new", {**SENT, **kept, "then": then, **more}, status=status)
    return found.headers["location"] if status == 303 else found.text


def test_a_file_is_looked_at_and_then_entered(office: Browser, fen: OpenNetwork) -> None:
    data = file_of(pressure())
    where = send(office, data)
    page = office.get(where).text
    told = visible(page)
    assert f"{HOURS + 1} lines: 1 above the table, {HOURS} rows taken in" in told
    assert "which clock?" in told
    assert "2 2026-01-10 00:00," in told
    assert entries(fen.record, kinds=["logger file"]) == []
    assert office.json(f"{where}.json")["account"]["rows"] == HOURS
    assert again(office, page, "enter") == "/wells/MF-07/series/level"
    assert f"{HOURS} rows from 2026-01-10" in visible(office.get("/wells/MF-07/series/level").text)
    [held] = entries(fen.record, kinds=["logger file"])
    assert (held.entry.by, held.entry.data["file"]) == ("R. Alder", "level.csv")
    assert blob(fen.record, held.entry.data["sha256"]).bytes == data


def test_a_file_from_the_page_is_the_one_from_the_command_line(
    office: Browser, fen: OpenNetwork, author: Author
) -> None:
    data = file_of(pressure())
    page = office.get(send(office, data)).text
    again(office, page, "enter")
    given = LoggerFile("level", "level.csv", "", "LG-031", read_profile(field(page, "profile").encode()), "")
    assert take_logger_file(fen, "MF-07", given, data, author).there_already


def test_a_profile_that_was_changed_is_looked_at_before_it_is_entered(office: Browser, fen: OpenNetwork) -> None:
    page = office.get(send(office, file_of(pressure()))).text
    changed = field(page, "profile").replace('"+00:00"', '"-05:00"')
    where = again(office, page, "enter", profile=changed)
    assert where.startswith("/loggers/")
    assert "from 2026-01-10T05:00" in visible(office.get(where).text)
    assert entries(fen.record, kinds=["logger file"]) == []


@pytest.mark.parametrize(
    ("was", "put", "said"),
    [
        ('name = "kPa"', 'name = "psi"', "column 'psi' is not there"),
        ('%Y-%m-%d', '%d.%m.%Y', "no line of level.csv gave a row"),
        ('zone = "+00:00"', 'zone = "Fen"', "clock.zone"),
        ('unit = "kPa"', 'unit = "stone"', "columns[1].unit"),
        ("[clock]", "[clock", "profile"),
        ("header_row", "heading", "header_row"),
    ],
)  # fmt: skip
def test_a_profile_that_does_not_fit_is_said_and_the_file_kept(office: Browser, was: str, put: str, said: str) -> None:
    page = office.get(send(office, file_of(pressure()))).text
    profile = field(page, "profile")
    assert was in profile
    wrong = again(office, page, "look", status=422, profile=profile.replace(was, put))
    assert said in visible(wrong)
    assert "level.csv is kept" in visible(wrong)
    assert put in wrong.replace("&#34;", '"')
    assert again(office, wrong, "look", profile=profile).startswith("/loggers/")


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (b"", "empty.csv"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(256)) * 20, "photo.png"),
        (b"PK\x03\x04broken", "book.xlsx"),
        (b"<html><body>no</body></html>", "page.csv"),
        (b"a" * 200_000, "long.csv"),
        (b'"' * 200_001, "quotes.csv"),
        (b"\xff\xfe" + b"\x00" * 999, "zeros.txt"),
    ],
)
def test_what_is_no_logger_file_is_refused_with_the_mend(
    office: Browser, fen: OpenNetwork, data: bytes, name: str
) -> None:
    page = send(office, data, name=name, status=422)
    assert "Nothing was written." in page
    assert '<a href="#f-file">' in page
    assert 'value="LG-031"' in page
    assert entries(fen.record, kinds=["logger file"]) == []


def test_a_well_or_a_series_that_cannot_be_is_said_beside_its_field(office: Browser) -> None:
    data = file_of(pressure())
    assert '<a href="#f-well">' in send(office, data, status=422, well="MF-99")
    assert '<a href="#f-well">' in send(office, data, status=422, well="")
    assert '<a href="#f-series">' in send(office, data, status=422, series="a/b")
    page = office.get(send(office, data)).text
    assert "nobody is named" in visible(again(office, page, "enter", status=422, by=""))


def test_a_larger_file_than_is_taken_is_refused(office: Browser) -> None:
    headers = {"origin": HOME, "content-type": "multipart/form-data; boundary=x", "content-length": "50000000"}
    assert office.ask("POST", "/loggers/new", content=b"x", headers=headers).status_code == 413


def test_lines_that_give_no_row_are_told_before_the_file_is_entered(office: Browser) -> None:
    told = visible(office.get(send(office, file_of(pressure()) + b"battery low,\n\n")).text)
    assert "1 set aside: not a time: battery low" in told


def test_the_page_of_a_series_leads_to_its_next_file(office: Browser) -> None:
    again(office, office.get(send(office, file_of(pressure()))).text, "enter")
    assert "/loggers/new?well=MF-07&amp;series=level" in office.get("/wells/MF-07/series/level").text
    assert 'value="level"' in office.get("/loggers/new?well=MF-07&series=level").text
    assert office.json("/loggers/new.json?well=MF-07")["given"] == {"well": "MF-07"}
    office.get("/loggers/none", status=404)
