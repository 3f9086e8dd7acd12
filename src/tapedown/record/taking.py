"""Taking entries in: those written on this device, and those that were chained elsewhere."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import islice
from typing import Literal, NamedTuple

from sqlalchemy import Column, Connection, insert, select

from tapedown.record.errors import AlreadyStruck, ClockBehind, IdTaken, NothingToStrike
from tapedown.record.form import fault
from tapedown.record.opening import Record, writing
from tapedown.record.tables import ENTRIES, ENTRY_COLUMNS
from tapedown.values.entries import FIRST, Draft, Entry, chained, content_digest, entry_digest
from tapedown.values.errors import TapedownError

CHUNK = 500
"""Values looked up in one query; databases limit how many they take."""

CLOCK_SLACK = timedelta(minutes=1)
"""How far a device's clock may fall behind its last entry (two programs at once, a clock being set)."""

Outcome = Literal["entered", "already there", "refused"]


class Receipt(NamedTuple):
    """What became of an entry handed to `add`; `why` says why it was refused and what mends it."""

    id: str
    outcome: Outcome
    why: str = ""


def append(record: Record, device: str, drafts: Iterable[Draft]) -> list[Entry]:
    """Chain drafts written on this device and enter them: all or none. Gives the entries in the drafts' order.

    A draft whose id is there already with the same content gives the stored entry, so a request may be repeated; the
    time it was written is left out of that comparison. A `written_at` less than a minute before the device's last
    entry is brought up to it, so that a chain never goes backward.

    Raises
    ------
    IdTaken
        The id belongs to an entry that says something else.
    AlreadyStruck, NothingToStrike
        The entry to be struck was struck before, or is not here.
    ClockBehind
        `written_at` is more than a minute before the device's last entry.
    ValueError
        A draft that could not be read back as it was meant; the message names the field.
    """
    wanted = list(drafts)
    if not device or "\0" in device:
        raise ValueError(f"device is {device!r}: name the machine that writes")
    for draft in wanted:
        if wrong := fault(draft):
            raise ValueError(f"draft {draft.id!r}: {wrong}")
    with writing(record) as connection:
        standing = _Standing(connection, wanted, [device])
        fresh: list[Entry] = []
        for draft in wanted:
            stored = standing.entries.get(draft.id)
            if stored is None:
                fresh.append(standing.chain(draft, device))
            elif not _says_the_same(stored, draft):
                raise IdTaken(stored)
        _insert(connection, fresh)
    return [standing.entries[draft.id] for draft in wanted]


def add(record: Record, entries: Iterable[Entry]) -> list[Receipt]:
    """Take in entries chained on other devices, in any order; gives a receipt for each, in the order given.

    Sound entries enter although others are refused. An entry enters only after the one before it in its chain and
    the one it strikes, wherever in the batch those stand.
    """
    offered = list(entries)
    with writing(record) as connection:
        standing = _Standing(connection, offered, {entry.device for entry in offered})
        receipts, entered = _judged(standing, offered)
        _insert(connection, entered)
    return receipts


def chunks(values: Iterable[str]) -> Iterator[list[str]]:
    """The values in lists short enough for one query."""
    rest = iter(values)
    while chunk := list(islice(rest, CHUNK)):
        yield chunk


class _Tip(NamedTuple):
    """Last entry of a device's chain."""

    sequence: int
    digest: str
    written_at: str


class _Standing:
    """What the record holds that bears on a batch: the ends of chains, entries by id, and who struck what."""

    def __init__(self, connection: Connection, batch: Sequence[Draft | Entry], devices: Iterable[str]) -> None:
        targets = {draft.strikes for draft in batch if draft.strikes is not None}
        self.tips = {device: _tip(connection, device) for device in devices}
        self.entries = {e.id: e for e in _where(connection, ENTRIES.c.id, targets.union(d.id for d in batch))}
        self.strikers = {str(e.strikes): e for e in _where(connection, ENTRIES.c.strikes, targets)}

    def objection(self, draft: Draft | Entry) -> TapedownError | None:
        """Why the draft may not strike what it strikes."""
        if draft.strikes is None:
            return None
        if striker := self.strikers.get(draft.strikes):
            return AlreadyStruck(draft.strikes, striker)
        return None if draft.strikes in self.entries else NothingToStrike(draft.strikes)

    def chain(self, draft: Draft, device: str) -> Entry:
        """The draft as the next entry of the device's chain."""
        if objection := self.objection(draft):
            raise objection
        tip = self.tips[device]
        if draft.written_at < tip.written_at:
            if datetime.fromisoformat(tip.written_at) - datetime.fromisoformat(draft.written_at) > CLOCK_SLACK:
                raise ClockBehind(device, draft.written_at, tip.written_at)
            draft = draft._replace(written_at=tip.written_at)
        entry = chained(draft, device=device, sequence=tip.sequence + 1, previous=tip.digest)
        self.enter(entry)
        return entry

    def enter(self, entry: Entry) -> None:
        """Count the entry as held from now on."""
        self.tips[entry.device] = _Tip(entry.sequence, entry.digest, entry.written_at)
        self.entries[entry.id] = entry
        if entry.strikes is not None:
            self.strikers[entry.strikes] = entry


def _judged(standing: _Standing, offered: Sequence[Entry]) -> tuple[list[Receipt], list[Entry]]:
    """Receipts in the order offered, and the entries to insert in an order in which each finds what it builds on."""
    queues: dict[str, deque[int]] = {}
    for place in sorted(range(len(offered)), key=lambda place: offered[place].sequence):
        queues.setdefault(offered[place].device, deque()).append(place)
    pending = {entry.id for entry in offered}
    receipts: dict[int, Receipt] = {}
    entered: list[Entry] = []
    waiting = True  # for an entry of another device that is further on in the batch
    while len(receipts) < len(offered):
        before = len(receipts)
        for queue in queues.values():
            while queue:
                entry = offered[queue[0]]
                if waiting and entry.strikes in pending and entry.id not in standing.entries:
                    break
                receipts[queue.popleft()] = receipt = _judge(standing, entry)
                pending.discard(entry.id)
                if receipt.outcome == "entered":
                    standing.enter(entry)
                    entered.append(entry)
        waiting = len(receipts) > before
    return [receipts[place] for place in range(len(offered))], entered


def _judge(standing: _Standing, entry: Entry) -> Receipt:
    stored = standing.entries.get(entry.id)
    if stored == entry:
        return Receipt(entry.id, "already there")
    if stored is not None:
        refused: TapedownError = IdTaken(stored)
    elif why := _wrong_in_itself(entry) or _wrong_in_chain(standing.tips[entry.device], entry):
        return Receipt(entry.id, "refused", why)
    elif objection := standing.objection(entry):
        refused = objection
    else:
        return Receipt(entry.id, "entered")
    return Receipt(entry.id, "refused", f"{refused}; {refused.hint}")


def _wrong_in_itself(entry: Entry) -> str:
    if wrong := fault(entry):
        return f"{wrong}; write it again on the device it came from"
    if entry_digest(entry) != entry.digest:
        return "it does not match its digest: it was changed on the way; fetch it again from the device that wrote it"
    return ""


def _wrong_in_chain(tip: _Tip, entry: Entry) -> str:
    name = f"number {entry.sequence} of {entry.device}"
    following = tip.sequence + 1
    if entry.sequence > following:
        return f"{name} cannot enter before number {following}; take in the device's entries from {following} on"
    if entry.sequence < following:
        return f"{name} is another entry here; two machines write as {entry.device}: give each a name of its own"
    if entry.previous != tip.digest:
        return f"{name} does not follow number {tip.sequence} held here; compare the two records with verify"
    if entry.written_at < tip.written_at:
        return f"{name} was written before number {tip.sequence}; look at the clock of {entry.device}"
    return ""


def _says_the_same(stored: Entry, draft: Draft) -> bool:
    return stored[: len(draft)] == draft._replace(written_at=stored.written_at)


def _tip(connection: Connection, device: str) -> _Tip:
    table = ENTRIES.c
    query = (
        select(table.sequence, table.digest, table.written_at)
        .where(table.device == device)
        .order_by(table.sequence.desc())
        .limit(1)
    )
    row = connection.execute(query).first()
    return _Tip._make(row) if row else _Tip(0, FIRST, "")


def _where(connection: Connection, column: Column[str], values: Iterable[str]) -> Iterator[Entry]:
    for chunk in chunks(values):
        for row in connection.execute(select(*ENTRY_COLUMNS).where(column.in_(chunk))):
            yield Entry._make(row)


def _insert(connection: Connection, fresh: Sequence[Entry]) -> None:
    if fresh:
        connection.execute(
            insert(ENTRIES),
            [
                entry._asdict()
                | {"content_digest": content_digest(entry.kind, entry.about, entry.measured_at, entry.body)}
                for entry in fresh
            ],
        )
