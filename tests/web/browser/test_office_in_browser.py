"""The office in a real browser: for everybody, on a telephone and a desk, without script."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tapedown.work.history import history
from tapedown.work.networks import open_network
from tests.web.browser.sheet_server import FenOffice

RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]},
    "resultTypes": ["violations"],
}
PAGES = ("/", "/?findings=any", "/wells/MF-02", "/wells/MF-03", "/wells/MF-06", "/wells/MF-04?as_of=2024-03-01",
         "/wells/MF-01?struck=true", "/wells/MF-04/points", "/wells/MF-02/visit", "/wells/new",
         "/wells/MF-02/facts/construction", "/wells/MF-02/facts/measuring%20point", "/gear", "/gear/ET-006",
         "/gear/new", "/gear/ST-014/facts/calibration", "/import", "/record?prove=true", "/settings", "/about",
         "/deliver", "/services",
         "/nothing", "value", "entry")  # fmt: skip


@pytest.fixture(scope="module")
def rooms(fen: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FenOffice]:
    """One office for all looks."""
    opened = FenOffice(fen, tmp_path_factory.mktemp("office"))
    yield opened
    opened.stop()


@pytest.fixture(scope="module")
def sounding(fen: Path) -> str:
    """The id of the last total depth of the deep, leaning well."""
    network = open_network(fen)
    with network.record:
        rows = history(network, "MF-03").rows
        return [row for row in rows if row.what == "weighted tape"][-1].entry.id


def _address(rooms: FenOffice, page: str, sounding: str) -> str:
    named = {"value": f"/wells/MF-03/values/{sounding}", "entry": f"/entries/{sounding}"}
    return f"http://127.0.0.1:{rooms.port}{named.get(page, page)}"


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_every_page_is_for_everybody_and_fits_the_screen(
    browser: Any, rooms: FenOffice, sounding: str, width: int, scheme: str
) -> None:
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(f"{page.url}: {message.text}"))
    wrong = []
    for path in PAGES:
        page.goto(_address(rooms, path, sounding))
        found = Axe().run(page, options=RULES)
        wrong += [f"{path}: {v['id']} {v['nodes'][0]['html'][:160]}" for v in found.response["violations"]]
        if page.evaluate("document.documentElement.scrollWidth") > width:
            wrong.append(f"{path} is wider than {width}")
    context.close()
    assert not wrong, "\n".join(wrong)
    assert not [line for line in said if "404" not in line]


def test_a_visit_is_entered_without_script(browser: Any, rooms: FenOffice) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(_address(rooms, "/wells/MF-02/visit", ""))
    page.get_by_label("when").fill("2026-05-14 10:20")
    page.get_by_label("static", exact=True).check()
    page.get_by_role("button", name="take this set away").click()
    page.get_by_label("another set by").select_option("weighted tape")
    page.get_by_role("button", name="add the set").click()
    page.get_by_label("weight interval").fill("1.20")
    page.get_by_label("reading 1").fill("80.50")
    page.get_by_role("button", name="add reading").click()
    page.get_by_label("reading 2").fill("80.51")
    page.get_by_label("reading 2").press("Enter")
    page.get_by_text("nothing is written yet").wait_for()
    assert page.get_by_label("when").input_value() == "2026-05-14 10:20"
    page.get_by_label("who writes").fill("R. Alder")
    page.get_by_role("button", name="enter in ink").click()
    assert "/values/" in page.url
    assert page.locator("p.big").inner_text().startswith("78.30 ft ±")
    context.close()


def test_the_figure_fits_a_printed_page(browser: Any, rooms: FenOffice) -> None:
    """On A4 and on letter, with text no smaller than 6.5 points."""
    for paper_mm in (210.0, 215.9):
        width = round((paper_mm - 30) / 25.4 * 96)
        context = browser.new_context(viewport={"width": width, "height": 1000})
        page = context.new_page()
        page.emulate_media(media="print")
        page.goto(_address(rooms, "/wells/MF-02", ""))
        figure = page.locator("svg.figure-wide").bounding_box()
        text = page.locator("svg.figure-wide text").first.bounding_box()
        assert page.locator("svg.figure-narrow").is_hidden()
        assert figure["width"] <= width
        assert figure["height"] <= 240 / 25.4 * 96
        assert text["height"] * 72 / 96 >= 6.5
        context.close()
