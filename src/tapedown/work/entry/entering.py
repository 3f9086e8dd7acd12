"""Entering: facts, visits, corrections. Everything is read and checked first; then all of it is written, or nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from tapedown.engine.checks.at_the_well import said_of
from tapedown.engine.checks.named import by_weight, finding
from tapedown.engine.checks.wells import check_construction, check_position
from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.dry import reduce_depth_reached
from tapedown.engine.methods.registry import reduce_readings
from tapedown.record import append, entries, entry
from tapedown.values.forms import TIME, Problem
from tapedown.values.kinds import ABOUT_NETWORK, KINDS, about_gear, about_well
from tapedown.values.ledger.entries import Draft, Entry
from tapedown.values.old_words import WORD_FIELDS
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.values.readings import Readings, Visit
from tapedown.values.results import Finding, Reduction
from tapedown.values.seen import NOTHING_SEEN, SEEN, facts_of_words, together, with_seen
from tapedown.values.times import EARLIEST, LATEST, is_measured_at, with_offset
from tapedown.values.wells import Construction, Position
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.refusals import ReasonMissing, WellThere, WrittenWrong
from tapedown.work.wells.files import WellFile, context_of, well_file

DATED = {"measuring point", "calibration", "level check", "side by side"}
"""Kinds that mean nothing without the day they hold from."""
WELL_KINDS = (
    "well",
    "position",
    "construction",
    "measuring point",
    "reference mark",
    "level check",
    "access",
    "treatment",
)


class Entered(NamedTuple):
    """One entry written, and what the checks say about it."""

    entry: Entry
    findings: tuple[Finding, ...]


class SetReduced(NamedTuple):
    """A reading set of a visit with what the engine makes of it."""

    readings: Readings
    value: Reduction


class VisitRead(NamedTuple):
    """A visit read and worked out, not written yet. said: what is to be told of the visit as a whole."""

    code: str
    measured_at: str
    visit: Visit
    sets: tuple[SetReduced, ...]
    reached: Reduction | None
    said: tuple[Finding, ...]


def enter_fact(
    network: OpenNetwork,
    kind: str,
    about: str,
    given: Mapping[str, Any],
    author: Author,
    *,
    measured_at: str = "",
    strikes: str | None = None,
    reason: str = "",
) -> Entered:
    """Write one fact about a well ("MF-07"), a piece of gear ("ST-014") or the network.

    Parameters
    ----------
    measured_at : the time from which it holds, as written; the network's zone is added when no offset is given
    strikes, reason : the entry it replaces, and why

    Raises
    ------
    WrittenWrong
        Something cannot be read; every problem with its place and mend; nothing was written.
    NoSuchWell
        The well is not in the network (a "well" entry makes it).
    """
    draft, value = draft_fact(
        network, kind, about, given, author, measured_at=measured_at, strikes=strikes, reason=reason
    )
    written = append(network.record, author.device, [draft])[0]
    return Entered(written, tuple(fact_findings(value)))


def draft_fact(
    network: OpenNetwork,
    kind: str,
    about: str,
    given: Mapping[str, Any],
    author: Author,
    *,
    measured_at: str = "",
    strikes: str | None = None,
    reason: str = "",
) -> tuple[Draft, Any]:
    """The draft of one fact and its value, everything checked, nothing written."""
    when, problems = when_written(measured_at, network)
    if kind in DATED and not when and not problems:
        problems = [
            Problem("when", f"{kind} needs the day it holds from", "give it as 2026-05-14 (--from on the command line)")
        ]
    given = {**({"code": about} if kind == "well" else {}), **({"serial": about} if _is_gear(kind) else {}), **given}
    value, wrong = KINDS[kind].read(given, network.unit)
    if value is None or problems or wrong:
        raise WrittenWrong(f"{kind} of {about}", [*problems, *wrong])
    if kind in WELL_KINDS and kind != "well":
        well_file(network, about)
    if kind == "well" and not strikes and (held := entries(network.record, kinds=["well"], about=about_well(about))):
        raise WellThere(about, held[-1].entry.id)
    body = KINDS[kind].body(value)
    place = about_gear(about) if _is_gear(kind) else ABOUT_NETWORK if kind == "network" else about_well(about)
    return author.draft(kind, place, body, measured_at=when, strikes=strikes, reason=reason), value


def _is_gear(kind: str) -> bool:
    return kind in {"gear", "calibration", "side by side"}


def fact_findings(value: Any) -> Sequence[Finding]:
    """What the checks say about a fact."""
    if isinstance(value, Construction):
        return check_construction(value)
    return check_position(value) if isinstance(value, Position) else ()


def when_written(measured_at: str, network: OpenNetwork) -> tuple[str, list[Problem]]:
    """A time as a person wrote it, with the offset its zone had then; "" stays "". Problems have the place "when"."""
    if not measured_at:
        return "", []
    when, problems = TIME.read({"when": measured_at}, network.unit)
    if when is None:
        return "", problems
    if not is_measured_at(when):
        return "", [Problem("when", f"{when} lies before {EARLIEST} or after {LATEST}", "correct the year")]
    return with_offset(when, network.facts.zone)


def read_visit(network: OpenNetwork, given: Mapping[str, Any]) -> VisitRead:
    """Read a visit as a person wrote it and work out its readings; nothing is written.

    The mapping has well, when, the fields of a visit, and readings: a list of sets, each with method and its fields.

    Raises
    ------
    WrittenWrong
        Every problem with its place and mend.
    NoSuchWell
        No such well.
    """
    code = str(given.get("well", "")).strip()
    if not code:
        raise WrittenWrong("the visit", [Problem("well", "well is missing", "the code of the well, such as MF-07")])
    file = well_file(network, code)
    when, problems = when_written(str(given.get("when", "")), network)
    if not given.get("when"):
        problems = [Problem("when", "when is missing", "write 2026-05-14 10:20, or the date alone")]
    fields = {k: v for k, v in given.items() if k not in {"well", "when", "by", "readings"}}
    problems = [*problems, *_only_today(fields)]
    visit, wrong = KINDS["visit"].read({k: v for k, v in fields.items() if k not in WORD_FIELDS}, network.unit)
    sets, more = _read_sets(given.get("readings", []), network.unit)
    if visit is None or problems or more:
        raise WrittenWrong(f"the visit to {code}", [*problems, *wrong, *more])
    shelf = gear_shelf(network)

    def context(what: Readings | Visit) -> ReadingContext:
        own = what.seen if isinstance(what, Readings) else NOTHING_SEEN
        return context_of(file, when, shelf, network, what)._replace(seen=together(visit.seen, own))

    reduced = tuple(SetReduced(s, reduce_readings(s.method, s.read, context(s))) for s in sets)
    return VisitRead(
        code, when, visit, reduced, reduce_depth_reached(context(visit)), _said(visit, sets, when, network)
    )


def _said(visit: Visit, sets: Sequence[Readings], when: str, network: OpenNetwork) -> tuple[Finding, ...]:
    """What is to be said of the visit as a whole."""
    findings = said_of(visit.seen, when, network.settings)
    if not sets and visit.seen.nothing_noted:
        what = "the visit says neither what goes on, nor a reading, nor why there is none"
        findings.append(finding("nothing-said", what, "say why there is no reading, or what the water does", "visit"))
    return by_weight(findings)


def _only_today(given: Mapping[str, Any]) -> list[Problem]:
    """Fields of earlier versions: read in entries that have them, not taken from anybody now."""
    older = {name: given[name] for name in WORD_FIELDS if given.get(name)}
    today = facts_of_words(older)
    mend = f"write {today}" if today else "say it under seen: `tapedown fields visit` lists how"
    return [Problem(name, f"{name} is no field any more: what goes on at the well is said as facts", mend)
            for name in older]  # fmt: skip


def _read_sets(given: Any, length_unit: str) -> tuple[list[Readings], list[Problem]]:
    if not isinstance(given, (list, tuple)) or not all(isinstance(item, Mapping) for item in given):
        return [], [Problem("readings", "readings is not a list of sets", "begin each set with [[readings]]")]
    sets, problems = [], []
    for number, item in enumerate(given, 1):
        place = f"readings[{number}]" if len(given) > 1 else "readings"
        read = {k: v for k, v in item.items() if k not in {"method", "seen"}}
        body = {"method": item.get("method", ""), "read": read, "seen": item.get("seen")}
        readings, wrong = readings_from_body(body, length_unit, place)
        problems += wrong
        sets += [readings] if readings else []
    return sets, problems


def write_visit(network: OpenNetwork, read: VisitRead, author: Author) -> list[Entry]:
    """Write a visit and its reading sets, all or nothing, the visit's entry first."""
    visit = author.draft("visit", about_well(read.code), KINDS["visit"].body(read.visit), measured_at=read.measured_at)
    drafts = [visit]
    for reduced in read.sets:
        body = readings_body(reduced.readings._replace(visit=visit.id))
        drafts.append(author.draft("readings", about_well(read.code), body, measured_at=read.measured_at))
    return append(network.record, author.device, drafts)


def strike(network: OpenNetwork, entry_id: str, reason: str, author: Author) -> list[Entry]:
    """Withdraw an entry without putting another in its place. It stays readable, struck, with the reason.

    Striking a visit strikes the reading sets that came with it.

    Raises
    ------
    ReasonMissing
        No reason was given.
    AlreadyStruck, NothingToStrike
        Somebody was first, or there is no such entry.
    """
    if not reason.strip():
        raise ReasonMissing
    struck = [entry(network.record, entry_id)]
    if struck[0].kind == "visit":
        sets = entries(network.record, kinds=["readings"], about=struck[0].about)
        struck += [held.entry for held in sets if held.entry.data.get("visit") == entry_id]
    drafts = [
        author.draft("strike", e.about, {}, measured_at=e.measured_at, strikes=e.id, reason=reason) for e in struck
    ]
    return append(network.record, author.device, drafts)


def correct(network: OpenNetwork, entry_id: str, changes: Mapping[str, Any], reason: str, author: Author) -> Entered:
    """Correct an entry: a new one of the same kind, with the changed fields, that strikes the old one.

    Parameters
    ----------
    changes : fields of the entry's form (for a reading set, of its method) and, when the time was wrong, `when`; what
        is not named stays as it was

    Raises
    ------
    ReasonMissing, WrittenWrong, AlreadyStruck, NoSuchEntry
    """
    if not reason.strip():
        raise ReasonMissing
    old = entry(network.record, entry_id)
    when, problems = when_written(str(changes.get("when", old.measured_at)), network)
    fields = {k: v for k, v in changes.items() if k != "when"}
    body, value, wrong = _corrected(old, fields, network.unit)
    if problems or wrong:
        raise WrittenWrong("the correction", [*problems, *wrong])
    draft = author.draft(old.kind, old.about, body, measured_at=when, strikes=old.id, reason=reason)
    return Entered(append(network.record, author.device, [draft])[0], tuple(fact_findings(value)))


def _corrected(old: Entry, fields: Mapping[str, Any], length_unit: str) -> tuple[dict[str, Any], Any, list[Problem]]:
    form = KINDS.get(old.kind)
    if form is None:
        return {}, None, [Problem("", f"an entry of kind {old.kind!r} cannot be corrected", "strike it and write anew")]
    if old.kind == "readings":
        read = {name: value for name, value in fields.items() if name not in {"method", "seen"}}
        fields = {**{name: fields[name] for name in fields if name not in read}, "read": {**old.data["read"], **read}}
    value, problems = form.read(_changed(with_seen(old.data), fields, length_unit), length_unit)
    return (form.body(value) if value is not None else {}), value, problems


def _changed(body: Mapping[str, Any], fields: Mapping[str, Any], length_unit: str) -> dict[str, Any]:
    """A body with fields changed; of what goes on each fact by itself, then no longer in an earlier version's words."""
    own = fields.get("seen")
    if not isinstance(own, Mapping):
        return {**body, **fields}
    before = body.get("seen", {})
    now = {**before, **own}
    same = SEEN.read(now, length_unit)[0] == SEEN.read(before, length_unit)[0]
    return {**body, **fields, "seen": before if same else {**now, "as_written": None}}


def same_day_visits(file: WellFile, day: str) -> list[Entry]:
    """Visits already entered for a day: a second one may be the same sheet typed twice."""
    return [f.entry for f in file.of_kind("visit") if f.entry.measured_at[:10] == day[:10]]
