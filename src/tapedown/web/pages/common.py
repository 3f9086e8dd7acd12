"""What every page needs: the office, the network as it is or was, the writer, a template filled."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Generic, NamedTuple, TypeVar
from urllib.parse import quote, unquote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from tapedown.record import Record
from tapedown.reports.words import (
    bottom_words,
    day_text,
    dof_text,
    expected_text,
    headline,
    length_text,
    one_sided_text,
    when_text,
)
from tapedown.values.forms import Field, Form
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import Entry
from tapedown.values.progress import Watch
from tapedown.values.reading_forms import METHODS
from tapedown.values.units import from_si
from tapedown.version import VERSION
from tapedown.web.downloads import Downloads
from tapedown.web.links import about_path, part, value_path, well_path
from tapedown.web.security import Doors, cookie_line, form_token
from tapedown.web.staged import LoggerPaper, PackagePaper, Paper, Staged
from tapedown.web.uploads import Sent
from tapedown.web.working import Working
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork, as_of_text, network_of
from tapedown.work.refusals import NobodyNamed
from tapedown.work.review.queue import ReviewQueue
from tapedown.work.wells.overview import Overview

HERE = Path(__file__).parent.parent
WRITER_COOKIE = "tapedown-writer"
_YEAR_S = 31_536_000
Listed = TypeVar("Listed")


class Office(NamedTuple):
    """What is kept while the office is open.

    staged   tables sent in and looked at, not entered yet (see pages.importing)
    working  long work under way (see pages.working)
    queue    what waits for a look
    downloads  deliveries made for download
    staged_logger_files  files of loggers sent in and looked at, not entered yet (see pages.logger_files)
    staged_packages  packages sent in and looked at, not entered yet (see pages.packages)
    """

    record: Record
    doors: Doors
    device: str
    clock: Callable[[], datetime]
    overview: Overview
    staged: Staged[Paper]
    working: Working
    queue: ReviewQueue
    downloads: Downloads
    staged_logger_files: Staged[LoggerPaper]
    staged_packages: Staged[PackagePaper]


def office_of(request: Request) -> Office:
    """The office that a request came to."""
    found: Office = request.app.state.office
    return found


def network_at(request: Request, as_of: str = "") -> OpenNetwork:
    """The network as it is, or as it was known at the end of a day or at a time. Raises NotADate."""
    record = office_of(request).record
    now = network_of(record)
    return network_of(record, as_of=as_of_text(as_of, now.facts.zone)) if as_of.strip() else now


def writer_of(request: Request) -> str:
    """The name this browser wrote under last."""
    return unquote(request.cookies.get(WRITER_COOKIE, ""))[:120]


def author_for(request: Request, sent: Sent) -> Author:
    """The writer named in a form. Raises NobodyNamed."""
    office, name = office_of(request), sent.text("by").strip()
    if not name or not name.isprintable():
        raise NobodyNamed
    return Author(name, office.device, office.clock)


class PageOfRows(NamedTuple, Generic[Listed]):
    """The rows of one page, its number from 1 on, and how many pages there are."""

    rows: Sequence[Listed]
    page: int
    pages: int


def page_of(rows: Sequence[Listed], page: int, per_page: int) -> PageOfRows[Listed]:
    """A page of rows; the last one for a number beyond it.

    Example
    -------
    >>> page_of("abcde", 9, 2)
    PageOfRows(rows='e', page=3, pages=3)
    """
    pages = max(1, -(-len(rows) // per_page))
    page = min(max(page, 1), pages)
    return PageOfRows(rows[(page - 1) * per_page : page * per_page], page, pages)


def done(request: Request, sent: Sent, where: str) -> Response:
    """After something was written: on to a page that shows it; the writer's name is remembered."""
    return remembered(request, sent, RedirectResponse(where, 303))


def remembered(request: Request, sent: Sent, response: Response) -> Response:
    """An answer that keeps the name of who wrote in the browser."""
    name = quote(sent.text("by").strip()[:120], safe="")
    line = cookie_line(WRITER_COOKIE, name, tls=office_of(request).doors.tls, age_s=_YEAR_S)
    response.headers.append("set-cookie", line)
    return response


def long_work(
    request: Request, title: str, work: Callable[[Watch], Any], *, shown_at: Callable[[str], str], once: str
) -> Response:
    """Do long work beside the request: on to where its outcome is shown, by way of a page of how far it has come.

    `shown_at` makes the address of the outcome from the work's name. Work that is asked for again by the same `once`
    while it runs is not begun a second time. Raises what the work raises while one waits.
    """
    working = office_of(request).working
    token = working.start(title, work, shown_at, once)
    if not working.soon(token):
        return RedirectResponse(f"/working/{token}", 303)
    working.outcome(token)
    return RedirectResponse(shown_at(token), 303)


def render(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """A template filled. Every value is escaped unless it is `Markup`."""
    office: Office | None = getattr(request.app.state, "office", None)
    cookie = request.scope.get("form_cookie", "")
    token = form_token(office.doors, cookie) if office and cookie else ""
    found = _TEMPLATES.get_template(template).render(
        request=request, token=token, writer=writer_of(request), here=request.url.path, **context
    )
    return HTMLResponse(found.encode("utf-8", "replace"), status)


def drawn(svg_text: str) -> Markup:
    """A picture made by `reports`, which escapes what it draws."""
    return Markup(svg_text)  # noqa: S704 - every word in it went through reports.svg


def number(value: float, unit: str, decimals: int = 4) -> str:
    """A length in m as a signed number in `unit`, for steps of a sum."""
    return f"{from_si(value, unit, 'length') + 0.0:+.{decimals}f}"


def ordered(entry: Entry) -> dict[str, Any]:
    """An entry's body with its fields in the order of their form; what the form does not know comes last."""
    body = entry.data
    if entry.kind == "readings" and body.get("method") in METHODS:
        read = body.get("read")
        return {**body, "read": _in_order(METHODS[body["method"]], read)} if isinstance(read, Mapping) else body
    return _in_order(KINDS[entry.kind], body) if entry.kind in KINDS else body


def _in_order(form: Form, body: Mapping[str, Any]) -> dict[str, Any]:
    known = {field.name: _inner(field, body[field.name]) for field in form.fields if field.name in body}
    return known | {name: value for name, value in body.items() if name not in known}


def _inner(field: Field, value: Any) -> Any:
    if field.form is None or not isinstance(value, (Mapping, list)):
        return value
    rows = value if isinstance(value, list) else [value]
    said = [_in_order(field.form, row) if isinstance(row, Mapping) else row for row in rows]
    return said if isinstance(value, list) else said[0]


_TEMPLATES = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_TEMPLATES.filters |= {
    "at": lambda problems, place: problems.get(place, ()),
    "when": when_text,
    "day": day_text,
    "headline": headline,
    "length_in": length_text,
    "bottom_words": bottom_words,
    "expected_text": expected_text,
    "dof": dof_text,
    "one_sided": one_sided_text,
    "signed": number,
    "ordered": ordered,
    "part": part,
    "about_path": about_path,
}
_TEMPLATES.globals |= {"version": VERSION, "well_path": well_path, "value_path": value_path}
