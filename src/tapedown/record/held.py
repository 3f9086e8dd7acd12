"""What the record holds: entries, ends of chains, stored files."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable
from typing import NamedTuple

from sqlalchemy import Connection, Table, and_, func, insert, select

from tapedown.record.errors import NoSuchBlob, NoSuchEntry
from tapedown.record.form import is_written_at
from tapedown.record.opening import Record, reading, writing
from tapedown.record.rivals import Forks, forks, written_order
from tapedown.record.tables import BLOBS, ENTRIES, LINKS, chunks, entry_columns, links_where
from tapedown.values.ledger.entries import Entry


class Held(NamedTuple):
    """An entry as the record holds it; `struck_by` is the id of the entry that strikes it, if one does."""

    entry: Entry
    struck_by: str | None


class Head(NamedTuple):
    """Where a device's chain ends: the number and digest of its last entry."""

    device: str
    sequence: int
    digest: str


class Blob(NamedTuple):
    """A stored file."""

    bytes: bytes
    media_type: str


def entry(record: Record, entry_id: str) -> Entry:
    """The entry with this id, struck, kept aside or neither.

    Raises
    ------
    NoSuchEntry
    """
    with reading(record) as connection:
        for table in LINKS:
            for row in links_where(connection, table, "id", [entry_id]):
                return row
    raise NoSuchEntry(f"no entry {entry_id} in {record.where}", hint="check the id")


def entries(
    record: Record,
    *,
    kinds: Collection[str] | None = None,
    about: str | None = None,
    as_of: str | None = None,
    struck: bool = False,
) -> list[Held]:
    """The entries of these kinds about this subject, in the order they were written.

    `as_of` (the form of `written_at`) shows what had been written by then: later entries are left out and strike
    nothing. Struck entries are left out unless `struck`. A strike is not undone by being struck itself: who wants the
    old reading back enters it again. What is kept aside (see `kept_aside`) is left out always.

    Raises
    ------
    ValueError
        `as_of` has another form.
    """
    if as_of is not None and not is_written_at(as_of):
        raise ValueError(f"as_of is {as_of!r}, not of the form 2026-05-14T09:20:00.000000Z")
    striker = ENTRIES.alias("striker")
    strikes = striker.c.strikes == ENTRIES.c.id
    if as_of is not None:
        strikes = and_(strikes, striker.c.written_at <= as_of)
    query = select(*entry_columns(ENTRIES), striker.c.id).select_from(ENTRIES.outerjoin(striker, strikes))
    if kinds is not None:
        query = query.where(ENTRIES.c.kind.in_(sorted(kinds)))
    if about is not None:
        query = query.where(ENTRIES.c.about == about)
    if as_of is not None:
        query = query.where(ENTRIES.c.written_at <= as_of)
    if not struck:
        query = query.where(striker.c.id.is_(None))
    query = query.order_by(ENTRIES.c.written_at, ENTRIES.c.device, ENTRIES.c.sequence)
    with reading(record) as connection:
        fork = forks(connection, as_of)
        held = [Held(Entry._make(row[:-1]), row[-1]) for row in connection.execute(query)]
    if not fork.strikers:
        return held
    joined = [
        Held(e, None) for e in fork.joined if (kinds is None or e.kind in kinds) and (about is None or e.about == about)
    ]
    return _in_force([*held, *joined], fork, struck=struck)


def _in_force(held: Iterable[Held], fork: Forks, *, struck: bool) -> list[Held]:
    """What is in force where the record holds rivals."""
    standing = []
    for entry, struck_by in held:
        if entry.id not in fork.aside:
            striker = fork.strikers[entry.id].id if entry.id in fork.strikers else struck_by
            if struck or striker is None:
                standing.append(Held(entry, striker))
    return sorted(standing, key=lambda one: written_order(one.entry))


def present(record: Record, contents: Collection[str]) -> set[str]:
    """Which of these content digests belong to entries held already, struck, kept aside or neither."""
    with reading(record) as connection:
        return {
            digest
            for table in LINKS
            for chunk in chunks(contents)
            for digest in connection.execute(
                select(table.c.content_digest).where(table.c.content_digest.in_(chunk))
            ).scalars()
        }


def heads(record: Record) -> list[Head]:
    """The end of every device's chain. Kept elsewhere, they let `verify` see that a chain was cut short."""
    with reading(record) as connection:
        ends = sorted(head for table in LINKS for head in _ends(connection, table))
    return list({head.device: head for head in ends}.values())


def _ends(connection: Connection, links: Table) -> list[Head]:
    """The last entry of every device in one table."""
    table = links.c
    last = select(table.device, func.max(table.sequence).label("sequence")).group_by(table.device).subquery()
    is_last = and_(table.device == last.c.device, table.sequence == last.c.sequence)
    query = select(table.device, table.sequence, table.digest).join(last, is_last)
    return [Head._make(row) for row in connection.execute(query)]


def entries_after(record: Record, known: Collection[Head] = ()) -> list[Entry]:
    """Every link of every chain, in force, struck or kept aside, that comes after these heads, chain by chain.

    This is what another record needs that has `known` as its heads.
    """
    ends = {head.device: head.sequence for head in known}
    with reading(record) as connection:
        unknown = [
            entry
            for table in LINKS
            for entry in map(Entry._make, connection.execute(select(*entry_columns(table))))
            if entry.sequence > ends.get(entry.device, 0)
        ]
    return sorted(unknown, key=lambda entry: (entry.device, entry.sequence))


def blobs_present(record: Record, sha256: Collection[str]) -> set[str]:
    """Which of these files are kept here."""
    with reading(record) as connection:
        return {
            digest
            for chunk in chunks(sha256)
            for digest in connection.execute(select(BLOBS.c.sha256).where(BLOBS.c.sha256.in_(chunk))).scalars()
        }


def add_blob(record: Record, data: bytes, media_type: str) -> str:
    """Keep a file's bytes, once; gives their SHA-256. The media type first given stands."""
    sha256 = hashlib.sha256(data).hexdigest()
    with writing(record) as connection:
        if connection.execute(select(BLOBS.c.sha256).where(BLOBS.c.sha256 == sha256)).first() is None:
            row = {"sha256": sha256, "media_type": media_type, "size": len(data), "bytes": data}
            connection.execute(insert(BLOBS), row)
    return sha256


def blob(record: Record, sha256: str) -> Blob:
    """The file with this SHA-256.

    Raises
    ------
    NoSuchBlob
    """
    with reading(record) as connection:
        row = connection.execute(select(BLOBS.c.bytes, BLOBS.c.media_type).where(BLOBS.c.sha256 == sha256)).first()
    if row is None:
        raise NoSuchBlob(f"no stored file {sha256} in {record.where}", hint="take the file in again")
    return Blob._make(row)
