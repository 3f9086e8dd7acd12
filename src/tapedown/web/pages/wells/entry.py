"""One entry of the record, as written, with its place in the chain; striking and correcting it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, NamedTuple

from fastapi import APIRouter, Depends, Request, Response

from tapedown.exchange.shapes import FactJson, entry_to_json
from tapedown.record import entries
from tapedown.record import entry as record_entry
from tapedown.values.forms import Form, Problem
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import Entry
from tapedown.values.reading_forms import METHODS
from tapedown.values.results import Finding
from tapedown.values.seen import SEEN, SEEN_FIELD, with_seen
from tapedown.web.answers import answers
from tapedown.web.forms import Filled, Widget, by_place, gathered, listed, rows_sent, widgets
from tapedown.web.links import about_path, value_path, words_of
from tapedown.web.pages.common import author_for, done, network_at, render
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.entry.entering import correct, fact_findings, strike
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NobodyNamed, ReasonMissing, WrittenWrong

router = APIRouter()
NOT_CORRECTED = {"network", "strike", "import", "review", "document", "acceptance", "re-measure", "drawing", "sign-off"}
"""Kinds whose wrong entries are struck, or changed on a page of their own."""


class EntryShown(NamedTuple):
    """An entry, what strikes it, the well it is about ("" when it is about something else)."""

    network: OpenNetwork
    entry: Entry
    striker: Entry | None

    @property
    def code(self) -> str:
        """The well it is about, "" for another subject."""
        kind, _, words = self.entry.about.partition("/")
        return words if kind == "well" else ""

    @property
    def form(self) -> Form | None:
        """The form it is corrected with, None when it cannot be."""
        if self.entry.kind == "readings":
            method = METHODS.get(str(self.entry.data.get("method", "")))
            return method._replace(fields=(*method.fields, SEEN_FIELD)) if method else None
        return None if self.entry.kind in NOT_CORRECTED else KINDS.get(self.entry.kind)

    @property
    def filled(self) -> dict[str, Any]:
        """What the form holds at first."""
        body = with_seen(self.entry.data)
        if self.entry.kind != "readings":
            return dict(body)
        read = body.get("read", {})
        return {**(read if isinstance(read, dict) else {}), "seen": body.get("seen", {})}

    @property
    def findings(self) -> Sequence[Finding]:
        """What the checks of facts say about it."""
        form = KINDS.get(self.entry.kind)
        value = form.read(self.entry.data, self.network.unit)[0] if form else None
        return fact_findings(value)

    @property
    def path(self) -> str:
        """The page that shows what it is about: the value where there is one."""
        if self.code and self.entry.kind in {"readings", "visit"}:
            return value_path(self.code, self.entry.id)
        return about_path(self.entry.about)


def find(request: Request, entry_id: str) -> EntryShown:
    """An entry by its id. Raises NoSuchEntry."""
    network = network_at(request)
    found = record_entry(network.record, entry_id)
    same = entries(network.record, about=found.about, struck=True)
    struck_by = next((held.struck_by for held in same if held.entry.id == found.id), None)
    striker = next((held.entry for held in same if held.entry.id == struck_by), None)
    return EntryShown(network, found, striker)


@answers(router, "/entries/{entry_id}.json", tags=["record"])
def entry_json(request: Request, entry_id: str) -> FactJson:
    """An entry as written."""
    held = find(request, words_of(entry_id))
    struck_by = held.striker.id if held.striker else None
    return {**entry_to_json(held.entry), "struck_by": struck_by}


@router.get("/entries/{entry_id}", include_in_schema=False)
def entry_page(request: Request, entry_id: str) -> Response:
    """An entry."""
    return show(request, find(request, words_of(entry_id)))


def show(
    request: Request,
    held: EntryShown,
    *,
    sent: Sent | None = None,
    problems: list[Problem] | None = None,
    status: int = 200,
) -> Response:
    """The page of an entry, its forms filled with what was sent or with what it says."""
    form, told = held.form, by_place(problems or [])
    given = gathered(form, sent) if form and sent else held.filled
    filled = Filled(given, told, rows_sent(sent) if sent else {}, held.network.unit)
    fields: list[Widget] = widgets(form, filled) if form else []
    return render(
        request,
        "entry.html",
        title=f"{held.entry.kind} of {held.entry.subject or 'the network'}",
        held=held,
        entry=held.entry,
        fields=fields,
        when=sent.text("when") if sent else held.entry.measured_at,
        reason=sent.text("reason") if sent else "",
        problems=told,
        listed=listed(problems or []),
        status=status,
        **({"by": sent.text("by")} if sent else {}),
    )


@router.post("/entries/{entry_id}/strike", include_in_schema=False)
def strike_entry(request: Request, entry_id: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Withdraw an entry."""
    held = find(request, words_of(entry_id))
    try:
        strike(held.network, held.entry.id, sent.text("reason"), author_for(request, sent))
    except (ReasonMissing, NobodyNamed) as error:
        return show(request, held, problems=[missing(error)], status=422)
    return done(request, sent, held.path)


@router.post("/entries/{entry_id}/correct", include_in_schema=False)
def correct_entry(request: Request, entry_id: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Replace an entry by one that says it right."""
    held = find(request, words_of(entry_id))
    form = held.form
    if form is None or sent.text("add"):
        return show(request, held, sent=sent)
    try:
        author = author_for(request, sent)
        written = correct(held.network, held.entry.id, _changes(form, sent), sent.text("reason"), author)
    except WrittenWrong as error:
        return show(request, held, sent=sent, problems=list(error.problems), status=422)
    except (ReasonMissing, NobodyNamed) as error:
        return show(request, held, sent=sent, problems=[missing(error)], status=422)
    return done(request, sent, held._replace(entry=written.entry).path)


def _changes(form: Form, sent: Sent) -> dict[str, Any]:
    """Every field of the form, so that what was blanked is blank afterwards."""
    changes: dict[str, Any] = {field.name: None for field in form.fields} | gathered(form, sent)
    if SEEN_FIELD in form.fields:
        changes["seen"] = {field.name: None for field in SEEN.asked} | (changes["seen"] or {})
    if when := sent.text("when").strip():
        changes["when"] = when
    return changes


def missing(error: ReasonMissing | NobodyNamed) -> Problem:
    """A missing reason or name as a problem of its field."""
    if isinstance(error, NobodyNamed):
        return Problem("by", "nobody is named as the writer", "write your name; it is remembered on this machine")
    return Problem("reason", "there is no reason", "say what was wrong: read 47 for 41")
