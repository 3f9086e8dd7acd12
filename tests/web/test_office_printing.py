"""Sheets from the office: a click saves a PDF with the numbers of the page, as of the day the page is."""

from __future__ import annotations

import re

from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import OpenNetwork
from tapedown.work.rounds.planning import make_round
from tests.reports.printed import size_mm, words_of
from tests.web.conftest import Browser, visible


def link(page: str, words: str) -> str:
    found = re.search(rf'href="([^"]+)">{words}</a>', page)
    assert found is not None, words
    return found[1].replace("&amp;", "&")


def test_the_sheet_of_a_well_is_a_click_away_and_has_the_pages_numbers(office: Browser) -> None:
    page = office.get("/wells/MF-07").text
    answer = office.get(link(page, "sheet to print"))
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'attachment; filename="MF-07-2026-01-01.pdf"'
    values = re.findall(r"[\d.]+ ft ± [\d.]+", visible(page))
    text = words_of(answer.content)
    assert values
    assert all(value in text for value in values)


def test_the_report_is_a_click_away_from_the_start_page(office: Browser) -> None:
    answer = office.get(link(office.get("/").text, "report to print"))
    assert answer.headers["content-disposition"] == 'attachment; filename="Marrow-Fen-2026-01-01.pdf"'
    assert "MF-07 Alder Carr" in words_of(answer.content)


def test_a_page_of_an_earlier_day_prints_that_day(office: Browser) -> None:
    """Everything was entered on 1 January 2026; at the end of the day before nothing was known."""
    assert link(office.get("/wells/MF-07?as_of=2026-01-01").text, "sheet to print").endswith(
        "sheet.pdf?as_of=2026-01-01"
    )
    assert link(office.get("/?as_of=2026-01-01").text, "report to print") == "/report.pdf?as_of=2026-01-01"
    assert "as known on 1 Jan 2026" in words_of(office.get("/wells/MF-07/sheet.pdf?as_of=2026-01-01").content)
    assert "0 wells" in words_of(office.get("/report.pdf?as_of=2025-12-31").content)


def test_the_paper_may_be_asked_for_and_an_unknown_one_is_refused(office: Browser) -> None:
    assert size_mm(office.get("/wells/MF-07/sheet.pdf?paper=Letter").content) == (216, 279)
    assert "one of: A4, Letter" in visible(office.get("/report.pdf?paper=A3", status=422).text)


def test_what_is_not_there_has_no_sheet(office: Browser) -> None:
    office.get("/wells/MF-99/sheet.pdf", status=404)
    office.get("/report.pdf?round=spring", status=404)


def test_a_code_that_no_disk_takes_still_has_a_sheet(office: Browser, fen: OpenNetwork, author: Author) -> None:
    code = 'A/7 "x"\r\n#1.pdf é'.replace("\r\n", " ")
    enter_fact(fen, "well", code, {}, author)
    page = next(path for path in re.findall(r'href="(/wells/[^"]+)"', office.get("/").text) if "A%252F7" in path)
    answer = office.get(link(office.get(page).text, "sheet to print"))
    assert answer.headers["content-disposition"] == 'attachment; filename="A-7-x-1.pdf-2026-01-01.pdf"'
    assert code in words_of(answer.content)


def test_a_rounds_page_prints_the_rounds_report(office: Browser, fen: OpenNetwork, author: Author) -> None:
    entry = make_round(fen, {"name": "spring", "day": "2026-03-01", "wells": ["MF-07"]}, author)
    path = link(office.get(f"/rounds/{entry.id}").text, "report to print")
    assert "spring, 1 Mar 2026" in words_of(office.get(path).content)
