"""Where programs ask: the addresses of the services, and what strangers see of them."""

from __future__ import annotations

from typing import TypedDict

from fastapi import APIRouter, Request, Response

from tapedown.web.answers import answers
from tapedown.web.pages.common import network_at, render
from tapedown.web.services.access import base_of

router = APIRouter()


class ServicesJson(TypedDict):
    """Where programs ask, and what strangers see there."""

    features: str
    sensorthings: str
    publish: str


@answers(router, "/services.json", tags=["services"])
def services_json(request: Request) -> ServicesJson:
    """The addresses; put a day in the place of `now` to ask as known then."""
    base, publish = base_of(request, "/services"), network_at(request).settings.text("publish")
    return {"features": f"{base}/now/features", "sensorthings": f"{base}/now/sensorthings/v1.1", "publish": publish}


@router.get("/services", include_in_schema=False)
def services_page(request: Request) -> Response:
    """The addresses."""
    network = network_at(request)
    return render(
        request, "services.html", title="services", base=base_of(request, "/services"),
        publish=network.settings.text("publish"),
    )  # fmt: skip
