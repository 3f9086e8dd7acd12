"""How soon the field sheet can be written on, with no signal: a visit in the middle of its readings, opened again.

The peer is a page of one input, kept on the phone by a service worker in the same way: what the browser itself needs.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.web.browser.conftest import CHROMIUM, FLAGS, PHONE
from tests.web.browser.sheet_server import FenOffice
from tests.web.browser.sheet_steps import arrive, paired_with_round, read_chalk

from tapedown.work.marrow_fen import build

AIM = "< 0.3 s"
READY = """(id) => new Promise((done) => {
  const look = () => document.getElementById(id) ? done(performance.now()) : requestAnimationFrame(look);
  look();
})"""
PEER = """async () => {
  const cache = await caches.open((await caches.keys())[0]);
  const page = "<!doctype html><title>peer</title><input id='peer'>";
  await cache.put("/sheet/peer", new Response(page, { headers: { "Content-Type": "text/html" } }));
}"""


def ready_s(context: Any, address: str, identity: str) -> float:
    """Seconds from opening a page to its input standing there."""
    page = context.new_page()
    page.goto(address, wait_until="commit")
    found = float(page.evaluate(READY, identity)) / 1000
    page.close()
    return found


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """One row: median seconds until the reading that was being typed can be typed on."""
    if not Path(CHROMIUM).exists():
        return []
    from playwright.sync_api import sync_playwright

    times = max(3, round(15 * scale))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        build(Path(folder) / "fen").record.close()
        office = FenOffice(Path(folder) / "fen", Path(folder) / "office")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        context = browser.new_context(**PHONE)
        page = paired_with_round(context, office, ["MF-01", "MF-02"])
        arrive(page, "MF-01")
        read_chalk(page, [("22.00", "1.52"), ("23.00", "2.5")])
        page.evaluate(PEER)
        page.wait_for_timeout(1500)
        page.close()
        office.stop()
        ours = statistics.median(ready_s(context, office.address, "set-1-repeat-1-cut") for _ in range(times))
        peer = statistics.median(ready_s(context, f"{office.address}peer", "peer") for _ in range(times))
        browser.close()
    return [{"name": "field sheet opened again with no signal, until it can be written on", "ours_s": ours,
             "peer": "a page of one input, kept the same way", "peer_s": peer, "ratio": ours / peer, "aim": AIM,
             "n": times}]  # fmt: skip


if __name__ == "__main__":
    for row in run(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0):
        print(row)
