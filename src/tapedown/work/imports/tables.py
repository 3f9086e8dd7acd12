"""Taking in a table: gather what is there, propose, write what is new in one go, account for every line."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

import uuid_utils

from tapedown.exchange.tables.lines import FactInForce, Known, Proposed, TableLine
from tapedown.exchange.tables.mapping import TableMapping
from tapedown.exchange.tables.proposals import propose
from tapedown.exchange.tables.reading import Table, read_table
from tapedown.record import append, entries, present
from tapedown.values.kinds import ABOUT_NETWORK
from tapedown.values.ledger.entries import Draft, canonical, content_digest
from tapedown.values.progress import Progress, Watch, unwatched
from tapedown.values.results import Finding
from tapedown.values.times import written_form
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork

OUTCOMES = ("entered", "already there", "set aside")
_ABOUT_WELLS = ("well", "position", "construction", "measuring point")


class LineReport(NamedTuple):
    """What became, or would become, of one line of a table, and why when it was not entered.

    same_as is the number of the earlier line that says the same, 0 for none.
    """

    number: int
    outcome: str
    reason: str
    mend: str
    findings: tuple[Finding, ...]
    same_as: int = 0


class ImportReport(NamedTuple):
    """What became of a file.

    lines    one for every line under the header, in order
    findings about the file as a whole
    written  kind -> entries written (or, in a dry run, that would be)
    entry    id of the "import" entry, "" when nothing was entered
    """

    file_name: str
    sha256: str
    makes: str
    lines: tuple[LineReport, ...]
    findings: tuple[Finding, ...]
    written: dict[str, int]
    entry: str
    dry_run: bool

    @property
    def totals(self) -> dict[str, int]:
        """How many lines had each outcome; together they are all lines."""
        counted = Counter(line.outcome for line in self.lines)
        return {outcome: counted[outcome] for outcome in OUTCOMES}


def import_table(
    network: OpenNetwork,
    data: bytes,
    file_name: str,
    mapping: TableMapping,
    author: Author,
    *,
    dry_run: bool = False,
    watch: Watch = unwatched,
) -> ImportReport:
    """Take in the bytes of a table. Everything new is written at once or not at all; in a dry run nothing is.

    What the record holds already, struck or not, is not written again, so the same file may be taken in twice.

    Raises
    ------
    NotATable, TableTooLarge, MappingDoesNotFit
        Nothing was written.
    """
    watch(Progress("reading the table"))
    table = read_table(data, header_row=mapping.header_row, sheet=mapping.sheet, delimiter=mapping.delimiter)
    return import_rows(
        network, table, (file_name, hashlib.sha256(data).hexdigest()), mapping, author, dry_run=dry_run, watch=watch
    )


def import_rows(
    network: OpenNetwork,
    table: Table,
    origin: tuple[str, str],
    mapping: TableMapping,
    author: Author,
    *,
    dry_run: bool = False,
    foreseen: list[Proposed] | None = None,
    watch: Watch = unwatched,
) -> ImportReport:
    """Take in a table that was read already, all of it or nothing; `origin` is the file's name and SHA-256.

    `foreseen` is for a dry run of several tables that belong together: what the earlier ones would have brought, to
    which this one adds what it would bring.

    Raises
    ------
    MappingDoesNotFit
        Nothing was written.
    """
    lines = propose(table, mapping, _known(network, foreseen or ()), network.settings, watch)
    watch(Progress("comparing with what the record holds"))
    drafts = _fresh(network, lines)
    if foreseen is not None:
        foreseen += [draft for _, draft in drafts]
    reported = _told(lines, {number for number, _ in drafts})
    report = ImportReport(
        origin[0].encode(errors="replace").decode(),
        origin[1],
        mapping.makes,
        tuple(reported),
        table.findings,
        dict(Counter(draft.kind for _, draft in drafts)),
        "",
        dry_run,
    )
    if dry_run or not drafts:
        return report
    watch(Progress(f"writing {len(drafts):,} entries, all or none"))
    return report._replace(entry=_write(network, [draft for _, draft in drafts], report, mapping, author))


def _known(network: OpenNetwork, foreseen: Sequence[Proposed]) -> Known:
    held = entries(network.record, kinds=_ABOUT_WELLS)
    facts = [FactInForce(h.entry.id, h.entry.kind, h.entry.about, h.entry.measured_at, h.entry.data) for h in held]
    facts += [
        FactInForce("", p.kind, p.about, p.measured_at, json.loads(p.body)) for p in foreseen if p.kind in _ABOUT_WELLS
    ]
    return Known(facts, network.unit)


def _fresh(network: OpenNetwork, lines: Sequence[TableLine]) -> list[tuple[int, Proposed]]:
    """Drafts that the record does not hold, each with the number of its line.

    A fact that was taken in just as this table tells it and corrected since counts as held: a second import of the
    table must not bring back what somebody struck.
    """
    drafts = [(line.number, draft) for line in lines for draft in line.drafts]
    digests = [content_digest(draft.kind, draft.about, draft.measured_at, draft.body) for _, draft in drafts]
    told_digests = {draft: content_digest(draft.kind, draft.about, "", draft.told) for _, draft in drafts if draft.told}
    there = present(network.record, {*digests, *told_digests.values()})
    return [
        numbered
        for numbered, digest in zip(drafts, digests)
        if digest not in there and told_digests.get(numbered[1], "") not in there
    ]


def _told(lines: Sequence[TableLine], entered: set[int]) -> list[LineReport]:
    reported = []
    for line in lines:
        outcome: str = line.outcome
        reason = line.reason
        if outcome == "enter":
            is_new = (line.carried_by or line.number) in entered
            outcome, reason = ("entered", reason) if is_new else ("already there", "the record holds it already")
        reported.append(LineReport(line.number, outcome, reason, line.mend, line.findings, line.same_as))
    return reported


def _write(
    network: OpenNetwork, drafts: Sequence[Proposed], report: ImportReport, mapping: TableMapping, author: Author
) -> str:
    """Write the facts and, after them, the entry that says where they came from; gives its id."""
    moment = written_form(author.clock())

    def inked(fact: Proposed) -> Draft:
        return Draft(str(uuid_utils.uuid7()), *fact[:3], moment, author.by, *fact[3:6])

    totals = report.totals
    body = {
        "file": report.file_name,
        "sha256": report.sha256,
        "mapping_sha256": mapping.sha256,
        "entered": str(totals["entered"]),
        "already_there": str(totals["already there"]),
        "set_aside": str(totals["set aside"]),
        "entries": str(len(drafts)),
    }
    note = inked(Proposed("import", ABOUT_NETWORK, "", canonical(body)))
    append(network.record, author.device, [*map(inked, drafts), note])
    return note.id


def report_lines(report: ImportReport, most: int = 20) -> list[str]:
    """The report as lines of text: totals, then at most `most` reasons of each outcome and one example of each finding.

    Every line of the file stands in `report_to_json`.
    """
    totals = report.totals
    would = "would be entered (nothing was written)" if report.dry_run else "entered"
    texts = [
        f"{report.file_name}: {len(report.lines)} lines",
        f"  {totals['entered']} {would}, {totals['already there']} already there, {totals['set aside']} set aside",
    ]
    texts += [f"  {count} x {kind}" for kind, count in sorted(report.written.items())]
    texts += [f"  {finding.weight}: {finding.message}; {finding.hint}" for finding in report.findings]
    aside = [(f"{line.reason}; {line.mend}", line.number) for line in report.lines if line.outcome == "set aside"]
    texts += _grouped("set aside", aside, most)
    there = [(line.reason, line.number) for line in report.lines if line.outcome == "already there"]
    texts += _grouped("already there", there, most)
    return texts + _findings_by_check(report.lines)


def _findings_by_check(lines: Sequence[LineReport]) -> list[str]:
    by_check: dict[str, list[tuple[int, Finding]]] = {}
    for line in lines:
        for one in line.findings:
            by_check.setdefault(one.check, []).append((line.number, one))
    texts = []
    for check, lines_with in sorted(by_check.items(), key=lambda item: -len(item[1])):
        first, more = lines_with[0], ", such as" if len(lines_with) > 1 else ""
        numbers = _numbered([number for number, _ in lines_with])
        texts.append(f"  {numbers}: {check}{more}: {first[1].message}; {first[1].hint}")
    return ["findings:", *texts] if texts else []


def _grouped(title: str, reasons: Sequence[tuple[str, int]], most: int) -> list[str]:
    numbers: dict[str, list[int]] = {}
    for text, number in reasons:
        numbers.setdefault(text, []).append(number)
    if not numbers:
        return []
    ordered = sorted(numbers.items(), key=lambda item: -len(item[1]))
    texts = [f"{title}:", *(f"  {_numbered(of_text)}: {text}" for text, of_text in ordered[:most])]
    left = sum(len(of_text) for _, of_text in ordered[most:])
    return texts + ([f"  ... and {left} more, each in the full report"] if left else [])


def _numbered(numbers: Sequence[int]) -> str:
    shown = ", ".join(str(number) for number in numbers[:5])
    return f"line {shown}" if len(numbers) == 1 else f"{len(numbers)} lines ({shown}{', ...' * (len(numbers) > 5)})"


def report_to_json(report: ImportReport) -> dict[str, Any]:
    """The report as it is told in JSON, with every line of the file."""
    return {**report._asdict(), "totals": report.totals}
