"""SensorThings 1.1 over HTTP, for reading."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import quote, unquote

from fastapi import APIRouter, Request, Response

from tapedown.exchange.services.entities import NoSuchProperty
from tapedown.exchange.services.sensorthings_query import Answer, BadQuestion, NothingThere, find, read_options, root
from tapedown.web.services.access import access_of, base_of
from tapedown.web.services.features import NotHere, Unanswerable, answer

router = APIRouter(prefix="/services/{when}/sensorthings/v1.1", include_in_schema=False)

_PLAIN = "/()'$,=@"
"""Signs that stand in the path of a SensorThings address as they are."""


@router.get("")
@router.get("/")
def first_page(request: Request, when: str) -> Response:
    """The entity sets."""
    access_of(request).stores(request, when)
    return answer(root(base_of(request, f"/services/{when}/sensorthings/v1.1")))


@router.get("/{path:path}")
def entities(request: Request, when: str, path: str) -> Response:
    """Whatever a path leads to."""
    store = access_of(request).stores(request, when).things
    base = base_of(request, f"/services/{when}/sensorthings/v1.1")
    try:
        options = read_options(_once(request.url.query))
        target = find(store, path.rstrip("/"))
        asked = Answer(base)
        found = asked.of(target, options, f"{base}/{quote(path, safe=_PLAIN)}?{request.url.query}")
    except NothingThere:
        raise NotHere from None
    except (BadQuestion, NoSuchProperty) as error:
        raise Unanswerable(str(error)) from None
    access_of(request).charge(request, asked.looked)
    if target.bare:
        text = found if isinstance(found, str) else str(found)
        return Response(text.encode("utf-8", "replace"), media_type="text/plain")
    return answer(found)


def _once(query: str) -> dict[str, str]:
    """The options of a query; a plus sign is a space, as forms write it, and %2B a plus sign."""
    told: dict[str, str] = {}
    for name, value in _pairs(query):
        if name in told:
            raise BadQuestion(f"{name[:40]} stands twice")
        told[name] = value
    return told


def _pairs(query: str) -> Iterable[tuple[str, str]]:
    for part in query.split("&"):
        if part:
            name, _, value = part.partition("=")
            yield unquote(name.replace("+", " ")), unquote(value.replace("+", " "))
