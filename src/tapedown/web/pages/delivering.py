"""Handing on: choose formats, units and a date; the delivery is made while the page waits, then fetched as a zip."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response
from starlette.responses import FileResponse, RedirectResponse

from tapedown.exchange.formats import ENTRIES, FORMATS, UNITS
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.web.forms import by_place, listed
from tapedown.web.pages.common import network_at, office_of, render
from tapedown.web.parcels import NoSuchParcel, Parcel
from tapedown.web.shapes import REFUSALS, FormatShape, ParcelShape
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.delivering import NothingAsked, Written, deliver_zip
from tapedown.work.gathering import Tell, gather

router = APIRouter()
_WHAT_ENTRIES = "the record's own entries without loss: everything, notes on keys and access included"


def _formats() -> list[tuple[str, str]]:
    return [*((row.name, row.what) for row in FORMATS.values()), (ENTRIES, _WHAT_ENTRIES)]


@router.get("/deliver.json", responses=REFUSALS, tags=["deliver"])
def formats_json() -> list[FormatShape]:
    """The formats a delivery may be written in."""
    return [FormatShape(name=name, what=what) for name, what in _formats()]


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
    """Begin to make a delivery."""
    formats = tuple(value for key, value in sent.fields if key == "as")
    units = tuple(unit for unit in UNITS if ("unit", unit) in sent.fields)
    try:
        if not formats:
            raise NothingAsked
        network = network_at(request, sent.text("as_of"))
    except TapedownError as error:
        place = "as" if isinstance(error, NothingAsked) else "as_of"
        return _form(request, sent, [Problem(place, str(error), error.hint)])

    def work(place: Path, tell: Tell) -> Written:
        return deliver_zip(network, gather(network, units=units, tell=tell), formats, place, tell=tell)

    name = re.sub(r"[^A-Za-z0-9-]+", "-", network.facts.name).strip("-").lower() or "network"
    office = office_of(request)
    day = (network.as_of or office.clock().isoformat())[:10]
    return RedirectResponse(f"/deliver/{office.parcels.start(f'{name}-{day}.zip', work)}", 303)


@router.get("/deliver/{token}.json", responses=REFUSALS, tags=["deliver"])
def parcel_json(request: Request, token: str) -> ParcelShape:
    """How far a delivery is."""
    parcel = office_of(request).parcels.get(token)
    return ParcelShape(
        ready=parcel.ready,
        doing=parcel.doing,
        done=parcel.done,
        of=parcel.of,
        sha256=parcel.written.sha256 if parcel.written else None,
        failed=str(parcel.failed) if parcel.failed else None,
    )


@router.get("/deliver/{token}.zip", include_in_schema=False)
def parcel_zip(request: Request, token: str) -> Response:
    """The delivery."""
    parcel = office_of(request).parcels.get(token)
    if not parcel.ready:
        raise NoSuchParcel
    return FileResponse(parcel.place, media_type="application/zip", filename=parcel.name)


@router.get("/deliver/{token}", include_in_schema=False)
def parcel_page(request: Request, token: str) -> Response:
    """How far a delivery is; asks again by itself until it is ready."""
    parcel: Parcel = office_of(request).parcels.get(token)
    return render(request, "parcel.html", title="deliver", parcel=parcel, parcel_token=token)
