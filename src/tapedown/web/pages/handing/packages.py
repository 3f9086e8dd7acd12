"""A package made elsewhere: sent in, looked at line by line, then entered. The upload is never put on disk."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict

from fastapi import APIRouter, Depends, Request, Response

from tapedown.exchange.delivery.quantities import BY_KEY, QUANTITIES
from tapedown.exchange.packages.incoming import NotTaken
from tapedown.exchange.sheets import UnreadableSheet
from tapedown.exchange.tables.mapping_file import MappingWrong, read_mapping
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Field, Form, Problem
from tapedown.values.progress import Watch
from tapedown.values.results import Finding
from tapedown.web.answers import answers
from tapedown.web.forms import FormJson, asks_for, by_place, listed
from tapedown.web.links import words_of
from tapedown.web.pages.common import network_at, office_of, page_of, render
from tapedown.web.pages.handing.importing import PER_PAGE
from tapedown.web.pages.handing.sent_in import enter_from_tray, look_over
from tapedown.web.pages.wells.well import PageNumber
from tapedown.web.staged import NotInTheTray, PackagePaper
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.authorship import Author
from tapedown.work.imports.package_import import PackageHints
from tapedown.work.imports.package_report import OUTCOMES, PackageAccount, PackageLine, PackageTable, take_package
from tapedown.work.imports.packages import Handed

router = APIRouter()
EMPTY = PackagePaper("", b"")
PACKAGE_SENT = Form(
    "package",
    PackagePaper,
    "A package made elsewhere: looked at line by line, then entered.",
    (
        Field("package", "text", "a delivery or Data Package (.zip), WaterML 2 (.xml) or a GeoPackage (.gpkg)",
              required=True),
        Field("quantity", "choice", "what a WaterML series holds, where it does not say", choices=tuple(BY_KEY)),
        Field("datum", "text", "vertical datum of its elevations, where it does not say"),
        Field("layer", "text", "layer of a GeoPackage that holds the wells"),
        Field("table", "text", "table of a Data Package that the mapping is for"),
        Field("mapping", "text", "what the columns of that table, or of the layer, mean (TOML)"),
    ),
)  # fmt: skip


class PackageTableJson(TypedDict):
    """A table of a package: how many of its lines had each outcome, entries written or to be by kind."""

    name: str
    totals: dict[str, int]
    written: dict[str, int]
    findings: Sequence[Finding]
    entry: str


class PackageLineJson(TypedDict):
    """What became, or would become, of a line of one of its tables; `what` tells an entry of a record."""

    number: int
    outcome: str
    reason: str
    mend: str
    findings: Sequence[Finding]
    same_as: int
    table: str
    what: str


class HandedJson(TypedDict):
    """A package that was sent in and looked at: its tables, what is not taken, a page of its lines.

    own says that it holds a record's own entries; dry_run that nothing is written yet.
    """

    name: str
    sha256: str
    own: bool
    dry_run: bool
    totals: dict[str, int]
    tables: list[PackageTableJson]
    not_taken: Sequence[NotTaken]
    lines: list[PackageLineJson]
    next_page: int | None


Numbered = tuple[PackageTable, PackageLine]


@answers(router, "/take-in.json", tags=["forms"])
def package_form_json(request: Request) -> FormJson:
    """What a package to be taken in asks for."""
    return asks_for(PACKAGE_SENT, about="", sent_to="/take-in", unit=network_at(request).unit, given={})


@router.get("/take-in", include_in_schema=False)
def package_page(request: Request) -> Response:
    """The form: a package, and what is to be said about it where it does not say it itself."""
    return _form(request, EMPTY, "")


def _form(request: Request, paper: PackagePaper, kept: str) -> Response:
    return render(
        request,
        "take_in.html",
        title="take in a package",
        paper=paper,
        kept=kept,
        quantities=QUANTITIES,
        problems=by_place(paper.problems),
        listed=listed(paper.problems),
        status=422 if paper.problems else 200,
    )


@router.post("/take-in", include_in_schema=False)
def look(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Look at a package: what would become of every line. Nothing is written."""
    staged = office_of(request).staged_packages
    paper, kept = _paper(request, sent)
    if not paper.data:
        mend = "choose a .zip, .xml or .gpkg file"
        return _form(request, paper._replace(problems=(Problem("package", "no package was chosen", mend),)), "")
    kept = staged.put(paper, kept)
    looked, answer = look_over(
        request, staged, kept, paper.name, looked=lambda watch: _looked(request, paper, watch), at="/take-in"
    )
    return _form(request, looked, kept) if looked.problems else answer


def _paper(request: Request, sent: Sent) -> tuple[PackagePaper, str]:
    """What was sent, with the package of last time when none was chosen again."""
    name, data = sent.files.get("package", ("", b""))
    kept = sent.text("kept")
    if not data and kept:
        before = office_of(request).staged_packages.find(kept)
        kept, name, data = (kept, before.name, before.data) if before else ("", name, data)
    _, mapping = sent.files.get("mapping_file", ("", b""))
    text = mapping.decode("utf-8", "replace") if mapping else sent.text("mapping")
    quantity, datum, layer, table = (sent.text(field).strip() for field in ("quantity", "datum", "layer", "table"))
    return PackagePaper(name, data, quantity, datum, layer, table, text.replace("\r\n", "\n")), kept


def _looked(request: Request, paper: PackagePaper, watch: Watch) -> PackagePaper:
    """The paper with what it would come to, or with what is wrong with it."""
    try:
        author = Author("preview", office_of(request).device)
        return paper._replace(account=_take(request, paper, author, watch, dry_run=True))
    except MappingWrong as error:
        problems = [problem._replace(place="mapping " + problem.place) for problem in error.problems]
    except UnreadableSheet as error:
        problems = [Problem("mapping" if paper.mapping.strip() else "package", str(error), error.hint)]
    except TapedownError as error:
        problems = [Problem("package", str(error), error.hint)]
    return paper._replace(problems=tuple(problems))


def _take(request: Request, paper: PackagePaper, author: Author, watch: Watch, *, dry_run: bool) -> PackageAccount:
    mapping = paper.mapping.encode("utf-8", "replace")
    mappings = {paper.table: read_mapping(mapping)} if mapping.strip() else {}
    said = PackageHints(paper.quantity, paper.datum, paper.layer, mappings)
    handed = Handed(paper.name, paper.data)
    return take_package(network_at(request), handed, said, author, dry_run=dry_run, watch=watch)


def _account(request: Request, token: str) -> PackageAccount:
    account = office_of(request).staged_packages.get(words_of(token)).account
    if account is None:
        raise NotInTheTray
    return account


def _lines(account: PackageAccount, only: str, table: int) -> list[Numbered]:
    """The lines of an outcome ("" for any) in a table (from 1 on; 0 for any)."""
    tables = account.tables if table == 0 else account.tables[table - 1 : table]
    return [(found, line) for found in tables for line in found.lines if only in ("", line.outcome)]


@answers(router, "/take-in/{token}.json", tags=["import"])
def package_json(
    request: Request, token: str, page: PageNumber = 1, only: str = "", table: PageNumber | None = None
) -> HandedJson:
    """A package that was looked at: its tables and a page of its lines."""
    account = _account(request, token)
    lines = _lines(account, only, table or 0)
    return {
        "name": account.name,
        "sha256": account.sha256,
        "own": account.own,
        "dry_run": account.dry_run,
        "totals": account.totals,
        "tables": [_table(found) for found in account.tables],
        "not_taken": account.not_taken,
        "lines": [_line(*row) for row in lines[(page - 1) * PER_PAGE : page * PER_PAGE]],
        "next_page": page + 1 if page * PER_PAGE < len(lines) else None,
    }


def _table(found: PackageTable) -> PackageTableJson:
    return {
        "name": found.name,
        "totals": found.totals,
        "written": found.written,
        "findings": found.findings,
        "entry": found.entry,
    }


def _line(found: PackageTable, line: PackageLine) -> PackageLineJson:
    return {
        "number": line.number,
        "outcome": line.outcome,
        "reason": line.reason,
        "mend": line.mend,
        "findings": line.findings,
        "same_as": line.same_as,
        "table": found.name,
        "what": line.what,
    }


@router.get("/take-in/{token}", include_in_schema=False)
def looked_at(
    request: Request, token: str, page: PageNumber = 1, only: str = "", table: PageNumber | None = None
) -> Response:
    """What would become, or became, of every line; or the form again, with what is wrong."""
    paper = office_of(request).staged_packages.get(words_of(token))
    if paper.problems:
        return _form(request, paper, words_of(token))
    return _show(request, token, page=page, only=only, table=table or 0)


def _show(
    request: Request, token: str, *, page: int = 1, only: str = "", table: int = 0, problems: Sequence[Problem] = ()
) -> Response:
    account = _account(request, token)
    only, table = only if only in OUTCOMES else "", table if table <= len(account.tables) else 0
    lines = _lines(account, only, table)
    here = page_of(lines, page, PER_PAGE)
    return render(
        request,
        "taken_in.html",
        title=f"take in {account.name}",
        account=account,
        paper=office_of(request).staged_packages.get(words_of(token)),
        token_of_paper=token,
        lines=here.rows,
        page=here.page,
        pages=here.pages,
        only=only,
        table=table,
        outcomes=[outcome for outcome in OUTCOMES if account.totals[outcome] or outcome != "kept aside"],
        quantities=QUANTITIES,
        problems=by_place(problems),
        listed=listed(problems),
        status=422 if problems else 200,
    )


@router.post("/take-in/{token}", include_in_schema=False)
def enter(request: Request, token: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Enter the package that was looked at."""
    _account(request, token)
    return enter_from_tray(
        request,
        sent,
        office_of(request).staged_packages,
        token=token,
        at="/take-in",
        entered=lambda paper, author, watch: paper._replace(
            account=_take(request, paper, author, watch, dry_run=False)
        ),
        again=lambda problems: _show(request, token, problems=problems),
    )
