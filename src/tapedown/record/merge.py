"""Taking entries in: those written on this device, and those that were chained elsewhere."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from sqlalchemy import Connection, Table, insert, select

from tapedown.record.errors import AlreadyStruck, ClockBehind, IdTaken, MayNotStrike, NothingToStrike, told
from tapedown.record.form import fault, may_strike, unreadable
from tapedown.record.opening import Record, writing
from tapedown.record.rivals import Forks, forks, written_order
from tapedown.record.tables import ENTRIES, LINKS, RIVALS, links_where
from tapedown.values.errors import TapedownError
from tapedown.values.kinds import about_device
from tapedown.values.ledger.entries import FIRST, Draft, Entry, chained, content_digest, entry_digest

CLOCK_SLACK = timedelta(minutes=1)
"""How far a device's clock may fall behind its last entry (two programs at once, a clock being set)."""

Outcome = Literal["entered", "already there", "kept aside", "refused"]


class Receipt(NamedTuple):
    """What became of an entry that was handed in.

    `why` says why it was refused or kept aside and what mends it. An entry that entered has a `why` when it was written
    before a rival that was in force here until now: that one is kept aside from now on.
    """

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
    AlreadyStruck, NothingToStrike, MayNotStrike
        The entry to be struck was struck before, or is not here. One that is kept aside may be struck, once; what
        strikes it is kept aside with it.
    ClockBehind
        `written_at` is more than a minute before the device's last entry.
    ValueError
        A draft that could not be read back as it was meant; the message names the field.
    """
    wanted = list(drafts)
    if not device or "\0" in device:
        raise ValueError(f"device is {device!r}: name the machine that writes")
    for draft in wanted:
        if wrong := fault(draft) or unreadable(draft):
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
        _insert(connection, standing)
    return [standing.entries[draft.id] for draft in wanted]


def add(record: Record, entries: Iterable[Entry], *, dry_run: bool = False) -> list[Receipt]:
    """Take in entries chained on other devices, in any order; gives a receipt for each, in the order given.

    Sound entries enter although others are refused. An entry enters only after the one before it in its chain and
    the one it strikes, wherever in the batch those stand. An entry that strikes what another struck enters too: of such
    rivals the one written first is in force, the others are kept aside. A dry run writes nothing.
    """
    offered = list(entries)
    faults = [_wrong_in_itself(entry) for entry in offered]
    sound = [entry for entry, wrong in zip(offered, faults) if not wrong]
    with writing(record) as connection:
        standing = _Standing(connection, sound, {entry.device for entry in sound})
        before = forks(connection)
        judged = _judged(standing, sound)
        _insert(connection, standing)
        after = forks(connection)
        if dry_run:
            connection.rollback()
    receipts = iter(_with_rivals(judged, sound, before, after))
    return [Receipt(e.id, "refused", wrong) if wrong else next(receipts) for e, wrong in zip(offered, faults)]


class _Tip(NamedTuple):
    """Last entry of a device's chain."""

    sequence: int
    digest: str
    written_at: str


class _Standing:
    """What the record holds that bears on a batch: the ends of chains, entries by id, and who struck what.

    `fresh` collects what is to be inserted. `entries` lets an entry be struck once, by an entry it holds; all others go
    to `rivals`, whichever of them turns out to be in force.
    """

    def __init__(self, connection: Connection, batch: Sequence[Draft | Entry], devices: Iterable[str]) -> None:
        targets = {draft.strikes for draft in batch if draft.strikes is not None}
        self.tips = {device: _tip(connection, device) for device in devices}
        ids = targets.union(draft.id for draft in batch)
        first, late = ({e.id: e for e in links_where(connection, table, "id", ids)} for table in LINKS)
        self.entries = first | late
        self.late = set(late)
        self.phones = {device for device in self.tips if _paired(connection, device)}
        self.struck: set[str] = set()
        self.strikers: dict[str, Entry] = {}
        for table in LINKS:
            for striker in links_where(connection, table, "strikes", targets):
                self._count(striker, table)
        self.fresh: dict[Table, list[Entry]] = {table: [] for table in LINKS}

    def objection(self, draft: Draft | Entry) -> TapedownError | None:
        """Why a draft written here may not strike what it strikes."""
        if draft.strikes is None:
            return None
        if striker := self.strikers.get(draft.strikes):
            return AlreadyStruck(draft.strikes, striker)
        return self.unfit(draft)

    def unfit(self, draft: Draft | Entry) -> TapedownError | None:
        """Why what is to be struck is not there, or is none that this may strike."""
        if draft.strikes is None:
            return None
        struck = self.entries.get(draft.strikes)
        if struck is None:
            return NothingToStrike(draft.strikes)
        why = may_strike(draft, struck)
        if isinstance(draft, Entry) and isinstance(struck, Entry) and draft.device in self.phones - {struck.device}:
            why = "it strikes an entry of another device; correct that one in the office"
        return MayNotStrike(draft.strikes, why) if why else None

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
        table = RIVALS if entry.strikes in self.late or entry.strikes in self.struck else ENTRIES
        self.fresh[table].append(entry)
        if table is RIVALS:
            self.late.add(entry.id)
        if entry.strikes is not None:
            self._count(entry, table)

    def _count(self, striker: Entry, table: Table) -> None:
        target = str(striker.strikes)
        self.strikers[target] = min(striker, self.strikers.get(target, striker), key=written_order)
        if table is ENTRIES:
            self.struck.add(target)


def _judged(standing: _Standing, offered: Sequence[Entry]) -> list[Receipt]:
    """Receipts in the order offered; entries enter in an order in which each finds what it builds on."""
    queues: dict[str, deque[int]] = {}
    for place in sorted(range(len(offered)), key=lambda place: offered[place].sequence):
        queues.setdefault(offered[place].device, deque()).append(place)
    pending = {entry.id for entry in offered}
    receipts: dict[int, Receipt] = {}
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
        waiting = len(receipts) > before
    return [receipts[place] for place in range(len(offered))]


def _judge(standing: _Standing, entry: Entry) -> Receipt:
    stored = standing.entries.get(entry.id)
    if stored == entry:
        return Receipt(entry.id, "already there")
    if stored is not None:
        refused: TapedownError = IdTaken(stored)
    elif why := _wrong_in_chain(standing.tips[entry.device], entry):
        return Receipt(entry.id, "refused", why)
    elif unfit := standing.unfit(entry):
        refused = unfit
    else:
        return Receipt(entry.id, "entered")
    return Receipt(entry.id, "refused", f"{refused}; {refused.hint}")


def _with_rivals(judged: list[Receipt], offered: Sequence[Entry], before: Forks, after: Forks) -> list[Receipt]:
    """The receipts, with what the rivals among the entries come to now that all have entered."""
    fresh = {receipt.id for receipt in judged if receipt.outcome == "entered"}
    outdone = {
        aside.rival.id: aside.entry
        for id_, aside in after.aside.items()
        if id_ not in before.aside and id_ not in fresh and aside.entry.strikes == aside.rival.strikes
    }
    receipts = []
    for receipt, entry in zip(judged, offered):
        if receipt.outcome != "entered":
            receipts.append(receipt)
        elif entry.id in after.aside:
            receipts.append(Receipt(entry.id, "kept aside", _why_aside(entry, after.aside[entry.id].rival)))
        else:
            why = _why_outdone(entry, outdone[entry.id]) if entry.id in outdone else ""
            receipts.append(Receipt(entry.id, "entered", why))
    return receipts


def _why_aside(entry: Entry, rival: Entry) -> str:
    if entry.strikes != rival.strikes:
        what = f"it strikes {entry.strikes}, which is kept aside because {told(rival)} was first"
        return f"{what}; if it was meant to settle the matter, nothing is left to do"
    return (
        f"entry {entry.strikes} was struck first by {told(rival)}: {rival.reason}; "
        f"both are kept; look at both, correct {rival.id} if it is wrong, and strike {entry.id} to settle it"
    )


def _why_outdone(entry: Entry, loser: Entry) -> str:
    return (
        f"it is in force from now on in place of {told(loser)}, which struck {entry.strikes} later and is kept aside; "
        f"look at both, correct {entry.id} if it is wrong, and strike {loser.id} to settle it"
    )


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


def _paired(connection: Connection, device: str) -> bool:
    """Whether the device is a phone that was paired with this record: those strike only what they wrote themselves."""
    paired = select(ENTRIES.c.id).where(ENTRIES.c.about == about_device(device), ENTRIES.c.kind == "device").limit(1)
    return connection.execute(paired).first() is not None


def _says_the_same(stored: Entry, draft: Draft) -> bool:
    return stored[: len(draft)] == draft._replace(written_at=stored.written_at)


def _tip(connection: Connection, device: str) -> _Tip:
    tips = [_Tip(0, FIRST, "")]
    for table in LINKS:
        query = (
            select(table.c.sequence, table.c.digest, table.c.written_at)
            .where(table.c.device == device)
            .order_by(table.c.sequence.desc())
            .limit(1)
        )
        tips += [_Tip._make(row) for row in connection.execute(query)]
    return max(tips)


def _insert(connection: Connection, standing: _Standing) -> None:
    for table, fresh in standing.fresh.items():
        if fresh:
            connection.execute(insert(table), [_row(entry) for entry in fresh])


def _row(entry: Entry) -> dict[str, object]:
    digest = content_digest(entry.kind, entry.about, entry.measured_at, entry.body)
    return entry._asdict() | {"content_digest": digest}
