"""Fifty well sheets beside matplotlib drawing the same readings and setting the same table; a report of fifty wells.

Run with `python -m bench.printing`. Every sheet is another well's, and each is made once: typst remembers what it has
set, so a second time would flatter it.
"""

from __future__ import annotations

import io
import json
import math
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from tapedown.record import append
from tapedown.reports.well_picture import BOTTOM, WellPicture
from tapedown.reports.well_sheet import WellSheet, well_sheet
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork, start_network
from tapedown.work.printing.network_report import print_network
from tapedown.work.printing.well_sheets import print_well, sheet_of

WELLS, READINGS = 50, 40
DAY = "2026-05-14"
A4_IN = (8.27, 11.69)
AIM = 1.0


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Rows of figures."""
    wells = max(3, round(WELLS * scale))
    with TemporaryDirectory() as folder:
        network = _network(Path(folder, "fen"), wells + 1)
        codes = [f"W-{n:03d}" for n in range(wells)]
        sheets = [sheet_of(network, code, DAY) for code in codes]
        warm = sheet_of(network, f"W-{wells:03d}", DAY)
        well_sheet(warm, paper="Letter", day=DAY)
        _peer(warm)
        ours_s = _timed(lambda: [well_sheet(sheet, paper="A4", day=DAY) for sheet in sheets])
        peer_s = _timed(lambda: [_peer(sheet) for sheet in sheets])
        whole_s = _timed(lambda: [print_well(network, code, paper="Letter") for code in codes])
        report_s = _timed(lambda: print_network(network, paper="A4"))
        network.record.close()
    peer = "matplotlib, the same readings drawn and the same table set"
    return [
        _row(f"set {wells} well sheets of two pages", ours_s, peer, peer_s, wells),
        _row(f"{wells} well sheets, read from the record and worked out too", whole_s, peer, peer_s, wells),
        _row(f"report of {wells + 1} wells, read and worked out too", report_s, "", None, wells),
    ]


def _network(folder: Path, wells: int) -> OpenNetwork:
    """Wells with facts, forty levels by electric tape and a sounding each."""
    author = Author("R. Alder", "desk")
    facts = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    network = start_network(folder, facts, author)
    given: dict[str, dict[str, Any]] = {
        "measuring point": {"name": "MP-1", "height": "3.40", "side": "above", "description": "notch, north side"},
        "position": {"latitude": "43.1", "longitude": "-76.3", "land_surface": "39.84", "vertical_datum": "NAVD88"},
        "construction": {"completed_depth": "82.1", "screens": [{"top": "70", "bottom": "80"}]},
    }
    bodies = {kind: KINDS[kind].body(KINDS[kind].read(fields, "ft")[0]) for kind, fields in given.items()}
    drafts = []
    for n in range(wells):
        about = about_well(f"W-{n:03d}")
        drafts.append(author.draft("well", about, {"code": about[5:], "name": f"well {n}", "place": f"row {n}"}))
        drafts += [author.draft(kind, about, body, measured_at="2015-05-01") for kind, body in bodies.items()]
        drafts += [_reading(author, about, n, i) for i in range(READINGS)]
    append(network.record, author.device, drafts)
    return network


def _reading(author: Author, about: str, n: int, i: int) -> Any:
    depth = 15 + n / 10 + math.sin(i * math.pi / 2) + i % 7 / 50
    level = {"method": "electric tape", "read": {"readings": [f"{depth:.2f}", f"{depth + 0.01:.2f}"]}}
    sounding = {"method": "weighted tape", "read": {"readings": ["84.30", "84.31"], "weight_interval": "1.20"}}
    body, _ = readings_from_body(level if i else sounding, "ft")
    assert body is not None
    when = f"{2016 + i // 4}-{i % 4 * 3 + 2:02d}-14T10:20-05:00"
    return author.draft("readings", about, readings_body(body), measured_at=when)


def _peer(sheet: WellSheet) -> bytes:
    """A plain figure of the readings on one page, the facts and the table on another."""
    kept = io.BytesIO()
    with mpl.rc_context({"pdf.fonttype": 42}), PdfPages(kept) as pdf:
        pdf.savefig(_figure(sheet.picture))
        pdf.savefig(_table(sheet))
    return kept.getvalue()


def _figure(picture: WellPicture) -> Figure:
    figure = Figure(figsize=A4_IN)
    axes = figure.subplots(2, 2, sharex="col", width_ratios=(1, 3))
    for kind, row in ((BOTTOM, 1), ("", 0)):
        marks = [mark for mark in picture.marks if (mark.kind == BOTTOM) == (kind == BOTTOM)]
        days, depths = [mark.on_d for mark in marks], [mark.depth_m for mark in marks]
        axes[row][1].errorbar(days, depths, yerr=[mark.expanded_m for mark in marks], fmt="o")
        axes[row][1].invert_yaxis()
    for tube in picture.tubes:
        axes[0][0].plot([0, 0], [tube.top_m, tube.bottom_m], linewidth=4)
    return figure


def _table(sheet: WellSheet) -> Figure:
    figure = Figure(figsize=A4_IN)
    axes = figure.subplots()
    axes.axis("off")
    axes.set_title(f"{sheet.heading.code} {sheet.name}")
    rows = [[v.when, v.what, v.depth, v.elevation, v.to, v.use, v.quality, v.noted, v.by] for v in sheet.visits]
    table = axes.table(cellText=rows, loc="upper center")
    table.auto_set_font_size(False)  # left on, it measures every cell again and again
    table.set_fontsize(6)
    for n, group in enumerate(sheet.facts):
        axes.text(0, 0.3 - n / 20, f"{group.title}: {group.rows}", fontsize=6)
    return figure


def _timed(work: Callable[[], Sequence[Any] | bytes]) -> float:
    start = time.perf_counter()
    assert work()
    return time.perf_counter() - start


def _row(name: str, ours_s: float, peer: str, peer_s: float | None, n: int) -> dict[str, Any]:
    ratio, aim = (ours_s / peer_s, AIM) if peer_s else (None, None)
    return {"name": name, "ours_s": ours_s, "peer": peer, "peer_s": peer_s, "ratio": ratio, "aim": aim, "n": n}


if __name__ == "__main__":
    for row in run():
        print(json.dumps(row))
