"""What a technician does on the sheet, step by step, by the words that stand on it."""

from __future__ import annotations

import time
from typing import Any

from tests.web.browser.sheet_server import FenOffice

WAITING = """async () => {
  const { waiting, photos } = await (await import('/sheet/outbox.js')).standing();
  return waiting + photos;
}"""
LINE = "async () => (await import('/sheet/outbox.js')).line"


def pair(page: Any, office: FenOffice, label: str = "phone of R. Alder") -> None:
    """Open the sheet by the address on the office's screen and pair."""
    page.goto(f"{office.address}#pair={office.code()}")
    page.get_by_label("What this phone is called").fill(label)
    page.get_by_role("button", name="Pair", exact=True).click()
    page.get_by_role("button", name="Take this round").first.wait_for()


def take_round(page: Any) -> None:
    """Take the first round and wait until the phone may drive off."""
    page.get_by_role("button", name="Take this round").first.click()
    page.get_by_text("Works with no signal").wait_for()


def paired_with_round(phone: Any, office: FenOffice, wells: list[str]) -> Any:
    """A page on which the round's wells are listed and the signal may go."""
    office.plan("May round", wells)
    page = phone.new_page()
    pair(page, office)
    take_round(page)
    return page


def arrive(page: Any, code: str) -> None:
    """Open a well of the round and go through its sections up to the readings."""
    page.get_by_role("link", name=code).click()
    page.get_by_role("button", name="This is the well").click()
    page.get_by_role("button", name="Next: What goes on").click()
    page.get_by_role("button", name="As usual: nothing going on").click()
    page.get_by_role("button", name="Next: Measuring point").click()
    page.get_by_role("button", name="as described").click()
    page.get_by_role("button", name="Next: Readings").click()


def read_chalk(page: Any, pairs: list[tuple[str, str]], number: int = 1) -> None:
    """A set by chalked tape."""
    page.get_by_role("button", name="+ chalked tape").click()
    for place, (hold, cut) in enumerate(pairs):
        if place:
            page.locator(f"#set-{number}-another").click()
        page.locator(f"#set-{number}-repeat-{place}-hold").fill(hold)
        page.locator(f"#set-{number}-repeat-{place}-cut").fill(cut)


def finish(page: Any, by: str = "R. Alder") -> None:
    """Clean, name who writes, close."""
    page.get_by_role("button", name="Next: Cleaning").click()
    page.get_by_role("button", name="wiped").click()
    page.get_by_role("button", name="Next: Remarks and photos").click()
    page.get_by_role("button", name="Next: Close").click()
    page.get_by_label("or write the name").fill(by)
    page.get_by_role("button", name="Close visit").click()
    page.get_by_text("is closed:").wait_for()


def kept(page: Any, store: str) -> list[Any]:
    """Rows of one of the phone's stores."""
    rows: list[Any] = page.evaluate("async (name) => (await import('/sheet/store.js')).all(name)", store)
    return rows


def all_sent(page: Any, within_s: float = 20) -> None:
    """Wait until nothing waits on the phone, and the bar says so."""
    until = time.monotonic() + within_s
    while page.evaluate(WAITING):
        if time.monotonic() > until:
            raise TimeoutError(f"still waiting on the phone after {within_s} s: {page.evaluate(LINE)}")
        page.wait_for_timeout(50)
    page.locator("#out", has_text="all sent").wait_for()


def send(page: Any) -> None:
    """Go to the phone's page, send, and wait until nothing waits."""
    page.evaluate("location.hash = '#phone'")
    page.get_by_role("heading", name="This phone").wait_for()
    page.get_by_role("button", name="Send now").dispatch_event("click")  # it may be sending by itself already
    all_sent(page)
