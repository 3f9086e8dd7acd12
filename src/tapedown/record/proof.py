"""Proof that nothing in the record was changed, lost or slipped in."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

from sqlalchemy import Connection, func, select, union_all

from tapedown.record.errors import RecordUnreadable
from tapedown.record.held import Head
from tapedown.record.opening import Record, reading
from tapedown.record.schema import guard_faults
from tapedown.record.tables import BLOBS, ENTRIES, LINKS, RIVALS, entry_columns
from tapedown.values.ledger.entries import FIRST, Entry, content_digest, entry_digest
from tapedown.values.progress import Progress, Watch, unwatched

BATCH = 1000
"""Entries held in memory at once."""

_CHANGED = "the entry does not match its digest: it was changed"
_RESTORE = "restore a backup, or take the entry in again from the device that wrote it"


class ProofProblem(NamedTuple):
    """Something that is not as it was written: what, where, and what to do about it."""

    what: str
    where: str
    mend: str


class Proof(NamedTuple):
    """How much was checked and what is wrong."""

    entries: int
    blobs: int
    devices: int
    problems: tuple[ProofProblem, ...]

    @property
    def sound(self) -> bool:
        """Nothing is wrong."""
        return not self.problems


def verify(record: Record, known_heads: Collection[Head] = (), *, watch: Watch = unwatched) -> Proof:
    """Check every entry, chain, strike, stored file and guard.

    The record alone cannot show that the end of a chain was cut off: for that give `known_heads`, ends of chains
    noted earlier and kept elsewhere. Memory stays flat, one stored file at a time apart. `watch` is told of each batch.
    """
    check = _Check(known_heads, watch)
    try:
        with reading(record) as connection, _broken_text_forgiven(connection):
            check.database(connection)
            check.chains(connection)
            check.strikes(connection)
            check.blobs(connection)
    except RecordUnreadable as error:
        check.report(str(error), record.where, "restore a backup")
    return Proof(check.entry_count, check.blob_count, check.device_count, tuple(check.problems))


class _Check:
    """One run of `verify`: what was counted and found so far."""

    def __init__(self, known_heads: Collection[Head], watch: Watch) -> None:
        self.watch = watch
        self.problems: list[ProofProblem] = []
        self.known = {(head.device, head.sequence): head.digest for head in known_heads}
        self.entry_count = self.blob_count = self.device_count = 0

    def report(self, what: str, where: str, mend: str) -> None:
        self.problems.append(ProofProblem(what, where, mend))

    def database(self, connection: Connection) -> None:
        """What the database says of itself, and whether the guards stand."""
        self.watch(Progress("the file and its guards"))
        for what in _integrity(connection):
            self.report(f"the file is damaged: {what}", "database", "restore a backup")
        for name, fault in guard_faults(connection):
            self.report(f"a guard is {fault}", name, "find out who had the file; copy its entries into a new record")

    def chains(self, connection: Connection) -> None:
        """Every entry, in force or kept aside, in itself and as a link of its device's chain."""
        query = union_all(*(select(*entry_columns(table), table.c.content_digest) for table in LINKS))
        query = query.order_by("device", "sequence")
        total = sum(connection.execute(select(func.count()).select_from(table)).scalar_one() for table in LINKS)
        last: Entry | None = None
        for row in connection.execute(query.execution_options(yield_per=BATCH)):
            entry = Entry._make(row[:-1])
            if last is None or entry.device != last.device:
                self.device_count += 1
                last = None
            self.entry_count += 1
            if self.entry_count % BATCH == 0:
                self.watch(Progress("entries checked", self.entry_count, total))
            if _typed(entry):
                self._entry(entry, row[-1])
                self._link(last, entry)
                last = entry
            else:
                self.report(_CHANGED, f"{entry.device} {entry.sequence}, id {entry.id}", _RESTORE)
        for device, sequence in self.known:
            where = f"{device} {sequence}"
            self.report("an entry known from before is gone", where, _RESTORE)

    def _entry(self, entry: Entry, stored_content_digest: str) -> None:
        where = f"{entry.device} {entry.sequence}, id {entry.id}"
        if entry_digest(entry) != entry.digest:
            self.report(_CHANGED, where, _RESTORE)
        elif content_digest(entry.kind, entry.about, entry.measured_at, entry.body) != stored_content_digest:
            self.report("the digest of what the entry says was changed", where, "restore a backup")
        if self.known.pop((entry.device, entry.sequence), entry.digest) != entry.digest:
            self.report("another entry stands where a known one was: the chain was rewritten", where, _RESTORE)

    def _link(self, last: Entry | None, entry: Entry) -> None:
        where = f"{entry.device} {entry.sequence}, id {entry.id}"
        expected = last.sequence + 1 if last else 1
        if entry.sequence != expected:
            gap = f"{entry.device} {expected}"
            self.report("an entry is missing", gap if entry.sequence - expected == 1 else f"{gap} and on", _RESTORE)
        elif entry.previous != (last.digest if last else FIRST):
            self.report("the entry does not follow the one before it", where, _RESTORE)
        if last and entry.written_at < last.written_at:
            self.report("the entry was written before the one before it in its chain", where, "look at both entries")

    def strikes(self, connection: Connection) -> None:
        """Every strike finds its target, and is the only one to strike it but for rivals."""
        first, late = ENTRIES.alias("first"), RIVALS.alias("late")
        for table in LINKS:
            lost = (
                select(table.c.id, table.c.strikes)
                .outerjoin(first, first.c.id == table.c.strikes)
                .outerjoin(late, late.c.id == table.c.strikes)
                .where(table.c.strikes.is_not(None), first.c.id.is_(None), late.c.id.is_(None))
            )
            for striker, struck in connection.execute(lost):
                self.report(f"the entry strikes {struck}, which is not here", f"id {striker}", _RESTORE)
        for twice_held in connection.execute(select(RIVALS.c.id).join(first, first.c.id == RIVALS.c.id)).scalars():
            self.report("the entry is held twice", f"id {twice_held}", "restore a backup")
        twice = (
            select(ENTRIES.c.strikes)
            .where(ENTRIES.c.strikes.is_not(None))
            .group_by(ENTRIES.c.strikes)
            .having(func.count() > 1)
        )
        for struck in connection.execute(twice).scalars():
            self.report("the entry is struck more than once", f"id {struck}", "restore a backup")

    def blobs(self, connection: Connection) -> None:
        """Every stored file against its digest."""
        query = select(BLOBS.c.sha256, BLOBS.c.size, BLOBS.c.bytes).order_by(BLOBS.c.sha256)
        for sha256, size, data in connection.execute(query.execution_options(yield_per=1)):
            self.blob_count += 1
            self.watch(Progress(f"stored files checked: {self.blob_count:,}"))
            if not isinstance(data, bytes) or hashlib.sha256(data).hexdigest() != sha256 or len(data) != size:
                self.report("the stored file does not match its digest: it was changed", f"file {sha256}", _RESTORE)


def _typed(entry: Entry) -> bool:
    """Whether every field is of its type: SQLite lets a foreign hand put bytes where text was, or text for numbers."""
    texts = entry._replace(sequence="", strikes=entry.strikes or "")  # type: ignore[arg-type]
    return isinstance(entry.sequence, int) and all(isinstance(text, str) for text in texts)


def _integrity(connection: Connection) -> Iterator[str]:
    if connection.dialect.name == "sqlite":
        for (line,) in connection.exec_driver_sql("PRAGMA integrity_check"):
            if line != "ok":
                yield line


@contextmanager
def _broken_text_forgiven(connection: Connection) -> Iterator[None]:
    """Read bytes that are no longer UTF-8 as wrong text, so that the check names the entry and goes on."""
    if connection.dialect.name != "sqlite":
        yield
        return
    driver: Any = connection.connection.driver_connection
    driver.text_factory = _as_text
    try:
        yield
    finally:
        driver.text_factory = str


def _as_text(data: bytes) -> str:
    return data.decode("utf-8", "replace")
