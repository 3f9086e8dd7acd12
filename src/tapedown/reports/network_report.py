"""The network report: a network, or a round of it, on paper."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.reports.hydrograph import hydrograph, shared_days
from tapedown.reports.network_map import Spot, network_map
from tapedown.reports.typeset import Heading, typeset
from tapedown.reports.well_picture import WellPicture
from tapedown.reports.well_sheet import FindingLine, GearLine


class WellLine(NamedTuple):
    """A well as it stands, in words; values with their expanded uncertainty.

    change  of the water since the reading before
    late    whether it is due
    """

    code: str
    name: str
    visited: str
    noted: str
    water: str
    change: str
    bottom: str
    quality: str
    due: str
    late: bool
    checks: str


class FillLine(NamedTuple):
    """A well whose bottom comes up: how far, how fast, how much of its screens is buried, and when it will be enough.

    until  about when the network's share of the lowest screen is buried, and from when to when
    """

    code: str
    name: str
    since: str
    fill: str
    rate: str
    buried: str
    until: str


class RepeatLine(NamedTuple):
    """What pairs of repeats by one method showed, lengths in words.

    half, most  half of the pairs, 95 of 100 of them lie no further apart than this
    deviation   standard deviation of one reading
    rule        how far two may lie apart by the network's settings
    """

    method: str
    pairs: str
    half: str
    most: str
    largest: str
    deviation: str
    rule: str


class NetworkReport(NamedTuple):
    """Everything in a network report.

    summary  a sentence a line
    share    of a screen, for the head of its column
    rule_to  depth down to which the rule for repeats holds as it stands
    """

    heading: Heading
    title: str
    summary: tuple[str, ...]
    spots: tuple[Spot, ...]
    wells: tuple[WellLine, ...]
    pictures: tuple[WellPicture, ...]
    filling: tuple[FillLine, ...]
    findings: tuple[FindingLine, ...]
    repeats: tuple[RepeatLine, ...]
    gear: tuple[GearLine, ...]
    share: str
    coverage: str
    rule_to: str
    unit: str


def network_report(report: NetworkReport, *, paper: str, day: str) -> bytes:
    """The report as PDF; the same report and day give the same bytes."""
    days = shared_days(report.pictures)
    drawings = {f"water-{n}.svg": hydrograph(picture, days) for n, picture in enumerate(report.pictures)}
    drawn_map = network_map(report.spots, report.unit)
    if drawn_map:
        drawings["map.svg"] = drawn_map
    content = {
        **report._asdict(),
        "spots": None,
        "pictures": [picture.name for picture in report.pictures],
        "mapped": bool(drawn_map),
    }
    return typeset("network_report.typ", report.heading, content, drawings, paper=paper, day=day)
