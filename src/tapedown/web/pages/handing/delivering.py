"""Handing on: choose formats, units and a date; the delivery is made while the page waits, then fetched as a zip."""

from __future__ import annotations

import re
from typing import Annotated, TypedDict

from fastapi import APIRouter, Depends, Request, Response
from starlette.responses import FileResponse

from tapedown.exchange.formats.registry import ENTRIES, FORMATS, UNITS
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.progress import Watch
from tapedown.web.answers import answers
from tapedown.web.downloads import Download, NoSuchParcel
from tapedown.web.forms import by_place, listed
from tapedown.web.links import words_of
from tapedown.web.pages.common import long_work, network_at, office_of, render
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.exports.export import checked_formats, deliver_zip
from tapedown.work.exports.gathering import gather
from tapedown.work.refusals import NotADate

router = APIRouter()


class FormatJson(TypedDict):
    """A format of deliveries."""

    name: str
    what: str


class DownloadJson(TypedDict):
    """A delivery that was made: its file, how many are in it, bytes before packing, SHA-256 of its manifest."""

    name: str
    files: int
    size: int
    sha256: str


_WHAT_ENTRIES = "the record's own entries without loss: everything, notes on keys and access included"


def _formats() -> list[tuple[str, str]]:
    return [*((row.name, row.what) for row in FORMATS.values()), (ENTRIES, _WHAT_ENTRIES)]


@answers(router, "/deliver.json", tags=["deliver"])
def formats_json() -> list[FormatJson]:
    """The formats a delivery may be written in."""
    return [{"name": name, "what": what} for name, what in _formats()]


@router.get("/deliver", include_in_schema=False)
def deliver_page(request: Request) -> Response:
    """The form."""
    return _form(request, None, [])


def _form(request: Request, sent: Sent | None, problems: list[Problem]) -> Response:
    network = network_at(request)
    chosen = {value for key, value in sent.fields if key == "as"} if sent else {"csv", "geopackage"}
    units = {value for key, value in sent.fields if key == "unit"} if sent else {network.unit}
    return render(
        request,
        "deliver.html",
        title="deliver",
        network=network,
        formats=_formats(),
        units=UNITS,
        chosen=chosen,
        chosen_units=units,
        as_of=sent.text("as_of") if sent else "",
        problems=by_place(problems),
        listed=listed(problems),
        status=422 if problems else 200,
    )


@router.post("/deliver", include_in_schema=False)
def make(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Make a delivery."""
    formats = tuple(value for key, value in sent.fields if key == "as")
    units = tuple(unit for unit in UNITS if ("unit", unit) in sent.fields)
    try:
        network = network_at(request, sent.text("as_of"))
    except NotADate as error:
        return _form(request, sent, [Problem("as_of", str(error), error.hint)])
    office = office_of(request)
    day = (network.as_of or office.clock().isoformat())[:10]
    name = re.sub(r"[^A-Za-z0-9-]+", "-", network.facts.name).strip("-").lower() or "network"

    def work(watch: Watch) -> Download:
        place = office.downloads.place()
        delivery = gather(network, units=units, watch=watch)
        return Download(f"{name}-{day}.zip", place, deliver_zip(network, delivery, formats, place, watch=watch))

    try:
        checked_formats(formats)
        once = f"deliver {formats} {units} {network.as_of}"
        return long_work(request, "making a delivery", work, shown_at=lambda token: f"/deliver/{token}", once=once)
    except TapedownError as error:
        return _form(request, sent, [Problem("as", str(error), error.hint)])


def _download(request: Request, token: str) -> Download:
    found = office_of(request).working.outcome(words_of(token))
    if not isinstance(found, Download) or not found.place.exists():
        raise NoSuchParcel
    return found


@answers(router, "/deliver/{token}.json", tags=["deliver"])
def parcel_json(request: Request, token: str) -> DownloadJson:
    """A delivery that was made."""
    download = _download(request, token)
    written = download.written
    files = len(written.manifest.files)
    return {"name": download.name, "files": files, "size": written.size, "sha256": written.sha256}


@router.get("/deliver/{token}.zip", include_in_schema=False)
def parcel_zip(request: Request, token: str) -> Response:
    """The delivery."""
    download = _download(request, token)
    return FileResponse(download.place, media_type="application/zip", filename=download.name)


@router.get("/deliver/{token}", include_in_schema=False)
def parcel_page(request: Request, token: str) -> Response:
    """What was made, to be fetched."""
    return render(request, "download.html", title="deliver", download=_download(request, token), download_token=token)
