"""A table taken in: sent with its mapping, looked at line by line, then entered. The upload is never put on disk."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict

from fastapi import APIRouter, Depends, Request, Response

from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.exchange.tables.mapping_file import MappingWrong, read_mapping
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Field, Form, Problem
from tapedown.values.progress import Watch
from tapedown.values.results import Finding
from tapedown.web.answers import answers
from tapedown.web.forms import FormJson, asks_for, by_place, listed
from tapedown.web.links import words_of
from tapedown.web.pages.common import network_at, office_of, page_of, render
from tapedown.web.pages.handing.sent_in import enter_from_tray, look_over
from tapedown.web.pages.wells.well import PageNumber
from tapedown.web.staged import NotInTheTray, Paper
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.authorship import Author
from tapedown.work.imports.tables import OUTCOMES, ImportReport, LineReport, import_table

router = APIRouter()
PER_PAGE = 200


class StagedJson(TypedDict):
    """A table that was sent in and looked at: a page of its lines."""

    file_name: str
    sha256: str
    makes: str
    totals: dict[str, int]
    written: dict[str, int]
    findings: Sequence[Finding]
    lines: Sequence[LineReport]
    next_page: int | None


TABLE_SENT = Form(
    "table",
    Paper,
    "A table with its mapping: looked at line by line, then entered.",
    (
        Field("table", "text", "the file: CSV or a spreadsheet (xlsx)", required=True),
        Field("mapping_file", "text", "a TOML file that says which columns mean what"),
        Field("mapping", "text", "the mapping as text, when no file of it is sent"),
    ),
)


@answers(router, "/import.json", tags=["forms"])
def import_json(request: Request) -> FormJson:
    """What a table to be taken in asks for."""
    return asks_for(TABLE_SENT, about="", sent_to="/import", unit=network_at(request).unit, given={})


@router.get("/import", include_in_schema=False)
def import_page(request: Request) -> Response:
    """The form: a table and its mapping."""
    return _form(request)


def _form(request: Request, problems: Sequence[Problem] = (), paper: Paper | None = None, kept: str = "") -> Response:
    mapping = paper.mapping.decode("utf-8", "replace") if paper else ""
    return render(
        request,
        "import.html",
        title="import",
        mapping=mapping,
        kept=kept,
        kept_name=paper.name if paper and kept else "",
        problems=by_place(problems),
        listed=listed(problems),
        status=422 if problems else 200,
    )


@router.post("/import", include_in_schema=False)
def preview(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Look at a table: what would become of every line. Nothing is written."""
    staged = office_of(request).staged
    paper, kept, problems = _paper(request, sent)
    kept = staged.put(paper, kept) if paper.data else ""
    if problems:
        return _form(request, problems, paper, kept)
    looked, answer = look_over(
        request, staged, kept, paper.name, looked=lambda watch: _looked(request, paper, watch), at="/import"
    )
    return _form(request, looked.problems, looked, kept) if looked.problems else answer


def _looked(request: Request, paper: Paper, watch: Watch) -> Paper:
    """The paper with what it would come to, or with what is wrong with it."""
    try:
        author = Author("preview", office_of(request).device)
        return paper._replace(report=_work(request, paper, author, watch, dry_run=True))
    except MappingWrong as error:
        problems = [problem._replace(place="mapping " + problem.place) for problem in error.problems]
    except (NotATable, TableTooLarge) as error:
        problems = [Problem("table", str(error), error.hint)]
    except TapedownError as error:
        problems = [Problem("mapping", str(error), error.hint)]
    return paper._replace(problems=tuple(problems))


def _paper(request: Request, sent: Sent) -> tuple[Paper, str, list[Problem]]:
    """What was sent, with the table of last time when none was chosen again."""
    name, data = sent.files.get("table", ("", b""))
    kept = sent.text("kept")
    if not data and kept:
        before = office_of(request).staged.find(kept)
        kept, name, data = (kept, before.name, before.data) if before else ("", name, data)
    mapping_name, mapping = sent.files.get(
        "mapping_file", ("the mapping", sent.text("mapping").encode("utf-8", "replace"))
    )
    problems = [] if data else [Problem("table", "no table was chosen", "choose a CSV file or a spreadsheet (xlsx)")]
    if not mapping.strip():
        problems.append(Problem("mapping", "no mapping was given", "choose its file, or write it below"))
    return Paper(name, data, mapping_name, mapping), kept, problems


def _work(request: Request, paper: Paper, author: Author, watch: Watch, *, dry_run: bool) -> ImportReport:
    mapping = read_mapping(paper.mapping, paper.mapping_name)
    return import_table(network_at(request), paper.data, paper.name, mapping, author, dry_run=dry_run, watch=watch)


def _report(request: Request, token: str) -> ImportReport:
    report = office_of(request).staged.get(words_of(token)).report
    if report is None:
        raise NotInTheTray
    return report


@answers(router, "/import/{token}.json", tags=["import"])
def looked_json(request: Request, token: str, page: PageNumber = 1) -> StagedJson:
    """A table that was looked at: totals and a page of its lines."""
    report = _report(request, token)
    shown = report.lines[(page - 1) * PER_PAGE : page * PER_PAGE]
    return {
        "file_name": report.file_name,
        "sha256": report.sha256,
        "makes": report.makes,
        "totals": report.totals,
        "written": report.written,
        "findings": report.findings,
        "lines": shown,
        "next_page": page + 1 if page * PER_PAGE < len(report.lines) else None,
    }


@router.get("/import/{token}", include_in_schema=False)
def looked_at(request: Request, token: str, page: PageNumber = 1, only: str = "") -> Response:
    """What would become, or became, of every line; or the form again, with what is wrong."""
    paper = office_of(request).staged.get(words_of(token))
    if paper.problems:
        return _form(request, paper.problems, paper, words_of(token))
    return _show(request, token, page=page, only=only)


def _show(request: Request, token: str, *, page: int = 1, only: str = "", problems: Sequence[Problem] = ()) -> Response:
    report = _report(request, token)
    lines: Sequence[LineReport] = [line for line in report.lines if only in ("", line.outcome)]
    here = page_of(lines, page, PER_PAGE)
    return render(
        request,
        "looked_at.html",
        title=f"import of {report.file_name}",
        report=report,
        token_of_paper=token,
        lines=here.rows,
        page=here.page,
        pages=here.pages,
        only=only if only in OUTCOMES else "",
        outcomes=OUTCOMES,
        problems=by_place(problems),
        listed=listed(problems),
        status=422 if problems else 200,
    )


@router.post("/import/{token}", include_in_schema=False)
def enter(request: Request, token: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Enter the table that was looked at."""
    _report(request, token)
    return enter_from_tray(
        request,
        sent,
        office_of(request).staged,
        token=token,
        at="/import",
        entered=lambda paper, author, watch: paper._replace(report=_work(request, paper, author, watch, dry_run=False)),
        again=lambda problems: _show(request, token, problems=problems),
    )
