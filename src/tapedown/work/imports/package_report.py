"""What becomes of a package that is handed over, told in one shape whatever it is: table by table, line by line."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

from tapedown.exchange.packages.incoming import NotTaken
from tapedown.values.errors import TapedownError
from tapedown.values.progress import Progress, Watch, unwatched
from tapedown.values.results import Finding
from tapedown.work.authorship import Author
from tapedown.work.exports.export import ENTRIES_PATH
from tapedown.work.imports.package_import import PackageHints, has_entries, take_back_here, take_in
from tapedown.work.imports.packages import Handed
from tapedown.work.imports.tables import ImportReport
from tapedown.work.networks import OpenNetwork
from tapedown.work.sync.sending import Received

OUTCOMES = ("entered", "already there", "kept aside", "set aside")
"""What may become of a line; "kept aside" is for entries that correct what somebody else corrected first."""


class PackageLine(NamedTuple):
    """A line of a table, or an entry: its number there, one of OUTCOMES, and why when it was not entered."""

    number: int
    outcome: str
    reason: str = ""
    mend: str = ""
    findings: tuple[Finding, ...] = ()
    same_as: int = 0
    what: str = ""


class PackageTable(NamedTuple):
    """A table of a package with all of its lines.

    written  kind -> entries written, or that would be
    findings about the table as a whole
    entry    id of the entry that says it was taken in, "" where there is none
    """

    name: str
    lines: tuple[PackageLine, ...]
    written: dict[str, int]
    findings: tuple[Finding, ...] = ()
    entry: str = ""

    @property
    def totals(self) -> dict[str, int]:
        """How many lines had each outcome; together they are all lines."""
        counted = Counter(line.outcome for line in self.lines)
        return {outcome: counted[outcome] for outcome in OUTCOMES}


class PackageAccount(NamedTuple):
    """What became of a package, or would.

    own  whether it holds a record's own entries, which come with their writers' names
    """

    name: str
    sha256: str
    own: bool
    tables: tuple[PackageTable, ...]
    not_taken: tuple[NotTaken, ...]
    dry_run: bool

    @property
    def totals(self) -> dict[str, int]:
        """How many lines had each outcome, all tables together."""
        return {outcome: sum(table.totals[outcome] for table in self.tables) for outcome in OUTCOMES}


class NotWithEntries(TapedownError):
    """Things were said about a package that says them itself."""

    def __init__(self, said: Iterable[str]) -> None:
        super().__init__(
            f"this delivery holds the record's own entries: nothing may be said about it ({', '.join(said)})",
            hint="leave these fields empty",
        )


def take_package(
    network: OpenNetwork,
    handed: Handed,
    said: PackageHints,
    author: Author,
    *,
    dry_run: bool = False,
    watch: Watch = unwatched,
) -> PackageAccount:
    """Take in a package that was handed over, or look at it only.

    Raises
    ------
    What `taking_in.take_in` and `taking_in.take_back_here` raise, NotWithEntries
        Nothing was written.
    """
    digest = hashlib.sha256(handed.data).hexdigest()
    if has_entries(handed):
        if named := [name for name, value in said._asdict().items() if value]:
            raise NotWithEntries(named)
        watch(Progress("holding every file against the manifest, then entry by entry"))
        received = take_back_here(network, handed, dry_run=dry_run)
        return PackageAccount(handed.name, digest, True, (_entries_to_json(received),), (), dry_run)
    taken = take_in(network, handed, said, author, dry_run=dry_run, watch=watch)
    tables = tuple(_table_to_json(report) for report in taken.reports)
    return PackageAccount(handed.name, digest, False, tables, taken.not_taken, dry_run)


def _table_to_json(report: ImportReport) -> PackageTable:
    lines = tuple(PackageLine(*line) for line in report.lines)
    return PackageTable(report.file_name, lines, report.written, report.findings, report.entry)


def _entries_to_json(received: Received) -> PackageTable:
    """Entries, numbered as they come; lines that are no entry come last, numbered as in their file."""
    lines = []
    for number, (entry, receipt) in enumerate(zip(received.offered, received.receipts), 1):
        outcome = "set aside" if receipt.outcome == "refused" else receipt.outcome
        what = f"{entry.kind}, {entry.subject or entry.about}"
        lines.append(PackageLine(number, outcome, receipt.why, what=what))
    lines += [PackageLine(bad.number, "set aside", bad.what, bad.mend, what="no entry") for bad in received.bad]
    kinds = (entry.kind for entry, line in zip(received.offered, lines) if line.outcome == "entered")
    return PackageTable(ENTRIES_PATH, tuple(lines), dict(Counter(kinds)))
