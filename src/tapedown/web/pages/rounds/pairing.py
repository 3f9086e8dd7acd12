"""Phones: pairing one by a code on the screen, and the list of those that may hand in entries."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict
from urllib.parse import urlsplit

import segno
from fastapi import APIRouter, Depends, Request, Response
from markupsafe import Markup

from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.times import zone
from tapedown.web.answers import answers
from tapedown.web.pages.common import author_for, done, network_at, office_of, render
from tapedown.web.pages.rounds.rounds import by_place, problems_of
from tapedown.web.security import LOCAL_NAMES
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.field.pairing import Code, Codes, devices, revoke

router = APIRouter()


class DeviceJson(TypedDict):
    """A phone that was paired; entries is how many it has handed in."""

    name: str
    label: str
    paired_by: str
    paired_at: str
    revoked_by: str | None
    entries: int
    last_at: str


class DevicesJson(TypedDict):
    """All phones, newest first."""

    devices: list[DeviceJson]


async def codes_of(request: Request) -> Codes:
    """The codes that wait, made with the first request; no thread but the loop's runs here, so there is one of it."""
    state = request.app.state
    if not hasattr(state, "codes"):
        state.codes = Codes(office_of(request).clock)
    found: Codes = state.codes
    return found


@answers(router, "/pair.json", tags=["phones"])
def devices_json(request: Request) -> DevicesJson:
    """The phones that were paired; codes are shown on the page alone."""
    return {"devices": _devices(request)}


@router.get("/pair", include_in_schema=False)
def pair_page(request: Request) -> Response:
    """How to pair a phone, and the list of phones."""
    return _page(request)


@router.post("/pair", include_in_schema=False)
def code_made(
    request: Request, sent: Annotated[Sent, Depends(form_sent)], codes: Annotated[Codes, Depends(codes_of)]
) -> Response:
    """Make a code and show it, this once."""
    try:
        author = author_for(request, sent)
    except TapedownError as error:
        return _page(request, problems_of(error), by=sent.text("by"))
    return _page(request, code=codes.make(author.by))


@router.post("/pair/{name}/revoke", include_in_schema=False)
def device_revoked(request: Request, name: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Take a phone's key away."""
    try:
        revoke(network_at(request), name, sent.text("reason"), author_for(request, sent))
    except TapedownError as error:
        return _page(request, problems_of(error), by=sent.text("by"), reason=sent.text("reason"))
    return done(request, sent, "/pair")


def _page(request: Request, problems: Sequence[Problem] = (), code: Code | None = None, **typed: str) -> Response:
    link = f"{base_of(request)}/sheet/#pair={code.text}" if code else ""
    return render(
        request,
        "pair.html",
        title="phones",
        status=422 if problems else 200,
        code=code,
        until=until_text(request, code) if code else "",
        link=link,
        picture=picture(link) if code else "",
        local=urlsplit(base_of(request)).hostname in LOCAL_NAMES,
        secure=office_of(request).doors.tls,
        devices=_devices(request),
        refused=problems,
        problems=by_place(problems),
        reason=typed.pop("reason", ""),
        **typed,
    )


def until_text(request: Request, code: Code) -> str:
    """Until when a code is good, by the wells' clock."""
    return f"{code.until.astimezone(zone(network_at(request).facts.zone)):%H:%M}"


def base_of(request: Request) -> str:
    """The address under which this page was opened."""
    return f"{'https' if office_of(request).doors.tls else 'http'}://{request.headers['host']}"


def picture(link: str) -> Markup:
    """The link as a square to be photographed, black on white whatever the screen."""
    code = segno.make(link, error="m", micro=False)
    drawn = code.svg_inline(scale=6, border=4, dark="#000", light="#fff", svgclass=None, lineclass=None, omitsize=True)
    return Markup(drawn)  # noqa: S704 - lines of squares, no words


def _devices(request: Request) -> list[DeviceJson]:
    return [
        {
            "name": one.device.name,
            "label": one.device.label,
            "paired_by": one.entry.by,
            "paired_at": one.entry.written_at,
            "revoked_by": one.struck_by,
            "entries": one.last.sequence if one.last else 0,
            "last_at": one.last.written_at if one.last else "",
        }
        for one in devices(network_at(request))
    ]
