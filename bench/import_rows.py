"""Importing a table of readings, from its bytes to the record, beside plain inserts of the same bodies.

The peer does none of what makes a record: no reading of the table, no checks, no ids, no chain of digests, no guards
against change. It shows what the disk and the database alone cost.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.record import entries
from tapedown.values.ledger.entries import Entry
from tapedown.work.authorship import Author
from tapedown.work.imports.tables import import_table
from tapedown.work.networks import OpenNetwork, start_network

ROOT = Path(__file__).parents[1]
SHARED = Path(os.environ.get("TAPEDOWN_SHARED", ROOT.parent / "shared")) / "data" / "idaho-network"
MAPPINGS = ROOT / "tests" / "real" / "mappings"
AIM = 4.0


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Import `scale` of the readings of idaho-network; [] where that open data is not there. The best of three runs."""
    if not SHARED.is_dir():
        return []
    rounds = [_round(scale) for _ in range(3)]
    ours_s, bodies_s, rows_s = (min(round_[place] for round_ in rounds) for place in range(3))
    n = int(rounds[0][3])
    return [
        _row(
            "import readings", ours_s, "sqlite3 executemany of the same bodies, WAL, synchronous FULL", bodies_s, n, AIM
        ),
        _row("import readings", ours_s, "the same with every column and index of an entry", rows_s, n, None),
    ]


def _row(name: str, ours_s: float, peer: str, peer_s: float, n: int, aim: float | None) -> dict[str, Any]:
    return {
        "name": name,
        "ours_s": round(ours_s, 4),
        "peer": peer,
        "peer_s": round(peer_s, 4),
        "ratio": round(ours_s / peer_s, 2),
        "aim": aim,
        "n": n,
    }


def _round(scale: float) -> tuple[float, float, float, int]:
    author = Author("R. Alder", "bench")
    facts = {"name": "bench", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/Denver"}
    with TemporaryDirectory() as folder:
        network = start_network(Path(folder, "record.db"), facts, author)
        with network.record:
            _import(network, "sites", author, 1.0)
            ours_s = _import(network, "levels", author, scale)
            found = [held.entry for held in entries(network.record, kinds=["readings"])]
        bodies = [(entry.id, entry.about, entry.measured_at, entry.body) for entry in found]
        bodies_s = _plain_inserts(Path(folder, "bodies.db"), ("id", "about", "measured_at", "body"), bodies, ())
        indexes = ("about, kind", "digest", "device, sequence", "strikes")
        rows_s = _plain_inserts(Path(folder, "rows.db"), Entry._fields, found, indexes)
        return ours_s, bodies_s, rows_s, len(found)


def _import(network: OpenNetwork, which: str, author: Author, scale: float) -> float:
    lines = (SHARED / f"{which}.csv").read_bytes().splitlines(keepends=True)
    data = b"".join(lines[: 1 + max(1, round(scale * (len(lines) - 1)))])
    mapping = (MAPPINGS / f"idaho-{which}.toml").read_bytes()
    started = time.perf_counter()
    import_table(network, data, f"{which}.csv", read_mapping(mapping, which), author)
    return time.perf_counter() - started


def _plain_inserts(
    place: Path, columns: Sequence[str], rows: Sequence[tuple[Any, ...]], indexes: Sequence[str]
) -> float:
    with closing(sqlite3.connect(place)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        quoted = ", ".join(f'"{column}"' for column in columns)
        connection.execute(f"CREATE TABLE plain ({quoted}, PRIMARY KEY (id)) WITHOUT ROWID")
        for number, index in enumerate(indexes):
            connection.execute(f"CREATE INDEX plain_{number} ON plain ({index})")
        started = time.perf_counter()
        with connection:
            connection.executemany(f"INSERT INTO plain VALUES ({', '.join('?' * len(columns))})", rows)
        return time.perf_counter() - started


if __name__ == "__main__":
    for row in run():
        print(row)
