"""OGC API Features over HTTP."""

from __future__ import annotations

import json
from typing import Any

from fastapi import APIRouter, Request, Response

from tapedown.exchange.services import ogc_features
from tapedown.exchange.services.map_systems import CRS84
from tapedown.exchange.services.ogc_features import CONFORMANCE, GEOJSON, OPENAPI, BadRequest, FeatureStore, NoSuchItem
from tapedown.exchange.services.ogc_features_api import openapi
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.version import VERSION
from tapedown.web.services.access import access_of, base_of

router = APIRouter(prefix="/services/{when}/features", include_in_schema=False)


class Unanswerable(TapedownError):
    """A parameter of a service that cannot be read."""

    def __init__(self, why: str, parameter: str = "", mend: str = "see the description of the service") -> None:
        super().__init__(why, hint=mend)
        self.problems = (Problem(parameter, why, mend),) if parameter else ()


class NotHere(TapedownError):
    """A service has nothing of that name."""

    def __init__(self) -> None:
        super().__init__("there is nothing of that name", hint="follow the links from the first page of the service")


def _store(request: Request, when: str) -> tuple[FeatureStore, str]:
    return access_of(request).stores(request, when).features, base_of(request, f"/services/{when}/features")


def _plain(request: Request) -> None:
    """Pages without parameters refuse those that are sent all the same."""
    if request.query_params:
        raise Unanswerable(f"{next(iter(request.query_params))[:40]!r} is no parameter here")


def answer(data: Any, kind: str = "application/json", **headers: str) -> Response:
    """Data as JSON of a media type."""
    body = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode("utf-8", "replace")
    return Response(body, media_type=kind, headers={key.replace("_", "-"): value for key, value in headers.items()})


@router.get("")
@router.get("/")
def landing(request: Request, when: str) -> Response:
    """The first page."""
    _plain(request)
    return answer(ogc_features.landing(*_store(request, when)))


@router.get("/conformance")
def conformance(request: Request, when: str) -> Response:
    """What the service conforms to."""
    _plain(request)
    _store(request, when)
    return answer({"conformsTo": list(CONFORMANCE)})


@router.get("/api")
def api(request: Request, when: str) -> Response:
    """The service in OpenAPI 3.0."""
    _plain(request)
    return answer(openapi(*_store(request, when), VERSION), OPENAPI)


@router.get("/collections")
def collections(request: Request, when: str) -> Response:
    """The collections."""
    _plain(request)
    return answer(ogc_features.collections(*_store(request, when)))


@router.get("/collections/{name}")
def collection(request: Request, when: str, name: str) -> Response:
    """One collection."""
    _plain(request)
    store, base = _store(request, when)
    try:
        return answer(ogc_features.collection(store, name, base))
    except NoSuchItem:
        raise NotHere from None


@router.get("/collections/{name}/items")
def items(request: Request, when: str, name: str) -> Response:
    """A page of features."""
    store, base = _store(request, when)
    try:
        found = ogc_features.items(store, name, request.query_params.multi_items(), base)
    except NoSuchItem:
        raise NotHere from None
    except BadRequest as error:
        raise Unanswerable(str(error), error.parameter, error.mend) from None
    return answer(found, GEOJSON, content_crs=_content_crs(request))


@router.get("/collections/{name}/items/{identity:path}")
def item(request: Request, when: str, name: str, identity: str) -> Response:
    """One feature."""
    store, base = _store(request, when)
    try:
        found = ogc_features.item(store, name, identity, request.query_params, base)
    except NoSuchItem:
        raise NotHere from None
    except BadRequest as error:
        raise Unanswerable(str(error), error.parameter, error.mend) from None
    return answer(found, GEOJSON, content_crs=_content_crs(request))


def _content_crs(request: Request) -> str:
    return f"<{request.query_params.get('crs', CRS84)}>"
