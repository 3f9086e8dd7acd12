"""The network report: every well of a network or of a round, gathered from one pass over the record, and set."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from tapedown.analysis.pair_spread import PairSpread, pair_spread
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.uncertainty.digits import percent, spread
from tapedown.engine.well.fill import WellCondition
from tapedown.reports.network_map import Spot, network_map
from tapedown.reports.network_report import FillLine, NetworkReport, RepeatLine, WellLine, network_report
from tapedown.reports.well_sheet import MOST_FINDINGS, FindingLine, GearLine
from tapedown.reports.words import day_text, fill_text, headline, length_text, projection_text, rate_text
from tapedown.values.errors import TapedownError
from tapedown.values.readings import HoldCut, Readings
from tapedown.values.written import Written
from tapedown.work.authorship import now
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.printing.pictures import spot_of, well_picture
from tapedown.work.printing.well_sheets import day_of_sheet, heading_of, open_findings, paper_of
from tapedown.work.review.signing import signed_words
from tapedown.work.rounds.gear_state import CHECKED, last_used, lines_of
from tapedown.work.rounds.planning import Outline, WellDue, outlines, round_now, wells_due
from tapedown.work.wells.changes import STOP, change_text
from tapedown.work.wells.files import file_of
from tapedown.work.wells.history import History, history_of
from tapedown.work.wells.standing import WellNow, held_by_well, now_of

MOST_WELLS = 400
"""More wells than one report holds; ours."""


class TooManyWells(TapedownError):
    """More wells than a report holds."""

    def __init__(self, count: int) -> None:
        super().__init__(
            f"{count} wells are more than one report holds ({MOST_WELLS})",
            hint="print a round: tapedown print network out.pdf --round NAME",
        )


class NothingToDraw(TapedownError):
    """No well has a position."""

    def __init__(self) -> None:
        hint = "enter latitude and longitude: tapedown add position MF-01 latitude=43.1 longitude=-76.3"
        super().__init__("no well has a position, so there is no map", hint=hint)


class WellReport(NamedTuple):
    """A well: its history, how it stands, when it is due."""

    history: History
    now: WellNow
    due: WellDue | None


def print_network(
    network: OpenNetwork,
    *,
    which_round: str = "",
    paper: str = "",
    head: str | None = None,
    clock: Callable[[], datetime] = now,
) -> bytes:
    """The report of the network, or of a round by its name or id, as PDF.

    Raises
    ------
    NoSuchRound, TooManyWells, NoSuchPaper
    """
    size, day = paper_of(network, paper), day_of_sheet(network, clock)
    head = signed_words(network) if head is None else head
    return network_report(report_of(network, day, which_round=which_round, head=head), paper=size, day=day)


def print_map(network: OpenNetwork) -> str:
    """The map of the network as an SVG drawing that stands by itself.

    Raises
    ------
    NothingToDraw
        No well has a position.
    """
    known, shelf = outlines(network), gear_shelf(network)
    wells = [now_of(one) for one in _histories(network, shelf, sorted(known))]
    drawn = network_map(_spots(wells, known), network.unit)
    if not drawn:
        raise NothingToDraw
    return drawn


def report_of(network: OpenNetwork, day: str, *, which_round: str = "", head: str = "") -> NetworkReport:
    """Everything in a report, gathered.

    Raises
    ------
    NoSuchRound, TooManyWells
    """
    known, shelf = outlines(network), gear_shelf(network)
    planned = round_now(network, which_round).planned if which_round else None
    codes = [code for code in planned.wells if code in known] if planned else sorted(known)
    if len(codes) > MOST_WELLS:
        raise TooManyWells(len(codes))
    due = {well.code: well for well in wells_due(known, day)}
    wells = [
        WellReport(well_history, now_of(well_history), due.get(well_history.file.code))
        for well_history in _histories(network, shelf, codes)
    ]
    title = f"{planned.name}, {day_text(planned.day)}" if planned else network.facts.name
    unit = network.unit
    return NetworkReport(
        heading_of(network, "round report" if planned else "network report", day, head=head),
        title,
        tuple(_summary(wells, network)),
        tuple(_spots([one.now for one in wells], known)),
        tuple(_well_line(one, network) for one in wells),
        tuple(well_picture(one.history, unit) for one in wells),
        tuple(line for one in wells if (line := _fill_line(one, unit)) is not None),
        tuple(_findings(wells)),
        tuple(_repeat_lines([one.history for one in wells], network)),
        _gear(wells, shelf, network, day, whole=planned is None),
        percent(network.settings.si("bury_share")),
        percent(network.settings.si("coverage")),
        network.settings.text("agree_to_depth"),
        unit,
    )


def _histories(network: OpenNetwork, shelf: GearShelf, codes: Sequence[str]) -> list[History]:
    held = held_by_well(network)
    return [history_of(file_of(code, held[code], network), network, shelf) for code in codes]


def _spots(wells: Sequence[WellNow], known: Mapping[str, Outline]) -> list[Spot]:
    placed = ((now, known[now.code].position_deg) for now in wells)
    return [spot_of(now, position) for now, position in placed if position is not None]


def _summary(wells: Sequence[WellReport], network: OpenNetwork) -> list[str]:
    """The network in a few sentences."""
    late = [one.now.code for one in wells if one.due is not None and one.due.due]
    fills = [one.now.code for one in wells if _fills(one.history.bottom)]
    look = [one.now.code for one in wells if open_findings(one.history)]
    last = max((one.now.last.entry.measured_at for one in wells if one.now.last), default="")
    facts = network.facts
    return [
        f"{len(wells)} wells; vertical datum {facts.vertical_datum}; lengths in {network.unit}",
        f"last visit {day_text(last[:10])}" if last else "nothing was read yet",
        f"due: {_listed(late)}",
        f"filling: {_listed(fills)}",
        f"with findings open: {_listed(look)}",
    ]


def _listed(codes: Sequence[str], most: int = 14) -> str:
    """Codes in words, a long list cut.

    Example
    -------
    >>> _listed(["MF-01", "MF-02"]), _listed([]), _listed(["a", "b", "c"], 2)
    ('2 (MF-01, MF-02)', 'none', '3 (a, b and 1 more)')
    """
    if not codes:
        return "none"
    more = f" and {len(codes) - most} more" if len(codes) > most else ""
    return f"{len(codes)} ({', '.join(codes[:most])}{more})"


def _well_line(one: WellReport, network: OpenNetwork) -> WellLine:
    now, due = one.now, one.due
    return WellLine(
        now.code,
        now.name,
        day_text(now.last.entry.measured_at[:10]) if now.last else "never",
        ", ".join(now.last.noted) if now.last else "",
        headline(now.level.value) if now.level and now.level.value else "",
        change_text(one.history.rows, network),
        headline(now.bottom.value) if now.bottom and now.bottom.value else "",
        now.level.quality if now.level else "",
        ("now" if due.overdue_d is None else day_text(due.due_on)) if due else "",
        due is not None and due.due,
        ", ".join(dict.fromkeys(finding.check for finding in now.to_look_at)),
    )


def _fills(bottom: WellCondition | None) -> bool:
    """Whether the bottom has come up, or is coming up, by more than the uncertainty."""
    if bottom is None:
        return False
    up = bottom.fill is not None and bottom.real and bottom.fill.value_m > 0
    return up or (bottom.rate is not None and bottom.rate.value_m > bottom.rate.expanded_m)


def _fill_line(one: WellReport, unit: str) -> FillLine | None:
    bottom = one.history.bottom
    if bottom is None or not _fills(bottom):
        return None
    rate = (
        f"{rate_text(bottom.rate, unit)} {unit} ± {spread(bottom.rate.expanded_m, unit, 0.01)}" if bottom.rate else ""
    )
    return FillLine(
        one.now.code,
        one.now.name,
        bottom.since,
        fill_text(bottom.fill, unit) if bottom.fill else "",
        rate,
        "; ".join(f"{percent(b.share)} of {b.screen.top} to {b.screen.bottom}" for b in bottom.screens),
        projection_text(bottom.projection) if bottom.projection else "cannot be foreseen",
    )


def _findings(wells: Sequence[WellReport]) -> list[FindingLine]:
    """What wants a look, the weightiest first, each with its well; of one well no more than its sheet shows."""
    lines: list[FindingLine] = []
    for one in wells:
        findings = open_findings(one.history)
        lines += [_at_well(line, one.now.code) for line in findings[:MOST_FINDINGS]]
        if len(findings) > MOST_FINDINGS:
            more = f"{len(findings) - MOST_FINDINGS} more findings"
            lines.append(FindingLine("look", more, "see the record", one.now.code))
    return sorted(lines, key=lambda line: line.weight != STOP)


def _at_well(line: FindingLine, code: str) -> FindingLine:
    return line._replace(about=", ".join(filter(None, (code, line.about))))


def _repeat_lines(histories: Sequence[History], network: OpenNetwork) -> list[RepeatLine]:
    """Pairs of repeats of the standing sets, by method."""
    pairs: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for well_history in histories:
        for fact in well_history.file.of_kind("readings"):
            pair_m = first_two_m(fact.value)
            if pair_m is not None:
                pairs[fact.value.method].append(pair_m)
    lines = []
    for method in sorted(pairs):
        error = pair_spread([a for a, _ in pairs[method]], [b for _, b in pairs[method]])
        lines += [_repeat_line(method, error, network)] if error else []
    return lines


def first_two_m(readings: Readings) -> tuple[float, float] | None:
    """The first two repeats of a set as lengths along the tape, m; None where there are no two, or no lengths."""
    lengths = [_length_m(reading) for reading in readings.read.readings[:2]]
    depths_m = [length for length in lengths if length is not None]
    return (depths_m[0], depths_m[1]) if len(depths_m) == 2 else None


def _length_m(reading: object) -> float | None:
    if isinstance(reading, HoldCut):
        return reading.hold.si - reading.cut.si
    return reading.si if isinstance(reading, Written) and reading.quantity == "length" else None


def _repeat_line(method: str, error: PairSpread, network: OpenNetwork) -> RepeatLine:
    unit, settings = network.unit, network.settings
    rule_m = settings.si("agree_standpipe") if method == "standpipe" else tolerance_m(0.0, settings)
    return RepeatLine(
        method,
        str(error.pairs),
        length_text(error.half_m, unit, 0.001),
        length_text(error.most_m, unit, 0.001) if error.most_m is not None else "",
        length_text(error.largest_m, unit, 0.001),
        f"{spread(error.s_m, unit)} {unit}",
        length_text(rule_m, unit, 0.001),
    )


def _gear(
    wells: Sequence[WellReport], shelf: GearShelf, network: OpenNetwork, day: str, *, whole: bool
) -> tuple[GearLine, ...]:
    """The gear read with at these wells; of the whole network also tapes that were not used."""
    read = [(f.entry.measured_at, f.value) for one in wells for f in one.history.file.of_kind("readings")]
    used = last_used(read)
    kept = (
        {serial: used.get(serial, "") for serial, gear in shelf.gear.items() if gear.type in CHECKED} if whole else {}
    )
    return lines_of({**kept, **used}, shelf, network.settings, day)
