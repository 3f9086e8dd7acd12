"""The sheet can be read in sun and dark and pressed with a cold thumb: every state, light and dark, measured."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.web.browser.sheet_server import FenOffice
from tests.web.browser.sheet_steps import arrive, pair, read_chalk

pytestmark = pytest.mark.slow
LEAST_PX, LEAST_CONTRAST, WIDTH_PX = 56, 7.0, 390

SMALL = """(least) => [...document.querySelectorAll('button, input, select, textarea, summary, label.button, a')]
  .filter((one) => one.checkVisibility() && one.type !== 'file')
  .map((one) => ({ box: one.getBoundingClientRect(), what: one.outerHTML.slice(0, 90) }))
  .filter(({ box }) => box.height < least || box.width < least)
  .map(({ box, what }) => `${box.width.toFixed(0)} x ${box.height.toFixed(0)}: ${what}`)"""

PALE = """(least) => {
  const parts = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const light = (value) => (value /= 255) <= 0.03928 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
  const bright = ([r, g, b]) => 0.2126 * light(r) + 0.7152 * light(g) + 0.0722 * light(b);
  const behind = (one) => {
    for (; one; one = one.parentElement) {
      const found = parts(getComputedStyle(one).backgroundColor);
      if (found.length === 3 || found[3] === 1) return found;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const one of document.querySelectorAll('body *')) {
    const own = [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
    if (!one.checkVisibility() || !(own || one.value)) continue;
    const [a, b] = [bright(parts(getComputedStyle(one).color)), bright(behind(one))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < least) found.push(`${ratio.toFixed(2)}: ${one.outerHTML.slice(0, 90)}`);
  }
  return found;
}"""

CHECKS: dict[str, Callable[[Any], Any]] = {
    "violations": lambda page: [
        f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in Axe().run(page).response["violations"]
    ],
    "too small to press": lambda page: page.evaluate(SMALL, LEAST_PX),
    "too pale to read": lambda page: page.evaluate(PALE, LEAST_CONTRAST),
    "wider than the screen": lambda page: page.evaluate(
        "(width) => [document.documentElement.scrollWidth].filter((found) => found > width)", WIDTH_PX
    ),
}


def states(page: Any, office: FenOffice) -> Iterator[str]:
    """Walk through every state of the sheet; what stands on the page is named."""
    page.goto(office.address)
    page.get_by_role("heading", name="Make this phone known").wait_for()
    page.get_by_label("Code").fill("WRON-GWRN")
    page.get_by_role("button", name="Pair", exact=True).click()
    page.get_by_text("this code is not known").wait_for()
    yield "pairing refused"
    pair(page, office)
    yield "rounds"
    page.get_by_role("button", name="Take this round").click()
    page.get_by_text("Works with no signal").wait_for()
    for more in ("To take along", "Cautions for the day"):
        page.get_by_text(more).click()
    yield "wells of a round"
    page.get_by_role("link", name="MF-01").click()
    page.get_by_role("button", name="This is the well").wait_for()
    yield "a visit begun"
    page.go_back()
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "3.51"), ("23.00", "2.5x")])
    page.get_by_role("button", name="cross out or put back reading 2").click()
    page.get_by_text("How it was worked out").click()
    page.get_by_text("Another method").click()
    for number, method in enumerate(("weighted tape", "air line", "flowing gauge", "logger check", "oil on water"), 2):
        page.get_by_role("button", name=f"+ {method}").click()
        page.locator(f"#set-{number} > details > summary", has_text="More about this set").click()
    page.get_by_text("Last readings", exact=True).first.wait_for()
    for section in (1, 2, 3, 4, 6, 7, 8):
        if not page.locator(f"#section-{section}[open]").count():
            page.locator(f"#section-{section}-top").click()
    page.get_by_text("Something goes on").click()
    page.get_by_text("No reading today").click()
    words = (
        "not reached",
        "running",
        "drawing",
        "tide or stream",
        "oil",
        "tape hung up",
        "no key to the cap",
        "changed",
    )
    for word in words:
        page.get_by_role("button", name=word, exact=True).click()
    page.get_by_text("do not sound").first.wait_for()
    page.locator("#section-8-top").click()
    page.locator("#section-8-top").click()
    yield "every section of a visit open"
    page.goto(f"{office.address}#phone")
    page.get_by_role("heading", name="This phone").wait_for()
    yield "this phone"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_state_is_accessible_large_and_strong_enough(phone: Any, office: FenOffice, scheme: str) -> None:
    office.plan("May round", ["MF-01", "MF-07", "MF-06"])
    page = phone(color_scheme=scheme).new_page()
    wrong = {}
    for state in states(page, office):
        for name, check in CHECKS.items():
            if found := check(page):
                wrong[f"{state}, {name}"] = found
    assert wrong == {}


def test_dark_and_light_can_be_switched_and_the_choice_stays(phone: Any, office: FenOffice) -> None:
    page = phone(color_scheme="light").new_page()
    page.goto(office.address)
    paper = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(paper)
    page.get_by_role("button", name="switch to dark").click()
    dark = page.evaluate(paper)
    assert dark != light
    page.reload()
    assert page.evaluate(paper) == dark
