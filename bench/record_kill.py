"""A thousand writers killed at a random moment; nothing they acknowledged may be missing.

Run with `python -m bench.record_kill`. The peer is none: what counts is that nothing is lost. `ours_s` is the time for
one kill with its check.
"""

from __future__ import annotations

import json
import random
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tests.record.writer_child import kill_writers

KILLS = 1000
KILLS_PER_RECORD = 50


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """One row: kills survived without loss, and entries acknowledged while at it."""
    rounds = max(1, round(KILLS * scale / KILLS_PER_RECORD))
    chance = random.Random(20260514)  # noqa: S311 - no secret
    start = time.perf_counter()
    acknowledged = 0
    for _ in range(rounds):
        with TemporaryDirectory() as folder:
            acknowledged += kill_writers(Path(folder, "record.db"), KILLS_PER_RECORD, chance)
    kills = rounds * KILLS_PER_RECORD
    return [
        {
            "name": f"{kills} kills, {acknowledged} acknowledged entries, none lost",
            "ours_s": (time.perf_counter() - start) / kills,
            "peer": None,
            "peer_s": None,
            "ratio": None,
            "aim": None,
            "n": kills,
        }
    ]


if __name__ == "__main__":
    for row in run():
        print(json.dumps(row))
