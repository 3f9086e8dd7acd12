"""The application: rooms, guard, errors."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from pathlib import Path

from fastapi import APIRouter, FastAPI
from starlette.staticfiles import StaticFiles

from tapedown.version import VERSION
from tapedown.web import errors
from tapedown.web.downloads import Downloads
from tapedown.web.pages import keeping, working
from tapedown.web.pages.common import HERE, Office
from tapedown.web.pages.handing import delivering, importing, packages, printing, services
from tapedown.web.pages.review import review, signed
from tapedown.web.pages.rounds import pairing, rounds
from tapedown.web.pages.series import changes as series_changes
from tapedown.web.pages.series import logger_files, series
from tapedown.web.pages.wells import entry, facts, gear, network, papers, points, value, visit, well
from tapedown.web.security import Doors, Guard, new_doors
from tapedown.web.services import features, sensorthings
from tapedown.web.services.access import Access
from tapedown.web.sheet_routes import router as sheet_router
from tapedown.web.staged import Staged
from tapedown.web.working import Working
from tapedown.work.authorship import now, this_device
from tapedown.work.networks import open_network
from tapedown.work.review.queue import ReviewQueue
from tapedown.work.wells.overview import Overview

ROUTERS: tuple[APIRouter, ...] = (
    network.router,
    facts.router,  # /wells/new before /wells/{code}
    well.router,
    printing.router,
    points.router,
    visit.router,
    papers.router,
    value.router,
    series.router,
    series_changes.router,
    logger_files.router,
    entry.router,
    gear.router,
    review.router,
    signed.router,
    importing.router,
    packages.router,
    delivering.router,
    keeping.router,
    working.router,
    rounds.router,
    pairing.router,
    services.router,
    features.router,
    sensorthings.router,
    sheet_router,
)
"""The rooms of the office; a new one is a line here."""


def create_app(
    where: str | Path, *, doors: Doors | None = None, device: str = "", clock: Callable[[], datetime] = now
) -> FastAPI:
    """The office of the network at `where`, which stays open until the application shuts down.

    Raises
    ------
    NoNetwork
        There is none; start one first.
    """
    opened = open_network(where)
    guard = doors or new_doors()

    @asynccontextmanager
    async def open_hours(_app: FastAPI) -> AsyncIterator[None]:
        yield
        app.state.office.working.close()
        app.state.office.downloads.close()
        opened.record.close()

    app = FastAPI(
        title="tapedown office", version=VERSION, docs_url=None, redoc_url=None, lifespan=open_hours,
        description="The JSON beside the pages. Lengths are in m unless a name says otherwise; depths positive down.",
    )  # fmt: skip
    app.state.office = Office(
        opened.record,
        guard,
        device or this_device(),
        clock,
        Overview(),
        Staged(),
        Working(),
        ReviewQueue(),
        Downloads(),
        Staged(),
        Staged(),
    )
    app.state.access = Access()
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=HERE / "static"), name="static")
    errors.install(app)
    app.add_middleware(Guard, doors=guard, refused=errors.refused)
    return app
