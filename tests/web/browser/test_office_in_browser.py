"""The office in a real browser: for everybody, on a telephone and a desk, without script."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tapedown.values.progress import Progress, Watch
from tapedown.web import working
from tapedown.work.networks import open_network
from tapedown.work.wells.history import history
from tests.web.browser.sheet_server import FenOffice
from tests.web.test_office_import import MAPPING

RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]},
    "resultTypes": ["violations"],
}
PAGES = ("/", "/?findings=any", "/wells/MF-02", "/wells/MF-03", "/wells/MF-06", "/wells/MF-04?as_of=2024-03-01",
         "/wells/MF-01?struck=true", "/wells/MF-04/points", "/wells/MF-02/visit", "/wells/new",
         "/wells/MF-02/facts/construction", "/wells/MF-02/facts/measuring%20point", "/gear", "/gear/ET-006",
         "/gear/new", "/gear/ST-014/facts/calibration", "/gear/ET-006/facts/side%20by%20side", "/rounds", "/pair",
         "/review", "/repeats", "/signed", "/signed/2024?prove=true", "/import", "/take-in", "/record?prove=true",
         "/settings", "/wells/MF-11/series/level", "/wells/MF-11/series/level/at?at_s=1730000000",
         "/wells/MF-11/series/level/treatments/onto%20the%20tape",
         "/wells/MF-11/series/level/treatments/quality%20tests",
         "/loggers/new?well=MF-11", "/deliver", "/services",
         "/about", "/wells/MF-02/papers/new", "/nothing", "value", "entry", "round", "working")  # fmt: skip


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


@pytest.fixture(scope="module")
def named(rooms: FenOffice, sounding: str) -> Iterator[dict[str, str]]:
    """Pages whose address is known only here: a value, an entry, a round, work that is not done yet."""
    gate = Event()

    def work(watch: Watch) -> None:
        watch(Progress("lines read", 3000, 21532))
        gate.wait(120)

    token = rooms.app.state.office.working.start("looking at levels.csv", work, str, "held for the tests")
    yield {
        "value": f"/wells/MF-03/values/{sounding}",
        "entry": f"/entries/{sounding}",
        "round": f"/rounds/{rooms.plan('along the drain', ['MF-02', 'MF-05'])}",
        "working": f"/working/{token}",
    }
    gate.set()


def _address(rooms: FenOffice, page: str, named: Mapping[str, str]) -> str:
    return f"http://127.0.0.1:{rooms.port}{named.get(page, page)}"


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_every_page_is_for_everybody_and_fits_the_screen(
    browser: Any, rooms: FenOffice, named: dict[str, str], width: int, scheme: str
) -> None:
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(f"{page.url}: {message.text}"))
    wrong = []
    for path in PAGES:
        page.goto(_address(rooms, path, named))
        if path != "working":  # the first look over all wells may go by way of its progress
            page.wait_for_url(lambda url: "/working/" not in url)
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
    page.goto(_address(rooms, "/wells/MF-02/visit", {}))
    page.get_by_label("when").fill("2026-05-14 10:20")
    page.get_by_label("as usual: nothing going on").check()
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


TABLE = "well,date,level\n" + "".join(f"MF-02,19{year}-05-14,31.{year}\n" for year in range(50, 90))


def test_an_import_that_takes_long_shows_how_far_it_has_come_and_ends_at_its_lines(
    browser: Any, rooms: FenOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(working, "PATIENCE_S", 0.0)
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page, passed = context.new_page(), []
    page.on("request", lambda asked: passed.append(asked.url))  # the page of progress may be left at once
    page.goto(_address(rooms, "/import", {}))
    page.get_by_label("table").set_input_files({"name": "l.csv", "mimeType": "text/csv", "buffer": TABLE.encode()})
    page.get_by_label("mapping", exact=True).fill(MAPPING.decode())
    page.get_by_role("button", name="look at every line").click()
    page.get_by_label("who writes").fill("J. Sedge")
    assert not Axe().run(page, options=RULES).response["violations"]
    page.get_by_role("button", name="enter 40 lines in ink").click()
    page.get_by_text("the entry that says so").wait_for()
    assert any("/working/" in url for url in passed)
    context.close()


def test_the_figure_fits_a_printed_page(browser: Any, rooms: FenOffice) -> None:
    """On A4 and on letter, with text no smaller than 6.5 points."""
    for paper_mm in (210.0, 215.9):
        width = round((paper_mm - 30) / 25.4 * 96)
        context = browser.new_context(viewport={"width": width, "height": 1000})
        page = context.new_page()
        page.emulate_media(media="print")
        page.goto(_address(rooms, "/wells/MF-02", {}))
        figure = page.locator("svg.figure-wide").bounding_box()
        text = page.locator("svg.figure-wide text").first.bounding_box()
        assert page.locator("svg.figure-narrow").is_hidden()
        assert figure["width"] <= width
        assert figure["height"] <= 240 / 25.4 * 96
        assert text["height"] * 72 / 96 >= 6.5
        context.close()


def test_a_series_is_moved_and_brought_nearer_and_a_place_in_it_explained(browser: Any, rooms: FenOffice) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(message.text))
    page.goto(_address(rooms, "/wells/MF-11/series/level", {}))
    figure = page.locator("#series svg:visible")
    whole = figure.get_attribute("aria-label")
    box = page.locator("#series").bounding_box()
    page.mouse.move(box["x"] + 600, box["y"] + 300)
    page.mouse.wheel(0, -300)
    page.wait_for_function("was => document.querySelector('#series svg').getAttribute('aria-label') !== was", arg=whole)
    nearer = figure.get_attribute("aria-label")
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 300, steps=4)
    page.mouse.up()
    page.wait_for_function(
        "was => document.querySelector('#series svg').getAttribute('aria-label') !== was", arg=nearer
    )
    assert "from_s=" in page.url
    page.get_by_role("link", name="whole", exact=True).click()
    page.wait_for_function("was => document.querySelector('#series svg').getAttribute('aria-label') === was", arg=whole)
    page.mouse.click(box["x"] + 600, box["y"] + 300)
    page.get_by_role("heading", name="Step by step").wait_for()
    assert "water above the sensor" in page.inner_text("main")
    assert said == []
    context.close()


def test_a_series_is_moved_without_script(browser: Any, rooms: FenOffice) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(_address(rooms, "/wells/MF-11/series/level", {}))
    whole = page.locator("#series svg:visible").get_attribute("aria-label")
    page.get_by_role("link", name="nearer", exact=True).click()
    assert page.locator("#series svg:visible").get_attribute("aria-label") != whole
    context.close()
