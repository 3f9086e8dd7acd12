"""Entries sent from one record to another, and taken in."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, NamedTuple

from tapedown.exchange.ledger.entry_lines import (
    BadLine,
    CarriedFile,
    Header,
    entry_line,
    file_lines,
    header_line,
    read_header,
    read_lines,
)
from tapedown.record import (
    Aside,
    Head,
    Receipt,
    Record,
    add,
    add_blob,
    append,
    blob,
    blobs_present,
    create_record,
    entries,
    entries_after,
    kept_aside,
    open_record,
)
from tapedown.record.errors import RecordMissing
from tapedown.values.errors import TapedownError
from tapedown.values.ledger.entries import Entry
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork, place_of_record
from tapedown.work.refusals import ReasonMissing
from tapedown.work.wells.history import SHORTEST_END

_SHA256 = re.compile(r"(?<![0-9a-f])[0-9a-f]{64}(?![0-9a-f])")


class OtherNetwork(TapedownError):
    """The entries belong to another network than the record."""

    def __init__(self, theirs: str, ours: str) -> None:
        super().__init__(
            f"the file holds entries of {theirs}, this record is of {ours}",
            hint="open the network they belong to, or keep them apart in a new folder: "
            "tapedown -n NEWFOLDER receive FILE (take-in for a delivery)",
        )


class NoSuchRival(TapedownError):
    """No correction that waits for a decision is named."""

    def __init__(self, which: str) -> None:
        super().__init__(
            f"{which!r} names no correction that is kept aside, or several",
            hint="see `tapedown rivals`; name one by the end of its id",
        )


class NoRoom(TapedownError):
    """There is no record, and the place is not a new one."""

    def __init__(self, where: str) -> None:
        super().__init__(
            f"no network at {where}, and the folder holds other things",
            hint="name the network's folder, or a new one: tapedown -n NEWFOLDER receive FILE",
        )


class Sending(NamedTuple):
    """What is about to be sent.

    without  digests of files that the entries name and this record does not hold
    """

    record: Record
    header: Header
    entries: tuple[Entry, ...]
    files: tuple[str, ...]
    without: tuple[str, ...]

    def lines(self) -> Iterator[bytes]:
        """The file to be written, line by line; stored files first, so that no entry comes before what it names."""
        yield header_line(self.header)
        for sha256 in self.files:
            kept = blob(self.record, sha256)
            yield from file_lines(kept.bytes, kept.media_type)
        for entry in self.entries:
            yield entry_line(entry)


class Received(NamedTuple):
    """What became of what was received, in the order it came.

    files    stored files that were new here
    bad      lines that could not be read
    offered  the entries, one for each receipt
    """

    receipts: tuple[Receipt, ...]
    files: int
    bad: tuple[BadLine, ...]
    offered: tuple[Entry, ...] = ()

    @property
    def clean(self) -> bool:
        """Nothing was refused, kept aside or put in another's place, and every line could be read."""
        return not self.bad and not any(receipt.why for receipt in self.receipts)


def sending(network: OpenNetwork, known: Collection[Head] = ()) -> Sending:
    """All entries, or those the holder of these heads lacks, with the files they name.

    Of a network as it was known at a time, the entries written by then: the beginning of every chain.
    """
    sent = entries_after(network.record, known)
    if network.as_of is not None:
        sent = [entry for entry in sent if entry.written_at <= network.as_of]
    named = {sha256 for entry in sent for sha256 in _SHA256.findall(entry.body)}
    kept = blobs_present(network.record, named)
    documents = {str(entry.data.get("sha256")) for entry in sent if entry.kind == "document"}
    start = next(h.entry for h in entries(network.record, kinds=["network"], struck=True) if h.entry.strikes is None)
    header = Header(network.facts.name, start.id, len(sent), len(kept))
    return Sending(network.record, header, tuple(sent), tuple(sorted(kept)), tuple(sorted((named & documents) - kept)))


def receive(where: str, lines: IO[bytes], name: str, *, dry_run: bool = False) -> Received:
    """Take in what another record sent; into a new or empty folder, or an empty database, as a new record.

    Raises
    ------
    UnreadableSheet
        The file is of another kind.
    OtherNetwork
        The record at `where` belongs to another network.
    NoRoom
        The folder holds other things and no record.
    """
    header = read_header(lines, name)
    with _receiving(where, dry_run=dry_run) as record:
        return _received(record, header, lines, dry_run=dry_run)


def receive_here(network: OpenNetwork, lines: IO[bytes], name: str, *, dry_run: bool = False) -> Received:
    """As `receive`, into a record that is open already.

    Raises
    ------
    UnreadableSheet, OtherNetwork
    """
    return _received(network.record, read_header(lines, name), lines, dry_run=dry_run)


def _received(record: Record, header: Header, lines: IO[bytes], *, dry_run: bool) -> Received:
    _same_network(record, header)
    offered: list[Entry] = []
    bad: list[BadLine] = []
    fresh: set[str] = set()
    for item in read_lines(lines, header):
        if isinstance(item, Entry):
            offered.append(item)
        elif isinstance(item, BadLine):
            bad.append(item)
        elif not blobs_present(record, [item.sha256]):
            fresh.add(item.sha256)
            _keep(record, item, dry_run=dry_run)
    return Received(tuple(add(record, offered, dry_run=dry_run)), len(fresh), tuple(bad), tuple(offered))


def _keep(record: Record, carried: CarriedFile, *, dry_run: bool) -> None:
    if not dry_run:
        add_blob(record, carried.data, carried.media_type)


@contextmanager
def _receiving(where: str, *, dry_run: bool) -> Iterator[Record]:
    """The record at a place, or a new one where there is room for it; a dry run makes none there."""
    place = place_of_record(where)
    try:
        record = open_record(place)
    except RecordMissing:
        if isinstance(place, Path) and not place.exists() and place.parent.exists() and any(place.parent.iterdir()):
            raise NoRoom(where) from None
        if dry_run:
            with TemporaryDirectory() as folder, create_record(folder) as record:
                yield record
            return
        record = create_record(place)
    with record:
        yield record


def _same_network(record: Record, header: Header) -> None:
    """A network may have been renamed on one side: the entry that started it tells, or any name it ever had."""
    held = [h.entry for h in entries(record, kinds=["network"], struck=True)]
    names = [str(entry.data.get("name")) for entry in held]
    if held and header.network not in names and header.started_by not in {entry.id for entry in held}:
        raise OtherNetwork(header.network, names[-1])


def undecided(aside: Collection[Aside]) -> list[Aside]:
    """Corrections kept aside that nobody has settled: not struck since, and not themselves the settling."""
    ids = {rival.entry.id for rival in aside}
    return [
        rival
        for rival in aside
        if rival.struck_by is None and not (rival.entry.kind == "strike" and rival.entry.strikes in ids)
    ]


def settle(network: OpenNetwork, end_of_id: str, reason: str, author: Author) -> Entry:
    """Strike a correction that is kept aside: somebody looked at both and decided.

    Raises
    ------
    ReasonMissing, NoSuchRival
    """
    if not reason.strip():
        raise ReasonMissing
    waiting = undecided(kept_aside(network.record))
    rivals = [a.entry for a in waiting if len(end_of_id) >= SHORTEST_END and a.entry.id.endswith(end_of_id.lower())]
    if len(rivals) != 1:
        raise NoSuchRival(end_of_id)
    (rival,) = rivals
    draft = author.draft("strike", rival.about, {}, measured_at=rival.measured_at, strikes=rival.id, reason=reason)
    return append(network.record, author.device, [draft])[0]
