"""The well sheet: one well on one or two printed pages."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.reports.photo import photo_drawing
from tapedown.reports.typeset import Heading, typeset
from tapedown.reports.well_figure import SheetMeasures, well_figure
from tapedown.reports.well_picture import WellPicture

MOST_VISITS, MOST_GEAR, MOST_FINDINGS = 26, 6, 6
"""What a second page may have room for; visits give way first, and the sheet says how many there are."""
PAPER = SheetMeasures(900, 244, 54, 440, 136, 15)
"""The figure for paper: larger letters and lower panels than on a screen."""


class Facts(NamedTuple):
    """Facts of one kind: a title, and what is known, each with its name."""

    title: str
    rows: tuple[tuple[str, str], ...]


class VisitLine(NamedTuple):
    """One reading set, or a visit without one, in words; depth and elevation with their expanded uncertainty.

    to    the reporting step with its unit
    stop  whether it must not be used as it stands
    """

    when: str
    what: str
    depth: str
    elevation: str
    to: str
    use: str
    quality: str
    stop: bool
    noted: str
    by: str


class GearLine(NamedTuple):
    """A piece of gear: what it is, when it was used last, when and against what it was checked, and its state.

    late  whether it is to be checked before it is used again
    """

    serial: str
    what: str
    used: str
    checked: str
    state: str
    late: bool


class FindingLine(NamedTuple):
    """A finding: weight, message, what to do; about is what it belongs to, "" where that is plain."""

    weight: str
    message: str
    hint: str
    about: str = ""


class Photo(NamedTuple):
    """A photo of the measuring point: its bytes, None where they are not there, and what is said below it."""

    data: bytes | None
    caption: str


class WellSheet(NamedTuple):
    """Everything on a well sheet. visits newest first; visit_count and finding_count count those left out too.

    bottom    the state of the bottom, a sentence a line
    coverage  of the expanded uncertainties, "95%"
    """

    heading: Heading
    name: str
    place: str
    cautions: tuple[str, ...]
    facts: tuple[Facts, ...]
    picture: WellPicture
    photo: Photo | None
    visits: tuple[VisitLine, ...]
    visit_count: int
    bottom: tuple[str, ...]
    gear: tuple[GearLine, ...]
    findings: tuple[FindingLine, ...]
    finding_count: int
    coverage: str
    vertical_datum: str


def well_sheet(sheet: WellSheet, *, paper: str, day: str) -> bytes:
    """The sheet as PDF; the same sheet and day give the same bytes."""
    drawings = {"figure.svg": well_figure(sheet.picture, PAPER)}
    photo = photo_drawing(sheet.photo.data) if sheet.photo and sheet.photo.data else ""
    if photo:
        drawings["photo.svg"] = photo
    content = {
        **sheet._asdict(),
        "picture": None,
        "drawn": bool(sheet.visits or sheet.picture.tubes or sheet.picture.completed_m),
        "photo": {"there": bool(photo), "caption": _caption(sheet.photo, photo)} if sheet.photo else None,
        "visits": sheet.visits[:MOST_VISITS],
        "gear": sheet.gear[:MOST_GEAR],
        "findings": sheet.findings[:MOST_FINDINGS],
    }
    return typeset("well_sheet.typ", sheet.heading, content, drawings, paper=paper, day=day)


def _caption(photo: Photo, drawn: str) -> str:
    if drawn:
        return photo.caption
    return f"{photo.caption}: {'not in this record yet' if photo.data is None else 'the photo cannot be read'}"
