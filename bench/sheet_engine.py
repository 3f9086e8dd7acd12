"""How soon the engine answers on the sheet: our bundle beside the same source on the runtime's whole standard library.

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
    modules["sheet_engine"] = [".py", (here / "sheet_engine.txt").read_text(encoding="utf-8"), []]
    modules["itertools"][1] += "\n" + bundle.STAND_INS["itertools"]
    modules |= bundle.our_modules()
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
    return rows


if __name__ == "__main__":
    for row in run(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0):
        print(row)
