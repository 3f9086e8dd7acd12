"""How soon the engine answers on the sheet: our bundle beside the same source on the runtime's whole standard library;
and a reading explained beside the same reading only worked out.

Headless Chromium, new browser each time, page and worker; 4x means the page's processor throttled four times (that does
not reach a worker, so the engine is timed on the page there).
"""

from __future__ import annotations

import http.server
import json
import statistics
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import Any

from tapedown.web.sheet.engine import bundle

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
GIVEN = {"length_unit": "ft", "method": "weighted tape", "readings": ["84.30", "84.31"], "weight_interval": "1.20"}
POINT = {"name": "MP-1", "height": "1.50", "side": "above", "description": "notch"}
LEVEL = {"on": "2025-05-14", "readings": 40, "dry": 0, "set_aside": 0, "centre_m": 6.858,
         "middles_m": [0.0, 0.01, -0.02, 0.0, 0.0, 0.005], "spreads_m2": [1e-6] + [0.0] * 20,
         "still_m2": 2e-3, "forget_d": 400.0, "noise_m2": 2e-5, "dof": 4.5, "neighbours": []}  # fmt: skip
ASKED = {"expecting": {"what": "level", "day": "2025-09-02", "length_unit": "ft", "expected": {"level": LEVEL}},
         "points": [{**POINT, "height": "2.12"}],
         "others": [{"code": f"MF-{i}", "expected": {"level": LEVEL}, "point": POINT} for i in range(5)]}  # fmt: skip
EXPLAINED = [
    {"length_unit": "ft", "point": POINT, "when": "2025-09-02", "explaining": ASKED, **read}
    for read in (
        {"method": "electric tape", "readings": ["25.00"]},
        {"method": "electric tape", "readings": ["42.00", "42.01"]},
        {"method": "chalked tape", "readings": [{"hold": "27.00", "cut": "2.00"}]},
        {"method": "chalked tape", "readings": [{"hold": "27.00", "cut": "2.00"}, {"hold": "28.00", "cut": "3.99"}]},
        {"method": "chalked tape", "readings": [{"hold": f"{h}.00", "cut": f"{h - 24}.01"} for h in (27, 28, 30)]},
    )
]
"""Readings a foot off and worse, one to three repeats, with the five nearest wells of the round."""
TIMED = """([sets, times]) => {
  const best = { tapedownExplain: [], tapedownReduce: [] };
  for (const given of sets)
    for (const name of Object.keys(best)) {
      const { explaining, ...plain } = given;
      const texts = (name === 'tapedownExplain' ? [plain, explaining] : [plain]).map((part) => JSON.stringify(part));
      let least = Infinity;
      for (let turn = 0; turn < times; turn += 1) {
        const began = performance.now();
        self[name]('1', ...texts);
        least = Math.min(least, performance.now() - began);
      }
      best[name].push(least);
    }
  return best;
}"""
PAGE = """<!doctype html><meta charset="utf-8"><title>engine</title><script>self.began = performance.now()</script>
<script src="brython.js"></script><script src="{source}"></script><script>
__BRYTHON__.parse_options({{debug: 0}});
__BRYTHON__.runPythonSource("import sheet_engine");
tapedownReduce("1", '{given}');
self.answered = performance.now() - began;
</script>"""


def whole_library() -> bytes:
    """The same modules of ours on the runtime's own standard library, with the pairwise that it lacks."""
    runtime = files("brython") / "data"
    text = (runtime / "brython_stdlib.js").read_text(encoding="utf-8")
    modules, _ = json.JSONDecoder().raw_decode(text[text.index("{", text.index("var scripts")) :])
    here = files("tapedown.web.sheet.engine")
    for name in ("sheet_engine", "sheet_explaining"):
        modules[name] = [".py", (here / f"{name}.txt").read_text(encoding="utf-8"), []]
    modules["itertools"][1] += "\n" + bundle.STAND_INS["itertools"]
    modules |= {"quick": [".py", "", []], **bundle.our_modules()}
    return f"__BRYTHON__.use_VFS = true;\n__BRYTHON__.update_VFS({json.dumps(modules)});\n".encode()


@contextmanager
def served() -> Iterator[str]:
    """The files on loopback."""
    pages = {**bundle.engine_files(), "whole.js": whole_library()}
    for name, source in (("ours", "engine.js"), ("whole", "whole.js")):
        pages[f"{name}.html"] = PAGE.format(source=source, given=json.dumps(GIVEN)).encode()

    class Files(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = pages.get(self.path.lstrip("/"), b"")
            self.send_response(200)
            self.send_header("Content-Type", "text/javascript" if self.path.endswith(".js") else "text/html")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_args: Any) -> None:
            """Nothing to say."""

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Files)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


def answered_s(playwright: Any, base: str, page_name: str, slower: int) -> float:
    """Seconds from the page's start to the first answer, in a new browser."""
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    try:
        page = browser.new_page()
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
        page.goto(f"{base}/{page_name}.html", timeout=90_000)
        page.wait_for_function("self.answered !== undefined", timeout=90_000)
        return float(page.evaluate("self.answered")) / 1000
    finally:
        browser.close()


def explained_s(playwright: Any, base: str, slower: int, times: int) -> tuple[float, float]:
    """Seconds to explain a surprising reading, and to work it out alone: median of the sets, each at its best."""
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    try:
        page = browser.new_page()
        page.goto(f"{base}/ours.html", timeout=90_000)
        page.wait_for_function("self.answered !== undefined", timeout=90_000)
        page.evaluate('__BRYTHON__.runPythonSource("import sheet_explaining")')
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
        best = page.evaluate(TIMED, [EXPLAINED, times])
        return statistics.median(best["tapedownExplain"]) / 1000, statistics.median(best["tapedownReduce"]) / 1000
    finally:
        browser.close()


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Rows for 1x and 4x, medians."""
    if not Path(CHROMIUM).exists():
        return []
    from playwright.sync_api import sync_playwright

    times = max(1, round(5 * scale))
    rows = []
    with served() as base, sync_playwright() as playwright:
        for slower, aim in ((1, "< 1.5 s"), (4, "< 5 s")):
            ours, whole = (
                statistics.median(answered_s(playwright, base, name, slower) for _ in range(times))
                for name in ("ours", "whole")
            )
            rows.append({"name": f"engine's first answer in the browser, {slower}x", "ours_s": ours,
                         "peer": "same source, runtime's whole library", "peer_s": whole, "ratio": ours / whole,
                         "aim": aim, "n": times})  # fmt: skip
        for slower in (1, 4):
            explain_s, reduce_s = explained_s(playwright, base, slower, max(5, round(20 * scale)))
            rows.append({"name": f"a reading explained in the browser, {slower}x", "ours_s": explain_s,
                         "peer": "the same reading worked out alone", "peer_s": reduce_s,
                         "ratio": explain_s / reduce_s, "aim": "< 0.1 s at 4x", "n": len(EXPLAINED)})  # fmt: skip
    return rows


if __name__ == "__main__":
    for row in run(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0):
        print(row)
