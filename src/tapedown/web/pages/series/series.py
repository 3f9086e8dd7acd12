"""A logger's series: figure, checks, treatments that can be taken back and brought back, each point explained."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Depends, Query, Request, Response

from tapedown.record import entry
from tapedown.reports.axes import day_of
from tapedown.reports.series_figure import NARROW, WIDE, Curve, FigurePanel, FigureSize, Tape, series_figure
from tapedown.reports.words import length_text
from tapedown.values.series.treatments import TREATMENTS, treatment_body, treatment_name
from tapedown.values.units import from_si, to_si
from tapedown.web.answers import answers
from tapedown.web.links import series_path, value_path, words_of
from tapedown.web.pages.common import author_for, done, drawn, network_at, render
from tapedown.web.pages.wells.well import AsOf
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.entry.entering import enter_fact, strike
from tapedown.work.refusals import NoSuchReading
from tapedown.work.series.corrected import Corrected, SeriesAbout, corrected
from tapedown.work.series.view import HALF, Drawn, Point, Window, point_at, window_of

router = APIRouter()
EPOCH_D = day_of(datetime(1970, 1, 1).date())
Seconds = Annotated[float | None, Query(ge=-1e11, le=1e11, description="seconds since 1970, UTC")]


class SeriesTold(SeriesAbout):
    """A logger's series; times in seconds since 1970, UTC."""

    treatments: list[dict[str, Any]]


@answers(router, "/wells/{code}/series/{name}.json", tags=["wells"])
def series_json(request: Request, code: str, name: str, as_of: AsOf = "") -> SeriesTold:
    """A series: findings, checks, segments, treatments."""
    found = corrected(network_at(request, as_of), words_of(code), words_of(name))
    treatments = [
        {"entry": fact.entry.id, "struck_by": fact.struck_by, **fact.entry.data}
        for fact in (*found.story.treatments, *found.story.struck)
    ]
    return {**found.about, "treatments": treatments}


@router.get("/wells/{code}/series/{name}/figure.svg", include_in_schema=False)
def figure(
    request: Request,
    code: str,
    name: str,
    as_of: AsOf = "",
    from_s: Seconds = None,
    to_s: Seconds = None,
    narrow: bool = False,
) -> Response:
    """The figure of a stretch of a series by itself, for the script that pans and zooms."""
    network = network_at(request, as_of)
    found = corrected(network, words_of(code), words_of(name))
    shown = window_of(found, from_s, to_s)
    ends = {"X-From": f"{shown.from_s:.0f}", "X-To": f"{shown.to_s:.0f}"}
    return Response(
        _figure(found, shown, network.unit, NARROW if narrow else WIDE), media_type="image/svg+xml", headers=ends
    )


def _point(request: Request, code: str, name: str, at_s: float | None, as_of: str) -> tuple[Corrected, Point]:
    network = network_at(request, as_of)
    found = corrected(network, words_of(code), words_of(name))
    point = point_at(found, at_s, network.unit) if at_s is not None else None
    if point is None:
        raise NoSuchReading(found.story.full_name, "that time")
    return found, point


@answers(router, "/wells/{code}/series/{name}/at.json", tags=["wells"])
def point_json(request: Request, code: str, name: str, at_s: Seconds = None, as_of: AsOf = "") -> Point:
    """One point of a series, with its steps and tests; steps are what, value, where from."""
    return _point(request, code, name, at_s, as_of)[1]


@router.get("/wells/{code}/series/{name}/at", include_in_schema=False)
def point_page(request: Request, code: str, name: str, at_s: Seconds = None, as_of: AsOf = "") -> Response:
    """One point of a series, explained."""
    found, point = _point(request, code, name, at_s, as_of)
    return render(
        request,
        "series_point.html",
        title=f"{found.story.full_name} at {said(point.at_s)}",
        code=found.story.file.code,
        path=series_path(found.story.file.code, found.story.name),
        name=found.story.name,
        when=said(point.at_s),
        point=point,
        as_of=as_of,
    )


@router.get("/wells/{code}/series/{name}", include_in_schema=False)
def series_page(
    request: Request, code: str, name: str, as_of: AsOf = "", from_s: Seconds = None, to_s: Seconds = None
) -> Response:
    """A series."""
    network = network_at(request, as_of)
    found = corrected(network, words_of(code), words_of(name))
    shown = window_of(found, from_s, to_s)
    story, about = found.story, found.about
    return render(
        request,
        "series.html",
        title=f"{story.file.code}: {story.name}",
        code=story.file.code,
        name=story.name,
        path=series_path(story.file.code, story.name),
        about=about,
        story=story,
        findings=found.findings,
        treatments=[(fact, *_told(fact.value.given[0])) for fact in (*story.treatments, *story.struck)],
        treatment_names=list(TREATMENTS),
        checks=_checks(found, network.unit),
        figures=[drawn(_figure(found, shown, network.unit, sheet)) for sheet in (WIDE, NARROW)],
        shown=shown,
        moves=_moves(shown, about),
        first=said(about["first_s"]),
        last=said(about["last_s"]),
        as_of=as_of,
    )


@router.post("/wells/{code}/series/{name}/off/{entry_id}", include_in_schema=False)
def take_back(
    request: Request, code: str, name: str, entry_id: str, sent: Annotated[Sent, Depends(form_sent)]
) -> Response:
    """Strike a treatment: the series is worked out without it."""
    network, author = network_at(request), author_for(request, sent)
    strike(network, words_of(entry_id), sent.text("reason"), author)
    return done(request, sent, series_path(words_of(code), words_of(name)))


@router.post("/wells/{code}/series/{name}/on/{entry_id}", include_in_schema=False)
def bring_back(
    request: Request, code: str, name: str, entry_id: str, sent: Annotated[Sent, Depends(form_sent)]
) -> Response:
    """Enter a struck treatment anew."""
    network, author = network_at(request), author_for(request, sent)
    old = entry(network.record, words_of(entry_id)).data
    why = sent.text("reason").strip() or old.get("why", "")
    enter_fact(network, "treatment", words_of(code), {**old, "why": why}, author)
    return done(request, sent, series_path(words_of(code), words_of(name)))


def _told(treatment: Any) -> tuple[str, str]:
    fields = treatment_body(treatment)
    return treatment_name(treatment), ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in fields.items())


def _checks(found: Corrected, unit: str) -> list[dict[str, str]]:
    """The tape readings with the depth of the logger's zero at each, and how far it moved since the one before."""
    told, before = [], None
    for check in found.about["checks"]:
        moved = "" if before is None else f"{from_si(check['offset_m'] - before, unit, 'length'):+.3f} {unit}"
        told.append(
            {
                "when": said(check["at_s"]),
                "tape": length_text(check["depth_m"], unit),
                "zero": length_text(check["offset_m"], unit, 0.001),
                "moved": moved,
                "link": value_path(found.story.file.code, check["entry"]),
            }
        )
        before = check["offset_m"]
    return told


def _moves(shown: Window, about: SeriesAbout) -> list[tuple[str, int, int]]:
    """Where the links of the figure lead: back, forward, nearer, further, the whole."""
    span, middle = shown.to_s - shown.from_s, (shown.from_s + shown.to_s) / 2
    ends = [
        ("earlier", shown.from_s - span / 2, shown.to_s - span / 2),
        ("later", shown.from_s + span / 2, shown.to_s + span / 2),
        ("nearer", middle - span / 4, middle + span / 4),
        ("further", middle - span, middle + span),
        ("whole", about["first_s"], about["last_s"]),
    ]
    return [(words, round(low), round(high)) for words, low, high in ends]


def _figure(found: Corrected, shown: Window, unit: str, sheet: FigureSize) -> str:
    """The panels of a window: as logged, air, depth with tape readings, depth of the logger's zero."""
    story = found.story
    tapes, zeros = [], []
    for check in found.about["checks"]:
        link, day = value_path(story.file.code, check["entry"]), EPOCH_D + check["at_s"] / 86400
        words = f"tape {length_text(check['depth_m'], unit)} on {said(check['at_s'])}"
        half = HALF * from_si(check["u_m"], unit, "length")
        tapes.append(Tape(day, from_si(check["depth_m"], unit, "length"), half, words, link))
        zeros.append(Tape(day, from_si(check["offset_m"], unit, "length"), half, f"zero by {words}", link))
    depth = _curve(shown.depth, "f-water", unit)
    raw_unit = "kPa" if shown.unit == "kPa" else unit
    low_d, high_d = EPOCH_D + shown.from_s / 86400, EPOCH_D + shown.to_s / 86400
    within = [tape for tape in tapes if low_d <= tape.day <= high_d]
    zeros = [zero for zero in zeros if low_d <= zero.day <= high_d]
    return series_figure(
        (
            FigurePanel(
                f"as logged, {raw_unit}",
                110,
                (_curve(shown.logged, "f-ink", raw_unit),),
                aside=(EPOCH_D + shown.aside.at_s / 86400).tolist(),
                down=shown.unit != "kPa",
            ),
            FigurePanel("air pressure, kPa", 80, (_curve(shown.air, "f-earth", "kPa"),)),
            FigurePanel(
                f"depth below land surface, {unit}", 240, (depth,), tuple(within), _band(shown, depth, unit), down=True
            ),
            FigurePanel(
                f"depth of the logger's zero, {unit}", 90, (_curve(shown.offset, "f-pump", unit),), tuple(zeros)
            ),
        ),
        low_d,
        high_d,
        f"{story.full_name} from {said(shown.from_s)} to {said(shown.to_s)}",
        sheet,
    )


def _curve(column: Drawn, paint: str, unit: str) -> Curve:
    values = column.values if unit == "kPa" else column.values / to_si(1.0, unit, "length")
    return Curve((EPOCH_D + column.at_s / 86400).tolist(), values.tolist(), paint)


def _band(shown: Window, depth: Curve, unit: str) -> tuple[list[float], list[float], list[float]] | None:
    """What is drawn on both sides of the depth for its uncertainty."""
    if not len(shown.u_depth.at_s) or not len(depth.days):
        return None
    u = np.interp(shown.depth.at_s, shown.u_depth.at_s, shown.u_depth.values) * HALF / to_si(1.0, unit, "length")
    values = np.array(depth.values)
    return list(depth.days), (values - u).tolist(), (values + u).tolist()


def said(at_s: float) -> str:
    """A moment as the pages of a series say it."""
    return f"{datetime.fromtimestamp(at_s, UTC):%Y-%m-%d %H:%M} UTC"
