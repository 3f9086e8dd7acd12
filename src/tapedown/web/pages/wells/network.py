"""The start page: every well as it stands, on a map and in a table that filters and sorts by its address."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated, Any, NamedTuple, TypedDict
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request, Response

from tapedown.reports.network_map import MOST_SINGLE, Spot, network_map
from tapedown.values.results import QUALITIES, Finding
from tapedown.values.seen import FACTS, short_facts
from tapedown.web.answers import answers
from tapedown.web.links import well_path
from tapedown.web.pages.common import drawn, network_at, office_of, page_of, render
from tapedown.work.printing.pictures import spot_of, weight_of
from tapedown.work.wells.standing import WellNow
from tapedown.work.wells.to_json import RowJson, standing_to_json

router = APIRouter()
PER_PAGE = 200


class WellNowJson(TypedDict):
    """A well as it stands; position is latitude and longitude, degrees."""

    code: str
    name: str
    position: tuple[float, float] | None
    last: RowJson | None
    level: RowJson | None
    bottom: RowJson | None
    to_look_at: tuple[Finding, ...]


class NetworkJson(TypedDict):
    """A network and a page of its wells; next_page is null at the end."""

    name: str
    length_unit: str
    vertical_datum: str
    zone: str
    count: int
    next_page: int | None
    wells: list[WellNowJson]


SORTS: dict[str, Callable[[WellNow], Any]] = {
    "code": lambda now: now.code,
    "name": lambda now: now.name.casefold(),
    "last": lambda now: now.last.entry.measured_at if now.last else "",
    "water": lambda now: _depth(now.level),
    "bottom": lambda now: _depth(now.bottom),
    "findings": lambda now: -len(now.to_look_at),
}


class ListQuery(NamedTuple):
    """What the address asks for."""

    q: str
    noted: str
    findings: str
    quality: str
    sort: str
    down: bool
    as_of: str
    page: int

    def address(self, **changes: Any) -> str:
        """The address with these changed; what is empty is left out."""
        asked = self._replace(**{"page": 1, **changes})._asdict()
        asked["down"] = "yes" if asked["down"] else ""
        kept = {
            k: v for k, v in asked.items() if v and not (k == "sort" and v == "code") and not (k == "page" and v == 1)
        }
        return "/?" + urlencode(kept) if kept else "/"


def asked(
    q: Annotated[str, Query(max_length=200, description="words in code or name")] = "",
    noted: Annotated[str, Query(max_length=100, description="what went on at the last visit")] = "",
    findings: Annotated[str, Query(max_length=100, description="any, none, or the name of a check")] = "",
    quality: Annotated[str, Query(max_length=100, description="of the last water level")] = "",
    sort: Annotated[str, Query(max_length=100, description=" | ".join(SORTS))] = "code",
    down: Annotated[bool, Query(description="the other way round")] = False,
    as_of: Annotated[str, Query(max_length=100, description="as known at the end of this day, or at this time")] = "",
    page: Annotated[int, Query(ge=1, le=100_000)] = 1,
) -> ListQuery:
    """The questions of the address."""
    return ListQuery(q, noted, findings, quality, sort if sort in SORTS else "code", down, as_of, page)


def _depth(row: Any) -> float:
    main = row.value.main if row and row.value else None
    return float(main.value_m) if main else float("inf")


def chosen(wells: Sequence[WellNow], asks: ListQuery) -> list[WellNow]:
    """The wells that were asked for, in the order asked for."""
    words = asks.q.casefold().split()
    kept = [now for now in wells if _fits(now, asks, words)]
    return sorted(kept, key=SORTS[asks.sort], reverse=asks.down)


def _fits(now: WellNow, asks: ListQuery, words: list[str]) -> bool:
    text = f"{now.code} {now.name}".casefold()
    checks = {found.check for found in now.to_look_at}
    found = {"": True, "any": bool(checks), "none": not checks}.get(asks.findings, asks.findings in checks)
    noted = not asks.noted or (now.last is not None and asks.noted in short_facts(now.last.seen))
    graded = not asks.quality or (now.level is not None and now.level.quality == asks.quality)
    return found and noted and graded and all(word in text for word in words)


@router.get("/", include_in_schema=False)
def network_page(request: Request, asks: Annotated[ListQuery, Depends(asked)]) -> Response:
    """All wells."""
    network = network_at(request, asks.as_of)
    wells, places = office_of(request).overview.glance(network)
    kept = chosen(wells, asks)
    spots = _spots([now for now in kept if now.code in places], places, asks.as_of)
    here = page_of(kept, asks.page, PER_PAGE)
    return render(
        request,
        "network.html",
        title=network.facts.name,
        network=network,
        asks=asks._replace(page=here.page),
        pages=here.pages,
        wells=here.rows,
        count=len(kept),
        total=len(wells),
        map=drawn(network_map(spots, network.unit)),
        unplaced=[now.code for now in kept if now.code not in places],
        facts=FACTS,
        qualities=QUALITIES,
        checks=sorted({found.check for now in wells for found in now.to_look_at}),
    )


@answers(router, "/index.json", tags=["network"])
def network_json(request: Request, asks: Annotated[ListQuery, Depends(asked)]) -> NetworkJson:
    """All wells with their last visit, last water level and last total depth."""
    network = network_at(request, asks.as_of)
    wells, places = office_of(request).overview.glance(network)
    kept = chosen(wells, asks)
    shown = kept[(asks.page - 1) * PER_PAGE : asks.page * PER_PAGE]
    return {
        "name": network.facts.name,
        "length_unit": network.unit,
        "vertical_datum": network.facts.vertical_datum,
        "zone": network.facts.zone,
        "count": len(kept),
        "next_page": asks.page + 1 if asks.page * PER_PAGE < len(kept) else None,
        "wells": [{**standing_to_json(now), "position": places.get(now.code)} for now in shown],
    }


def _spots(wells: Sequence[WellNow], places: dict[str, tuple[float, float]], as_of: str) -> list[Spot]:
    """The wells on the map; words and links only where the map has room for them."""
    if len(wells) > MOST_SINGLE:
        return [Spot(*places[now.code], now.code, weight=weight_of(now)) for now in wells]
    known = f"?{urlencode({'as_of': as_of})}" if as_of else ""
    return [spot_of(now, places[now.code], well_path(now.code) + known) for now in wells]
