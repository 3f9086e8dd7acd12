"""Programs that write to a record at once or are killed while they do, and the check of what they leave."""

from __future__ import annotations

import itertools
import multiprocessing
import os
import random
import signal
import time
from multiprocessing.connection import Connection
from pathlib import Path

from tapedown.record import append, create_record, entries, open_record, verify
from tests.record.marrow_fen import visit

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(["tapedown.record"])  # children start in milliseconds


def append_visits(where: str, device: str, first: int, count: int) -> None:
    """Append visits one by one."""
    with open_record(where) as record:
        for number in range(first, first + count):
            append(record, device, [visit(number)])


def write_until_killed(where: str, first: int, acknowledged: Connection) -> None:
    """Append visits one by one, telling the number of each once it is in the record."""
    with open_record(where) as record:
        for number in itertools.count(first):
            append(record, "laptop", [visit(number)])
            acknowledged.send(number)


def kill_writers(path: Path, kills: int, chance: random.Random) -> int:
    """Kill a writer `kills` times; after each, all it acknowledged must be there and the record sound.

    Gives how many entries were acknowledged.
    """
    create_record(path).close()
    acknowledged: set[int] = set()
    for kill in range(kills):
        acknowledged |= _killed(path, kill * 1_000_000, chance)
        with open_record(path) as record:
            held = {int(held.entry.data["remarks"].rpartition(" ")[2]) for held in entries(record)}
            lost = acknowledged - held
            assert not lost, f"acknowledged but lost after kill {kill + 1}: {sorted(lost)}"
            proof = verify(record)
            assert proof.sound, proof.problems
    return len(acknowledged)


def _killed(path: Path, first: int, chance: random.Random) -> set[int]:
    """Kill one writer: anywhere from its start to somewhere after its twelfth entry, in the midst of the next."""
    ours, theirs = _CONTEXT.Pipe(duplex=False)
    child = _CONTEXT.Process(target=write_until_killed, args=(str(path), first, theirs))
    child.start()
    theirs.close()
    acknowledged = {ours.recv() for _ in range(chance.randrange(13))}
    time.sleep(chance.uniform(0.0, 0.008))
    assert child.pid is not None
    os.kill(child.pid, signal.SIGKILL)
    child.join()
    with ours:
        while True:
            try:
                acknowledged.add(ours.recv())
            except EOFError:
                return acknowledged
