"""Opening one well out of a million entries, beside the bare driver asking the same question.

Run with `python -m bench.record_open`; writes about 1 GB to the temporary folder.
"""

from __future__ import annotations

import itertools
import json
import sqlite3
import statistics
import time
from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from uuid import UUID

from tapedown.record import Record, append, create_record, entries, open_record
from tapedown.values.ledger.entries import Draft, Entry, canonical

WELLS = 500
PER_WELL = 2000
BATCH = 20_000
RUNS = 15
AIM = 2.0
"""Our time over the driver's: the driver's rows are bare tuples, ours are entries that know what strikes them."""

_COLUMNS = ", ".join(f'e."{name}"' for name in Entry._fields)
_QUERY = (
    f"SELECT {_COLUMNS}, s.id FROM entries e LEFT JOIN entries s ON s.strikes = e.id"
    " WHERE e.about = ? AND s.id IS NULL ORDER BY e.written_at, e.device, e.sequence"
)


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Rows of figures: opening one well's entries, and entering the whole record in batches."""
    per_well = max(10, round(PER_WELL * scale))
    with TemporaryDirectory() as folder:
        path = Path(folder, "record.db")
        with create_record(path) as record:
            filling_s = _timed(lambda: _fill(record, per_well))
        bare_s = _timed(lambda: _fill_bare(path, Path(folder, "bare.db")))
        with open_record(path) as record, closing(sqlite3.connect(path)) as bare:
            wells = [f"well/MF-{number:03d}" for number in range(0, WELLS, WELLS // RUNS)]
            ours_s = _median(lambda well: entries(record, about=well), wells)
            peer_s = _median(lambda well: bare.execute(_QUERY, (well,)).fetchall(), wells)
            assert len(entries(record, about=wells[0])) == per_well
    total = per_well * WELLS
    return [
        _row(f"open one well of {per_well} entries out of {total}", ours_s, peer_s, AIM, per_well),
        _row("enter them in batches, chained and guarded", filling_s, bare_s, None, total),
    ]


def _row(name: str, ours_s: float, peer_s: float, aim: float | None, n: int) -> dict[str, Any]:
    peer = "bare sqlite3, same file, same question" if aim else "bare sqlite3, same rows, no digests, no guards"
    ratio = ours_s / peer_s
    return {"name": name, "ours_s": ours_s, "peer": peer, "peer_s": peer_s, "ratio": ratio, "aim": aim, "n": n}


def _median(ask: Callable[[str], object], wells: list[str]) -> float:
    return statistics.median(_timed(partial(ask, well)) for well in wells)


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _fill(record: Record, per_well: int) -> None:
    drafts = (_draft(number) for number in range(per_well * WELLS))
    while batch := list(itertools.islice(drafts, BATCH)):
        append(record, "office", batch)


def _draft(number: int) -> Draft:
    """A visit; rounds go from well to well, so one well's entries lie far apart in the file."""
    seconds, micro = divmod(number * 1000, 1_000_000)
    clock = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{micro:06d}"
    return Draft(
        id=str(UUID(int=(0x7 << 76) | (0x8 << 60) | number << 80 | number)),
        kind="visit",
        about=f"well/MF-{number % WELLS:03d}",
        measured_at="2026-05-14T10:05+01:00",
        written_at=f"2026-05-14T{clock}Z",
        by="R. Alder",
        body=canonical({"readings": ["84.30", "84.31"], "tape": "ST-014", "number": number}),
    )


def _fill_bare(source: Path, target: Path) -> None:
    """The same rows into an unguarded table of the same columns and indexes, in batches of the same size."""
    with closing(sqlite3.connect(target, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("ATTACH ? AS source", (str(source),))
        (made,) = connection.execute("SELECT sql FROM source.sqlite_master WHERE name = 'entries'").fetchone()
        connection.execute(made)
        for (index,) in connection.execute(
            "SELECT sql FROM source.sqlite_master WHERE type = 'index' AND sql IS NOT NULL"
        ).fetchall():
            connection.execute(index)
        rows = connection.cursor().execute("SELECT * FROM source.entries ORDER BY sequence")
        while batch := rows.fetchmany(BATCH):
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(f"INSERT INTO main.entries VALUES ({', '.join('?' * len(batch[0]))})", batch)
            connection.execute("COMMIT")


if __name__ == "__main__":
    for row in run():
        print(json.dumps(row))
