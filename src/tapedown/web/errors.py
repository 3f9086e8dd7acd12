"""Refusals and what they are on the web: one table of statuses, one shape for all of them."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from tapedown.exchange.plain import plain
from tapedown.exchange.sheets import UnreadableSheet
from tapedown.exchange.tables.mapping_file import MappingWrong
from tapedown.record import errors as record_errors
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.web import security, sheet_routes
from tapedown.web.answers import RefusalJson
from tapedown.web.downloads import NoSuchParcel
from tapedown.web.pages.common import render
from tapedown.web.services import access, features
from tapedown.web.staged import NotInTheTray
from tapedown.web.working import NotAtWork
from tapedown.work import refusals
from tapedown.work.entry import comparing
from tapedown.work.entry.documents import NotKept
from tapedown.work.exports.publishing import NotPublished
from tapedown.work.field import pairing
from tapedown.work.field import upload as handing_in
from tapedown.work.printing import network_report as network_printing
from tapedown.work.printing import well_sheets as printing
from tapedown.work.review import proving, remeasures, reviewing, signing
from tapedown.work.rounds import planning as round_plans
from tapedown.work.series import changes as series_changes

STATUS: dict[type[TapedownError], int] = {
    security.StrangeHost: 400,
    security.NoKey: 401,
    security.ForeignOrigin: 403,
    security.ForgedForm: 403,
    security.TooLarge: 413,
    refusals.WrittenWrong: 422,
    refusals.NotADate: 422,
    refusals.ReasonMissing: 422,
    refusals.NobodyNamed: 422,
    MappingWrong: 422,
    UnreadableSheet: 422,
    NotKept: 415,
    NotInTheTray: 404,
    NotAtWork: 404,
    NoSuchParcel: 404,
    NotPublished: 403,
    features.Unanswerable: 400,
    features.NotHere: 404,
    access.TooOften: 429,
    access.TooLong: 414,
    round_plans.NoSuchRound: 404,
    round_plans.RoundTooLong: 422,
    reviewing.OwnReading: 409,
    remeasures.AskedAlready: 409,
    remeasures.DrawnAlready: 409,
    remeasures.NoWellRead: 409,
    signing.NoSuchSignOff: 404,
    signing.NothingToSign: 422,
    signing.ReviewsMissing: 409,
    proving.NotSigned: 404,
    proving.FollowsNothing: 404,
    comparing.NoComparison: 404,
    comparing.UsedAlready: 409,
    printing.NoSuchPaper: 422,
    network_printing.TooManyWells: 422,
    pairing.CodeUnknown: 403,
    pairing.KeyUnknown: 401,
    pairing.NoSuchDevice: 404,
    pairing.TooManyTries: 429,
    handing_in.OtherBytes: 422,
    sheet_routes.UnreadableRequest: 422,
    refusals.NoNetwork: 404,
    refusals.NoSuchWell: 404,
    refusals.WellThere: 409,
    refusals.NoSuchGear: 404,
    refusals.NoSuchReading: 404,
    refusals.NoSuchSeries: 404,
    refusals.SeriesInACircle: 409,
    series_changes.NoSuchTreatment: 404,
    refusals.SeveralReadings: 404,
    record_errors.NoSuchEntry: 404,
    record_errors.NoSuchBlob: 404,
    record_errors.AlreadyStruck: 409,
    record_errors.NothingToStrike: 409,
    record_errors.IdTaken: 409,
    record_errors.ClockBehind: 409,
    record_errors.RecordReadOnly: 403,
    record_errors.RecordBusy: 503,
    record_errors.RecordFull: 507,
    record_errors.RecordMissing: 503,
    record_errors.RecordUnreadable: 503,
    record_errors.RecordNewer: 503,
    record_errors.NotARecord: 503,
}
"""Refusal -> HTTP status; what is not named is 400."""
_LOG = logging.getLogger("tapedown.office")


def status_of(error: TapedownError) -> int:
    """The status of a refusal."""
    return next((status for kind, status in STATUS.items() if isinstance(error, kind)), 400)


def refused(request: Request, error: TapedownError) -> Response:
    """The answer to a refused request: a page, or JSON where JSON was asked for."""
    places: Sequence[Problem] = getattr(error, "problems", ())
    message = str(error).partition("\n")[0]
    return answer(request, status_of(error), message, error.hint, places)


def answer(request: Request, status: int, message: str, hint: str, places: Sequence[Problem] = ()) -> Response:
    """A refusal in its one shape."""
    error: RefusalJson = {"message": message, "hint": hint, "places": places}
    if wants_json(request):
        return JSONResponse({"error": _sound(plain(error))}, status)
    title = HTTPStatus(status).phrase.lower()
    page = render(request, "refused.html", title=title, error=error, status=status)
    page.status_code = status
    return page


def _sound(value: Any) -> Any:
    """The same without halves of characters, which JSON cannot carry."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, dict):
        return {key: _sound(inner) for key, inner in value.items()}
    return [_sound(inner) for inner in value] if isinstance(value, list) else value


def wants_json(request: Request) -> bool:
    """Whether the answer is to be JSON: by the end of the path, or by what the client accepts."""
    accepts = request.headers.get("accept", "")
    if request.url.path.startswith(("/sheet/", "/services/")) or request.url.path.endswith(".json"):
        return True
    return "application/json" in accepts and "text/html" not in accepts


def install(app: FastAPI) -> None:
    """Hand every error to the one shape."""

    @app.exception_handler(TapedownError)
    def _(request: Request, error: TapedownError) -> Response:
        return refused(request, error)

    @app.exception_handler(RequestValidationError)
    def _(request: Request, error: RequestValidationError) -> Response:
        places = [Problem(".".join(str(p) for p in e["loc"][1:]), str(e["msg"]), "") for e in error.errors()]
        return answer(request, 422, "the address or the form cannot be read", "see the places named", places)

    @app.exception_handler(HTTPException)
    def _(request: Request, error: HTTPException) -> Response:
        hint = "go to the start page" if error.status_code == 404 else "use the links and forms of the pages"
        said = "there is no such page" if error.status_code == 404 else str(error.detail).lower()
        found = answer(request, error.status_code, said, hint)
        found.headers.update(error.headers or {})
        return found

    @app.exception_handler(Exception)
    def _(request: Request, error: Exception) -> Response:
        _LOG.error("a fault of the program", exc_info=error)
        hint = "nothing was written that is not shown; please report it with the time it happened"
        return answer(request, 500, "a fault of the program itself", hint)
