"""The record and its proof, the settings, what this office runs on, and the door of an office that asks for a key."""

from __future__ import annotations

import platform
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, distribution, requires
from typing import Annotated, Any, TypedDict

from fastapi import APIRouter, Depends, Query, Request, Response
from starlette.responses import RedirectResponse

from tapedown.engine.methods.registry import ENGINE_VERSION
from tapedown.exchange.ledger.heads import heads_from_text, heads_text
from tapedown.exchange.shapes import EntryJson, entry_to_json
from tapedown.exchange.sheets import UnreadableSheet
from tapedown.record import Head, Proof, ProofProblem, heads, kept_aside, verify
from tapedown.values.forms import Problem
from tapedown.values.settings import CHOICES, SETTINGS, checked_settings
from tapedown.version import VERSION
from tapedown.web.answers import answers
from tapedown.web.forms import Listed, by_place, listed
from tapedown.web.pages.common import author_for, done, long_work, network_at, office_of, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.security import KEY_COOKIE, NoKey, cookie_line
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.networks import OpenNetwork, change_settings
from tapedown.work.refusals import NobodyNamed, ReasonMissing, WrittenWrong
from tapedown.work.sync.sending import undecided

router = APIRouter()
Prove = Annotated[bool, Query(description="check every entry now")]
_KEY_AGE_S = 12 * 3600


class AsideJson(TypedDict):
    """An entry kept but not in force, and the rival that is."""

    entry: EntryJson
    rival: EntryJson
    struck_by: str | None


class ProofJson(TypedDict):
    """What a check of the whole record found."""

    entries: int
    blobs: int
    devices: int
    sound: bool
    problems: Sequence[ProofProblem]


class RecordJson(TypedDict):
    """The ends of the chains, what is kept aside, and the proof when it was asked for."""

    heads: list[Head]
    kept_aside: list[AsideJson]
    proof: ProofJson | None


class SettingJson(TypedDict):
    """A setting in force."""

    name: str
    value: str
    default: str
    meaning: str
    source: str


class PackageJson(TypedDict):
    """A package this office runs on."""

    name: str
    version: str
    licence: str


class AboutJson(TypedDict):
    """Versions."""

    version: str
    engine_version: str
    python: str
    packages: list[PackageJson]


@answers(router, "/record.json", tags=["record"])
def record_json(request: Request, prove: Prove = False) -> RecordJson:
    """Ends of the chains, corrections kept aside, and the proof when it is asked for."""
    record = office_of(request).record
    aside: list[AsideJson] = [
        {"entry": entry_to_json(a.entry), "rival": entry_to_json(a.rival), "struck_by": a.struck_by}
        for a in kept_aside(record)
    ]
    return {"heads": heads(record), "kept_aside": aside, "proof": _proof(verify(record)) if prove else None}


def _proof(proof: Proof) -> ProofJson:
    return {
        "entries": proof.entries,
        "blobs": proof.blobs,
        "devices": proof.devices,
        "sound": proof.sound,
        "problems": proof.problems,
    }


@router.get("/record", include_in_schema=False)
def record_page(request: Request, prove: Prove = False, proof: Annotated[str, Query(max_length=60)] = "") -> Response:
    """The record; a proof is long work, and `proof` names the one to be shown."""
    if prove:
        return _prove(request)
    office = office_of(request)
    return _record(request, office.working.outcome(proof) if proof else None)


@router.post("/record", include_in_schema=False)
def record_against(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """The proof against ends of chains noted earlier: shows entries lost from the end as well."""
    typed = sent.text("heads")
    try:
        known = [Head(*row) for row in heads_from_text(typed.encode("utf-8", "replace"), "the ends")]
    except UnreadableSheet as error:
        wrong = Problem("heads", str(error), "copy the lines as the record page gave them")
        return _record(request, None, typed, [wrong])
    return _prove(request, known)


def _prove(request: Request, known: Sequence[Head] = ()) -> Response:
    record = office_of(request).record
    return long_work(
        request,
        "checking every entry",
        lambda watch: verify(record, known, watch=watch),
        shown_at=lambda work: f"/record?proof={work}",
        once=f"prove {sorted(known)}",
    )


def _record(request: Request, proof: Proof | None, typed: str = "", problems: Sequence[Problem] = ()) -> Response:
    record = office_of(request).record
    ends = heads(record)
    aside = kept_aside(record)
    waiting = {a.entry.id for a in undecided(aside)}
    return render(
        request,
        "record.html",
        title="the record",
        where=record.where,
        heads=ends,
        heads_text=heads_text(ends),
        count=sum(head.sequence for head in ends),
        aside=aside,
        waiting=waiting,
        proof=proof,
        typed=typed,
        problems=by_place(problems),
        listed=listed(problems),
        status=422 if problems else 200,
        device=office_of(request).device,
    )


@answers(router, "/settings.json", tags=["settings"])
def settings_json(request: Request) -> list[SettingJson]:
    """The settings in force, with their sources."""
    return _rows(network_at(request))


def _rows(network: OpenNetwork) -> list[SettingJson]:
    return [
        {"name": s.name, "value": network.settings.text(s.name), "default": s.default, "meaning": s.meaning,
         "source": network.settings.source(s.name)}
        for s in SETTINGS
    ]  # fmt: skip


@router.get("/settings", include_in_schema=False)
def settings_page(request: Request) -> Response:
    """The settings."""
    return _settings(request, network_at(request))


def _settings(
    request: Request, network: OpenNetwork, *, sent: Sent | None = None, problems: list[Problem] | None = None
) -> Response:
    rows = _rows(network)
    typed = {row["name"]: sent.text(row["name"]) for row in rows} if sent else {}
    return render(
        request,
        "settings.html",
        title="settings",
        network=network,
        rows=rows,
        typed=typed,
        choices=CHOICES,
        reason=sent.text("reason") if sent else "",
        problems=by_place(problems or []),
        listed=[Listed(p.place, p.message, p.mend, _anchor(p.place)) for p in problems or []],
        status=422 if problems else 200,
        **({"by": sent.text("by")} if sent else {}),
    )


def _anchor(place: str) -> str:
    return f"f-{place}" if place in {"by", "reason"} else f"s-{place}"


@router.post("/settings", include_in_schema=False)
def settings_sent(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Change settings, with a reason."""
    network = network_at(request)
    changes = {
        s.name: text for s in SETTINGS if (text := sent.text(s.name).strip()) and text != network.settings.text(s.name)
    }
    problems = [problem for name, text in changes.items() if (problem := _wrong(name, text))]
    try:
        author = author_for(request, sent)
        if not changes and not problems:
            problems.append(Problem("reason", "nothing was changed", "change a value above"))
        if not sent.text("reason").strip():
            problems.append(missing(ReasonMissing()))
        if not problems:
            change_settings(network, changes, author, sent.text("reason").strip())
    except WrittenWrong as error:
        problems += error.problems
    except NobodyNamed as error:
        problems.append(missing(error))
    return _settings(request, network, sent=sent, problems=problems) if problems else done(request, sent, "/settings")


def _wrong(name: str, text: str) -> Problem | None:
    try:
        checked_settings({name: text})
    except ValueError as error:
        return Problem(name, str(error), "write it like the value it has")
    return None


@answers(router, "/about.json", tags=["about"])
def about_json() -> AboutJson:
    """Versions and licences."""
    return _about()


@router.get("/about", include_in_schema=False)
def about_page(request: Request) -> Response:
    """Versions and licences."""
    return render(request, "about.html", title="about", about=_about())


def _about() -> AboutJson:
    return {
        "version": VERSION,
        "engine_version": ENGINE_VERSION,
        "python": platform.python_version(),
        "packages": [_package(name) for name in _needed()],
    }


def _needed() -> list[str]:
    """Packages the program asks for when it is installed, without those of its extras."""
    try:
        asked = requires("tapedown") or []
    except PackageNotFoundError:
        return []
    plain = [row for row in asked if "extra ==" not in row]
    return sorted({row.partition(";")[0].split("[")[0].rstrip("0123456789.,<>=!~* ").strip() for row in plain})


def _package(name: str) -> PackageJson:
    try:
        told: dict[str, Any] = distribution(name).metadata.json
    except PackageNotFoundError:
        return {"name": name, "version": "not installed", "licence": ""}
    classed = [c.rpartition(" :: ")[2] for c in told.get("classifier", []) if c.startswith("License ::")]
    said = told.get("license_expression") or "; ".join(classed) or told.get("license", "")
    return {"name": name, "version": str(told["version"]), "licence": str(said).partition("\n")[0][:120]}


@router.get("/enter", include_in_schema=False)
def come_in(request: Request, key: Annotated[str, Query(max_length=200)] = "") -> Response:
    """The door: the key from the address that was printed at start."""
    doors = office_of(request).doors
    if doors.key_sha256 and not doors.opens(key):
        raise NoKey
    response = RedirectResponse("/", 303)
    if doors.key_sha256:
        seal = doors.sealed("key " + doors.key_sha256)
        response.headers.append("set-cookie", cookie_line(KEY_COOKIE, seal, tls=doors.tls, age_s=_KEY_AGE_S))
    return response
