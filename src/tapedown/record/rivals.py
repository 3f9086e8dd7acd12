"""Rival corrections: two people, out of touch with each other, struck the same entry.

Every record holds both. Which one is in force follows from what the entries say and not from the order in which a
record took them in, so records that hold the same entries agree: the one written first (of one time: by device, then by
number) is in force; the others, and whatever strikes them, are kept aside. That is worked out when the record is read.
The table `rivals` is only where those stand that came later, because `entries` lets an entry be struck once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import NamedTuple

from sqlalchemy import Connection, select

from tapedown.record.opening import Record, reading
from tapedown.record.tables import ENTRIES, RIVALS, entry_columns, links_where
from tapedown.values.ledger.entries import Entry


class Aside(NamedTuple):
    """An entry that is kept but not in force.

    rival      the entry that was written first and counts in its place
    struck_by  id of the entry that withdraws or replaces it, None while it waits for somebody to decide
    """

    entry: Entry
    rival: Entry
    struck_by: str | None


class Forks(NamedTuple):
    """What the rivals in a record come to.

    aside     entries kept aside, by id
    joined    entries in force that stand in the table of rivals
    strikers  for every entry struck more than once or kept aside: the entry that counts as striking it, by target
    """

    aside: Mapping[str, Aside]
    joined: tuple[Entry, ...]
    strikers: Mapping[str, Entry]


def kept_aside(record: Record) -> list[Aside]:
    """The entries that are kept but not in force, in the order they were written."""
    with reading(record) as connection:
        aside = forks(connection).aside.values()
    return sorted(aside, key=lambda found: written_order(found.entry))


def written_order(entry: Entry) -> tuple[str, str, int]:
    """Who was first, the same in every record."""
    return entry.written_at, entry.device, entry.sequence


def forks(connection: Connection, as_of: str | None = None) -> Forks:
    """Work out which entries are in force and which are kept aside, as far as they had been written by `as_of`."""
    rows = connection.execute(select(*entry_columns(RIVALS)))
    late = [entry for entry in map(Entry._make, rows) if as_of is None or entry.written_at <= as_of]
    earlier = _striking(connection, {str(entry.strikes) for entry in late}, as_of)
    by_target = _by_target([*late, *earlier])
    lost: dict[str, tuple[Entry, Entry]] = {}
    branch = {loser.id: (loser, first) for first, *losers in by_target.values() for loser in losers}
    while branch:
        lost |= branch
        following = _striking(connection, branch, as_of)
        by_target |= {t: e for t, e in _by_target(following).items() if t not in by_target}
        following += [entry for entry in late if entry.strikes in branch]
        branch = {e.id: (e, lost[str(e.strikes)][1]) for e in following if e.id not in lost}
    strikers = {target: first for target, (first, *_) in by_target.items()}
    aside = {
        id_: Aside(entry, rival, strikers[id_].id if id_ in strikers else None) for id_, (entry, rival) in lost.items()
    }
    return Forks(aside, tuple(entry for entry in late if entry.id not in lost), strikers)


def _by_target(strikes: Iterable[Entry]) -> dict[str, list[Entry]]:
    """The entries by what they strike, the first written first."""
    struck: dict[str, list[Entry]] = {}
    for entry in sorted(strikes, key=written_order):
        struck.setdefault(str(entry.strikes), []).append(entry)
    return struck


def _striking(connection: Connection, targets: Collection[str], as_of: str | None) -> list[Entry]:
    """What strikes these targets in the table of entries."""
    strikers = links_where(connection, ENTRIES, "strikes", targets)
    return [entry for entry in strikers if as_of is None or entry.written_at <= as_of]
