"""A made-up method on the sheet; run by test_a_new_method_at_every_door on a copy of the source that knows it."""

from __future__ import annotations

from typing import Any

from tapedown.values.reading_forms import readings_body, readings_from_body
from tests.web.browser.sheet_server import FenOffice
from tests.web.browser.sheet_steps import arrive, paired_with_round, send


def test_the_sheet_asks_works_out_and_sends(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-06"])
    arrive(page, "MF-06")
    page.get_by_text("Another method").click()
    page.get_by_role("button", name="+ graduated pole").click()
    page.locator("#set-1-pole").select_option("other")
    page.locator("#set-1-pole-other").fill("GP-1")
    page.locator("#set-1-foot_worn").fill("0.02")
    page.locator("#set-1-repeat-0-value").fill("6.31")
    page.locator("#set-1-another").click()
    page.locator("#set-1-repeat-1-value").fill("6.30")
    live = page.locator("#set-1 .live")
    live.get_by_text("graduated pole").or_(live.get_by_text("worn foot")).first.wait_for(
        state="attached", timeout=120_000
    )
    page.get_by_role("button", name="Next: Cleaning").click()
    page.get_by_role("button", name="Next: Remarks and photos").click()
    page.locator("#visit-wind").fill("hard")
    page.get_by_role("button", name="Next: Close").click()
    page.get_by_label("or write the name").fill("R. Alder")
    page.locator("dt", has_text="wind").wait_for()
    page.get_by_role("button", name="Close visit").click()
    page.get_by_text("is closed:").wait_for()
    send(page)
    visit = next(entry for entry in office.from_phones() if entry.kind == "visit").data
    assert visit["wind"] == "hard"
    body = next(entry for entry in office.from_phones() if entry.kind == "readings").data
    assert body["read"] == {"foot_worn": "0.02 ft", "pole": "GP-1", "readings": ["6.31 ft", "6.30 ft"]}
    assert readings_body(readings_from_body(body, "ft")[0]) == body  # type: ignore[arg-type]
