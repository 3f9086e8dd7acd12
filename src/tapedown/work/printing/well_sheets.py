"""Sheets that people print: everything gathered from the record, put into words, and set.

A sheet is dated by the day its facts are known on: the day asked for, else today. The same record and day give the
same bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from tapedown.engine.checks.at_the_well import DEEPER_THAN, NOTHING
from tapedown.engine.methods.registry import ENGINE_VERSION
from tapedown.engine.uncertainty.digits import own_step, percent
from tapedown.record import blob
from tapedown.record.errors import NoSuchBlob
from tapedown.reports.typeset import PAPERS, Heading
from tapedown.reports.well_figure import well_figure
from tapedown.reports.well_sheet import (
    MOST_VISITS,
    FindingLine,
    Photo,
    VisitLine,
    WellSheet,
    well_sheet,
)
from tapedown.reports.words import bottom_words, day_text, headline, value_text, when_text
from tapedown.values.errors import TapedownError
from tapedown.values.readings import Document, Readings
from tapedown.values.results import BELOW_LAND, ELEVATION
from tapedown.values.times import zone
from tapedown.values.wells import PointHeight
from tapedown.version import VERSION
from tapedown.work.authorship import now
from tapedown.work.field.packs import PHOTO_TYPES
from tapedown.work.networks import OpenNetwork, as_of_text, gear_shelf
from tapedown.work.printing.pictures import well_picture
from tapedown.work.printing.sheet_facts import facts_of
from tapedown.work.review.signing import signed_words
from tapedown.work.rounds.cautions import well_cautions
from tapedown.work.rounds.gear_state import gear_lines
from tapedown.work.rounds.planning import today
from tapedown.work.wells.changes import STOP, unusable
from tapedown.work.wells.files import WellFile
from tapedown.work.wells.history import History, Row, history
from tapedown.work.wells.standing import now_of


class NoSuchPaper(TapedownError):
    """A paper that is not known."""

    def __init__(self, paper: str) -> None:
        super().__init__(f"no paper {paper!r}", hint=f"one of: {', '.join(PAPERS)}")


def print_well(
    network: OpenNetwork, code: str, *, paper: str = "", head: str | None = None, clock: Callable[[], datetime] = now
) -> bytes:
    """The well sheet as PDF. `head` is the signed state of the record, at the foot; what was signed last without it.

    Raises
    ------
    NoSuchWell, NotKnownYet, NoSuchPaper
    """
    size, day = paper_of(network, paper), day_of_sheet(network, clock)
    return well_sheet(
        sheet_of(network, code, day, head=signed_words(network, code) if head is None else head), paper=size, day=day
    )


def print_figure(network: OpenNetwork, code: str) -> str:
    """A well's figure as an SVG drawing that stands by itself.

    Raises
    ------
    NoSuchWell, NotKnownYet
    """
    return well_figure(well_picture(history(network, code), network.unit))


def paper_of(network: OpenNetwork, paper: str) -> str:
    """The paper asked for, else the network's.

    Raises
    ------
    NoSuchPaper
    """
    size = paper or network.settings.text("paper")
    if size not in PAPERS:
        raise NoSuchPaper(size)
    return size


def day_of_sheet(network: OpenNetwork, clock: Callable[[], datetime] = now) -> str:
    """The day a sheet's facts are known on, where the wells are."""
    return today(network, clock) if network.as_of is None else _there(network).date().isoformat()


def heading_of(
    network: OpenNetwork, title: str, day: str, code: str = "", *, foot: str = "", head: str = ""
) -> Heading:
    """Head and foot of the pages."""
    made = f"tapedown {VERSION}, engine {ENGINE_VERSION}"
    return Heading(network.facts.name, code, title, _known(network, day), f"{foot}; {made}" if foot else made, head)


def _known(network: OpenNetwork, day: str) -> str:
    """The day the facts are known on, with the time of day where it is not the day's end."""
    place = network.facts.zone
    if network.as_of is None or network.as_of == as_of_text(day, place):
        return f"as known on {day_text(day)}"
    return f"as known on {when_text(_there(network).isoformat(timespec='minutes'))}"


def _there(network: OpenNetwork) -> datetime:
    """The time the network is looked at, by the clock where the wells are."""
    return datetime.fromisoformat(str(network.as_of)).astimezone(zone(network.facts.zone))


def sheet_of(network: OpenNetwork, code: str, day: str, *, head: str = "") -> WellSheet:
    """Everything on a well sheet, gathered.

    Raises
    ------
    NoSuchWell, NotKnownYet
    """
    shelf = gear_shelf(network)
    well_history = history(network, code, shelf=shelf)
    file, unit = well_history.file, network.unit
    standing = [row for row in reversed(well_history.rows) if row.struck_by is None]
    shown = standing[:MOST_VISITS]
    identity = file.identity
    findings = open_findings(well_history)
    return WellSheet(
        heading_of(network, "well sheet", day, code, foot=_rests_on(file), head=head),
        identity.name if identity else "",
        identity.place if identity else "",
        tuple(cautions_of(well_history)),
        facts_of(file, unit),
        well_picture(well_history, unit),
        _photo(file, network),
        tuple(visit_line(row) for row in shown),
        len(standing),
        tuple(bottom_words(well_history.bottom, unit)) if well_history.bottom else (),
        gear_lines(_read_with(file, {row.entry.id for row in shown}), shelf, network.settings, day),
        tuple(findings),
        len(findings),
        percent(network.settings.si("coverage")),
        network.facts.vertical_datum,
    )


def cautions_of(told: History) -> list[str]:
    """What to know before going there, from the last visit, the measuring point and the access note."""
    standing = [row for row in told.rows if row.struck_by is None]
    noted = [standing[-1].seen] if standing else []
    lines = well_cautions(noted, told.file.in_force("measuring point", ""), told.file.in_force("access", ""))
    return list(dict.fromkeys(lines))


def open_findings(told: History) -> list[FindingLine]:
    """What a person should look at, the weightiest first.

    What the start page counts; earlier readings that must not be used as they stand and that nobody has struck or
    reviewed; entries that cannot be read.
    """
    now = now_of(told)
    lines = [FindingLine(f.weight, f.message, f.hint) for f in now.to_look_at]
    last = now.last.entry.measured_at if now.last else ""
    for row in told.rows:
        counted = row in (now.level, now.bottom) and row.entry.measured_at == last
        if counted or row.struck_by or row.review or row.value is None:
            continue
        which = f"{row.what}, {day_text(row.entry.measured_at[:10])}"
        lines += [FindingLine(f.weight, f.message, f.hint, which) for f in row.value.findings if f.weight == STOP]
    for fact in told.unreadable:
        problems = "; ".join(problem.message for problem in fact.problems)
        lines.append(FindingLine("look", f"{fact.entry.kind} {fact.entry.id} cannot be read: {problems}",
                                 "see the entry; write it again as it was meant"))  # fmt: skip
    return sorted(lines, key=lambda line: line.weight != STOP)


def visit_line(row: Row) -> VisitLine:
    """A row of a history in words."""
    value, entry = row.value, row.entry
    depth = headline(value) if value else ""
    if value and value.main and value.main.name != BELOW_LAND:
        depth += f" ({value.main.name.removeprefix('depth ')})"
    return VisitLine(
        when_text(entry.measured_at),
        row.what,
        depth,
        elevation_text(row),
        f"{own_step(value.main, value.digits):g} {value.digits.unit}" if value and value.main else "",
        row.stands_for,
        f"{row.quality} (reviewed)" if row.review else row.quality,
        value is not None and unusable(value),
        ", ".join(row.noted),
        entry.by,
    )


def elevation_text(row: Row) -> str:
    """The elevation of what was read, "" where there is none or where the value is a bound."""
    elevation = row.value.result(ELEVATION) if row.value else None
    if row.value is None or elevation is None or row.value.use in {DEEPER_THAN, NOTHING}:
        return ""
    return value_text(elevation, row.value.digits)


def _rests_on(file: WellFile) -> str:
    """How much the sheet was worked out from."""
    newest = max((fact.entry for fact in file.facts), key=lambda entry: entry.written_at)
    count = len(file.facts)
    return f"from {count} entr{'y' if count == 1 else 'ies'}, the newest written {day_text(newest.written_at[:10])} " \
           f"by {newest.by} (id ends {newest.id[-8:]})"  # fmt: skip


def _read_with(file: WellFile, entry_ids: set[str]) -> list[tuple[str, Readings]]:
    """When and what was read, of these entries."""
    return [(f.entry.measured_at, f.value) for f in file.of_kind("readings") if f.entry.id in entry_ids]


def _photo(file: WellFile, network: OpenNetwork) -> Photo | None:
    """The newest photo of the measuring point in force; else of any; else the newest photo."""
    point: PointHeight | None = file.in_force("measuring point", "")
    photos = [fact for fact in file.of_kind("document") if fact.value.media_type in PHOTO_TYPES]
    if not photos:
        return None
    fact = max(enumerate(photos), key=lambda placed: (_shows_point(placed[1].value, point), placed[0]))[1]
    shown: Document = fact.value
    taken = day_text(fact.entry.measured_at or fact.entry.written_at[:10])
    try:
        data = blob(network.record, shown.sha256).bytes
    except NoSuchBlob:
        data = None
    return Photo(data, f"{shown.caption or shown.name or 'photo'}, {taken}, by {fact.entry.by}")


def _shows_point(shown: Document, point: PointHeight | None) -> int:
    """How surely a photo shows the point, by its words: 2 when it names it, 1 when it speaks of a measuring point."""
    words = f"{shown.caption} {shown.name}".lower()
    return 2 if point is not None and point.name.lower() in words else int("measuring point" in words)
