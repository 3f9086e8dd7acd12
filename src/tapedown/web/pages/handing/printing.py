"""Sheets to print, as PDF: of a well, of the network or a round of it."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from tapedown.web.links import words_of
from tapedown.web.pages.common import network_at, office_of
from tapedown.work.printing.network_report import print_network
from tapedown.work.printing.well_sheets import day_of_sheet, print_well

router = APIRouter()
AsOf = Annotated[str, Query(max_length=100, description="as known at the end of this day, or at this time")]
Paper = Annotated[str, Query(max_length=20, description="A4 or Letter; without it the network's setting")]
Round = Annotated[
    str, Query(alias="round", max_length=200, description="name or id of a round; without it the whole network")
]


@router.get("/wells/{code}/sheet.pdf", include_in_schema=False)
def well_sheet(request: Request, code: str, as_of: AsOf = "", paper: Paper = "") -> Response:
    """The sheet of a well."""
    network, named = network_at(request, as_of), words_of(code)
    made = print_well(network, named, paper=paper, clock=office_of(request).clock)
    return _saved(made, f"{named}-{day_of_sheet(network, office_of(request).clock)}")


@router.get("/report.pdf", include_in_schema=False)
def report(request: Request, as_of: AsOf = "", paper: Paper = "", which_round: Round = "") -> Response:
    """The report of the network or of a round."""
    network = network_at(request, as_of)
    made = print_network(network, which_round=which_round, paper=paper, clock=office_of(request).clock)
    return _saved(made, f"{which_round or network.facts.name}-{day_of_sheet(network, office_of(request).clock)}")


def _saved(made: bytes, name: str) -> Response:
    """A PDF to be saved, under a name that any disk takes."""
    plain = re.sub(r"[^A-Za-z0-9._]+", "-", name).strip("-.")[:80] or "sheet"
    headers = {"Content-Disposition": f'attachment; filename="{plain}.pdf"'}
    return Response(made, media_type="application/pdf", headers=headers)
