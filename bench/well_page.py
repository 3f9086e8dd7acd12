"""A well's page with a long logger record, and the start page of a large network, each beside the plain way.

Run with `python -m bench.well_page`; the first part needs Chromium (CHROMIUM, else /usr/bin/chromium).
"""

from __future__ import annotations

import asyncio
import json
import os
import sqlite3
import statistics
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import httpx
import jinja2
import numpy as np

from tapedown.record import append
from tapedown.reports.svg import number
from tapedown.reports.well_figure import NARROW, well_figure
from tapedown.reports.well_picture import LoggerTrace, PointMark, Tube, WellPicture
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.web.app import create_app
from tapedown.web.pages.common import HERE
from tapedown.work.authorship import Author
from tapedown.work.networks import start_network

POINTS = 700_000
WELLS = 10_000
RUNS = 5
LARGEST_KB = 450
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Rows of figures: drawing a long record, and looking at a large network."""
    drawn = _long_record(max(1000, round(POINTS * scale))) if Path(CHROMIUM).exists() else []
    return drawn + _large_network(max(50, round(WELLS * scale)))


def _picture(n: int) -> WellPicture:
    """Twenty years of a level that rises and falls with the year and wanders, with a gap."""
    rng = np.random.default_rng(1709)
    days = 730_000 + np.linspace(0.0, 7305.0, n)
    days[n // 2 :] += 120.0
    depth_m = 6 + 0.6 * np.sin(days / 365.25 * 2 * np.pi) + np.cumsum(rng.normal(0, 0.3 / n**0.5, n))
    tubes = (Tube("casing", 0.0, 20.0), Tube("screen", 20.0, 24.0))
    point = PointMark(729_000.0, 0.6, "MP-1")
    return WellPicture("MF-05", "ft", tubes, 25.0, points=(point,), series=(LoggerTrace("logger", days, depth_m),))


def _long_record(n: int) -> list[dict[str, Any]]:
    picture = _picture(n)
    with TemporaryDirectory() as folder:
        page, all_points = Path(folder, "page.html"), Path(folder, "all.html")

        def ours() -> None:
            page.write_text(_html(well_figure(picture) + well_figure(picture, NARROW)), encoding="utf-8")

        def peer() -> None:
            all_points.write_text(_html(_every_point(picture)), encoding="utf-8")

        ours_s, peer_s = _drawn(ours, page), _drawn(peer, all_points)
        ours_kb, peer_kb = (round(path.stat().st_size / 1000) for path in (page, all_points))
    assert ours_kb <= LARGEST_KB, f"{ours_kb} kB is more than {LARGEST_KB}"
    name = f"make and draw a well page with {n} points ({ours_kb} kB beside {peer_kb} kB)"
    return [_row(name, ours_s, "every point as one SVG path", peer_s, 0.5, n)]


def _html(figure: str) -> str:
    style = (HERE / "static" / "office.css").read_text(encoding="utf-8")
    return f'<!doctype html><meta charset="utf-8"><style>{style}</style><figure class="well-figure">{figure}</figure>'


def _every_point(picture: WellPicture) -> str:
    days, depths = (np.asarray(column) for column in picture.series[0][1:])
    x, y = (days - days[0]) / (days[-1] - days[0]) * 900, depths * 40
    d = "M" + "L".join(f"{number(a)} {number(b)}" for a, b in zip(x.tolist(), y.tolist()))
    return f'<svg viewBox="0 0 900 460"><path d="{d}" fill="none" stroke="#155f96"/></svg>'


def _drawn(make: Callable[[], None], page: Path) -> float:
    """Seconds from asking for the page until it stands on the screen, made anew each time."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)

        def once() -> float:
            tab = browser.new_page()
            start = time.perf_counter()
            make()
            tab.goto(page.as_uri())
            tab.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")
            took = time.perf_counter() - start
            tab.close()
            return took

        once()
        return statistics.median(once() for _ in range(RUNS))


def _large_network(wells: int) -> list[dict[str, Any]]:
    with TemporaryDirectory() as folder:
        author = Author("R. Alder", "desk")
        facts = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
        network = start_network(Path(folder, "fen"), facts, author)
        _fill(network.record, wells, author)
        app = create_app(Path(folder, "fen"), device="desk")
        client = httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://127.0.0.1")

        def look() -> float:
            start = time.perf_counter()
            found = asyncio.run(client.get("/"))
            assert found.status_code == 200
            assert f"of {wells} wells" in found.text
            return time.perf_counter() - start

        first_s, again_s = look(), statistics.median(look() for _ in range(RUNS))
        peer_s = statistics.median(_bare(Path(folder, "fen", "record.db")) for _ in range(RUNS))
        app.state.office.record.close()
        network.record.close()
    peer = "bare sqlite3 and a template, bodies unread"
    return [
        _row(f"start page of {wells} wells, everything worked out", first_s, peer, peer_s, None, wells),
        _row(f"start page of {wells} wells, looked at again", again_s, peer, peer_s, 2.0, wells),
    ]


def _fill(record: Any, wells: int, author: Author) -> None:
    """Each well with its point, position and four readings."""
    given = {"measuring point": {"name": "MP-1", "height": "3.40", "side": "above", "description": "notch"},
             "position": {"latitude": "43.1", "longitude": "-76.3", "land_surface": "39.84"}}  # fmt: skip
    bodies = {kind: KINDS[kind].body(KINDS[kind].read(fields, "ft")[0]) for kind, fields in given.items()}
    read, _ = readings_from_body({"method": "electric tape", "read": {"readings": ["15.02", "15.03"]}}, "ft")
    assert read is not None
    drafts = []
    for n in range(wells):
        about = about_well(f"W-{n:05d}")
        drafts.append(author.draft("well", about, {"code": about[5:], "name": f"well {n}"}))
        drafts += [author.draft(kind, about, body, measured_at="2015-05-01") for kind, body in bodies.items()]
        drafts += [
            author.draft("readings", about, readings_body(read), measured_at=f"2025-0{m}-14T10:20-04:00")
            for m in (2, 4, 6, 8)
        ]
    for start in range(0, len(drafts), 20_000):
        append(record, author.device, drafts[start : start + 20_000])


_TABLE = jinja2.Environment(autoescape=True).from_string(
    "<table>{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}</table>"
)


def _bare(path: Path) -> float:
    """Every well with the text of its newest reading, the first two hundred as a table."""
    start = time.perf_counter()
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute(
            "SELECT about, max(measured_at), body FROM entries WHERE kind = 'readings' GROUP BY about ORDER BY about"
        ).fetchall()
    assert _TABLE.render(rows=rows[:200])
    return time.perf_counter() - start


def _row(name: str, ours_s: float, peer: str, peer_s: float, aim: float | None, n: int) -> dict[str, Any]:
    return {
        "name": name,
        "ours_s": ours_s,
        "peer": peer,
        "peer_s": peer_s,
        "ratio": ours_s / peer_s,
        "aim": aim,
        "n": n,
    }


if __name__ == "__main__":
    for row in run():
        print(json.dumps(row))
