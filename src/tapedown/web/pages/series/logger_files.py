"""A logger's file taken in through the office: sent, its profile proposed and mended, every line told, then entered."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict

from fastapi import APIRouter, Depends, Request, Response

from tapedown.exchange.loggers.diagnostics import Account, LinesAside
from tapedown.exchange.loggers.profiles import ProfileWrong, profile_text, read_profile
from tapedown.exchange.loggers.proposals import first_lines, propose_profile
from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Field, Form, Problem
from tapedown.values.results import Finding
from tapedown.values.series.series import LoggerFile
from tapedown.web.answers import answers
from tapedown.web.forms import FormJson, asks_for, by_place, listed
from tapedown.web.links import series_path, words_of
from tapedown.web.pages.common import author_for, long_work, network_at, office_of, remembered, render
from tapedown.web.pages.handing.sent_in import look_over
from tapedown.web.pages.wells.entry import missing
from tapedown.web.staged import LoggerPaper
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.authorship import Author
from tapedown.work.refusals import NobodyNamed, NoSuchWell, WrittenWrong
from tapedown.work.series.files import SeriesFileTooLarge, account_lines, take_logger_file

router = APIRouter()
FILE_SENT = Form(
    "logger file",
    LoggerPaper,
    "A file of a logger: its profile is proposed, every line is told, then it is entered.",
    (
        Field("file", "text", "CSV or a spreadsheet (xlsx), up to 30 MB", required=True),
        Field("well", "text", "code of the well", required=True),
        Field("series", "text", "name of the series at this well, such as level or air", required=True),
        Field("logger", "text", "serial number of the logger"),
        Field("remarks", "text", "anything else"),
        Field("profile", "text", "how the file is laid out (TOML); proposed when a file is sent"),
    ),
)


class AccountJson(TypedDict):
    """What would become of every line of a logger's file."""

    lines: int
    above: int
    rows: int
    aside: Sequence[LinesAside]
    no_values: dict[str, int]
    backwards: int
    repeated: int
    first: str
    last: str
    findings: Sequence[Finding]


class LoggerFileJson(TypedDict):
    """A logger's file that was sent in and looked at: its profile (TOML), what remains to be answered, its lines."""

    well: str
    series: str
    logger: str
    remarks: str
    file: str
    profile: str
    questions: Sequence[str]
    account: AccountJson | None
    problems: Sequence[Problem]


EMPTY = LoggerPaper("", "", "", "", "", b"", "")


@answers(router, "/loggers/new.json", tags=["forms"])
def new_json(request: Request, well: str = "", series: str = "") -> FormJson:
    """What a logger's file to be taken in asks for."""
    given = {name: value for name, value in (("well", well), ("series", series)) if value}
    return asks_for(FILE_SENT, about="", sent_to="/loggers/new", unit=network_at(request).unit, given=given)


@router.get("/loggers/new", include_in_schema=False)
def new_page(request: Request, well: str = "", series: str = "") -> Response:
    """The form: a file, and the series it is to be part of."""
    return _show(request, EMPTY._replace(well=well, series=series), "")


@answers(router, "/loggers/{token}.json", tags=["import"])
def looked_json(request: Request, token: str) -> LoggerFileJson:
    """A logger's file that was looked at."""
    paper = office_of(request).staged_logger_files.get(words_of(token))
    return {
        "well": paper.well,
        "series": paper.series,
        "logger": paper.logger,
        "remarks": paper.remarks,
        "file": paper.file,
        "profile": paper.profile,
        "questions": paper.questions,
        "account": _account(paper.account) if paper.account else None,
        "problems": paper.problems,
    }


def _account(account: Account) -> AccountJson:
    return {
        "lines": account.lines,
        "above": account.above,
        "rows": account.rows,
        "aside": account.aside,
        "no_values": account.no_values,
        "backwards": account.backwards,
        "repeated": account.repeated,
        "first": account.first,
        "last": account.last,
        "findings": account.findings,
    }


@router.get("/loggers/{token}", include_in_schema=False)
def looked_at(request: Request, token: str) -> Response:
    """What would become of every line of a file, and its profile, to be changed."""
    return _show(request, office_of(request).staged_logger_files.get(words_of(token)), words_of(token))


@router.post("/loggers/new", include_in_schema=False)
def send(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Look at a file, or enter it when it was looked at just so. Nothing is written before."""
    staged = office_of(request).staged_logger_files
    before, kept = _before(request, sent)
    paper = _paper(sent, before)
    if sent.text("then") == "enter" and paper == before and paper.account and not paper.problems:
        return _enter(request, sent, paper, kept)
    paper = paper._replace(account=None, problems=tuple(_missing(paper)) or paper.problems)
    kept = staged.put(paper, kept) if paper.data else ""
    if paper.problems:
        return _show(request, paper, kept)
    looked, answer = look_over(
        request, staged, kept, paper.file, looked=lambda _watch: _looked(request, paper), at="/loggers"
    )
    return _show(request, looked, kept) if looked.problems else answer


def _before(request: Request, sent: Sent) -> tuple[LoggerPaper, str]:
    """What was sent last time, and the name it is kept by."""
    kept = sent.text("kept")
    before = office_of(request).staged_logger_files.find(kept)
    return (before, kept) if before else (EMPTY, "")


def _paper(sent: Sent, before: LoggerPaper) -> LoggerPaper:
    """What was sent, with the file of last time when none was chosen again; a new file has its profile proposed."""
    well, series, logger, remarks = (sent.text(name).strip() for name in ("well", "series", "logger", "remarks"))
    file, data = sent.files.get("file", ("", b""))
    if not data:
        profile = sent.text("profile").replace("\r\n", "\n") or before.profile
        return before._replace(well=well, series=series, logger=logger, remarks=remarks, profile=profile, problems=())
    paper = LoggerPaper(well, series, logger, remarks, file, data, "")
    try:
        proposal = propose_profile(data)
    except (NotATable, TableTooLarge) as error:
        return paper._replace(problems=(Problem("file", str(error), error.hint),))
    return paper._replace(profile=profile_text(proposal.profile), questions=proposal.questions)


def _missing(paper: LoggerPaper) -> list[Problem]:
    wanted = (
        ("file", paper.data, "no file was chosen, or it is empty", "choose a CSV file or a spreadsheet (xlsx)"),
        ("well", paper.well, "no well is named", "write its code"),
        ("series", paper.series, "the series has no name", "one word, such as level or air"),
    )
    found = [Problem(place, message, mend) for place, there, message, mend in wanted if not there]
    return [*found, *(paper.problems if found else ())]


def _looked(request: Request, paper: LoggerPaper) -> LoggerPaper:
    """The paper with what would become of its lines, or with what is wrong with it."""
    try:
        return paper._replace(account=_take(request, paper, Author("preview", office_of(request).device), dry_run=True))
    except ProfileWrong as error:
        problems = [Problem("profile", f"{p.place}: {p.message}", p.mend) for p in error.problems]
    except WrittenWrong as error:
        problems = list(error.problems)
    except NoSuchWell as error:
        problems = [Problem("well", str(error), error.hint)]
    except (NotATable, TableTooLarge, SeriesFileTooLarge) as error:
        problems = [Problem("file", str(error), error.hint)]
    except TapedownError as error:
        problems = [Problem("profile", str(error), error.hint)]
    return paper._replace(problems=tuple(problems))


def _take(request: Request, paper: LoggerPaper, author: Author, *, dry_run: bool) -> Account:
    profile = read_profile(paper.profile.encode("utf-8", "replace"))
    given = LoggerFile(paper.series, paper.file, "", paper.logger, profile, paper.remarks)
    return take_logger_file(network_at(request), paper.well, given, paper.data, author, dry_run=dry_run).account


def _enter(request: Request, sent: Sent, paper: LoggerPaper, kept: str) -> Response:
    try:
        author = author_for(request, sent)
    except NobodyNamed as error:
        return _show(request, paper._replace(problems=(missing(error),)), kept)
    answer = long_work(
        request,
        f"entering {paper.file}",
        lambda _watch: _take(request, paper, author, dry_run=False),
        shown_at=lambda _work: series_path(paper.well, paper.series),
        once=f"enter {kept}",
    )
    return remembered(request, sent, answer)


def _show(request: Request, paper: LoggerPaper, kept: str) -> Response:
    return render(
        request,
        "logger_file.html",
        title=paper.file or "a file of a logger",
        paper=paper,
        kept=kept,
        told=account_lines(paper.account) if paper.account else [],
        lines=first_lines(paper.data) if paper.data else [],
        problems=by_place(paper.problems),
        listed=listed(paper.problems),
        status=422 if paper.problems else 200,
    )
