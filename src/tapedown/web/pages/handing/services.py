"""Where programs ask: the addresses of the services, and what strangers see of them."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from tapedown.web.pages.common import network_at, render
from tapedown.web.services.counter import base_of
from tapedown.web.shapes import REFUSALS, ServicesShape

router = APIRouter()


@router.get("/services.json", responses=REFUSALS, tags=["services"])
def services_json(request: Request) -> ServicesShape:
    """The addresses; put a day in the place of `now` to ask as known then."""
    base, publish = base_of(request, "/services"), network_at(request).settings.text("publish")
    return ServicesShape(features=f"{base}/now/features", sensorthings=f"{base}/now/sensorthings/v1.1", publish=publish)


@router.get("/services", include_in_schema=False)
def services_page(request: Request) -> Response:
    """The addresses."""
    network = network_at(request)
    return render(
        request, "services.html", title="services", base=base_of(request, "/services"),
        publish=network.settings.text("publish"),
    )  # fmt: skip
