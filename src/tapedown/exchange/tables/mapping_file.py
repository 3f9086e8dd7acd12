"""A mapping file (TOML) -> a TableMapping, with every problem named by its place and its mend."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from tapedown.exchange.sheets import read_sheet
from tapedown.exchange.tables.clock import zone_problem
from tapedown.exchange.tables.mapping import Cell, ClockColumns, Meaning, PointPart, ReadingPart, Status, TableMapping
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.kinds import KINDS
from tapedown.values.seen import NOTHING_SEEN, SEEN, Seen, facts_of_words
from tapedown.values.units import known_unit
from tapedown.values.wells import INTERVAL
from tapedown.values.written import written

MAKES = {
    "readings": ("well", "time", "reading", "status", "point", "position"),
    "wells": ("well", "position", "construction"),
    "points": ("well", "time", "point"),
    "screens": ("well", "screen"),
    "casings": ("well", "casing"),
}
"""What a mapping may make -> the sections it may hold."""
MEANS = ("standard uncertainty", "half-width")
REFERENCES = ("below measuring point", "below land surface", "elevation")


class MappingWrong(TapedownError):
    """A mapping file that does not say what is needed. `problems` names each place with its mend."""

    def __init__(self, name: str, problems: list[Problem]) -> None:
        complaints = "; ".join(f"{p.place}: {p.message}" for p in problems)
        super().__init__(
            f"{name} does not hold: {complaints}", hint="; ".join(dict.fromkeys(p.mend for p in problems if p.mend))
        )
        self.problems = tuple(problems)


def read_mapping(data: bytes, name: str = "the mapping") -> TableMapping:
    """Read a mapping file.

    Raises
    ------
    UnreadableSheet
        No TOML.
    MappingWrong
        Something is missing, unknown or undecided; every problem with its place.
    """
    return mapping_said(read_sheet(data, name), name, hashlib.sha256(data).hexdigest())


def mapping_said(given: Mapping[str, Any], name: str, sha256: str) -> TableMapping:
    """The mapping that a file's content, read as plain values, says; `sha256` is that of the file.

    Raises
    ------
    MappingWrong
        As `read_mapping`.
    """
    page = _Page(given)
    makes = page.choice("makes", tuple(MAKES))
    if page.problems:
        raise MappingWrong(name, page.problems)
    sections = {section: page.section(section) for section in MAKES[makes]}
    mapping = _mapping(page, makes, sections, sha256)
    page.nothing_left()
    if page.problems:
        raise MappingWrong(name, page.problems)
    return mapping


class _Page:
    """A group of the file: what is asked of it is taken out, and what is wrong is noted with its place."""

    def __init__(self, given: Mapping[str, Any], place: str = "", problems: list[Problem] | None = None) -> None:
        self.given, self.place = dict(given), place
        self.problems: list[Problem] = [] if problems is None else problems
        self.inner: list[_Page] = []
        self.known: list[str] = []

    def wrong(self, key: str, message: str, mend: str) -> None:
        self.problems.append(Problem(f"{self.place}.{key}".strip("."), message, mend))

    def take(self, key: str) -> Any:
        self.known.append(key)
        return self.given.pop(key, None)

    def section(self, key: str) -> _Page | None:
        group = self.take(key)
        if group is not None and not isinstance(group, Mapping):
            self.wrong(key, f"{group!r} is not a group", f"begin it with [{key}]")
            return None
        if group is None:
            return None
        self.inner.append(_Page(group, f"{self.place}.{key}".strip("."), self.problems))
        return self.inner[-1]

    def text(self, key: str, default: str = "") -> str:
        value = self.take(key)
        if isinstance(value, (Mapping, list)):
            self.wrong(key, f"{value!r} is not text", f'write {key} = "..."')
            return default
        return default if value is None else str(value)

    def number(self, key: str, default: int | None, lowest: int) -> int | None:
        text = self.text(key)
        if not text:
            return default
        if not (text.isascii() and text.isdigit() and len(text) < 7 and int(text) >= lowest):
            self.wrong(key, f"{text!r} is not a whole number from {lowest} on", f"write {key} = {lowest}")
            return default
        return int(text)

    def flag(self, key: str) -> bool:
        value = self.take(key)
        if value not in (None, True, False):
            self.wrong(key, f"{value!r} is neither true nor false", f"write {key} = true")
        return value is True

    def choice(self, key: str, choices: tuple[str, ...], default: str = "", why: str = "") -> str:
        text = self.text(key, default)
        if text not in choices:
            complaint = f"{text!r} is not known" if text else "it is not said" + (f": {why}" if why else "")
            self.wrong(key, complaint, f"{key} is one of: {', '.join(choices)}")
        return text

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.take(key)
        listed = value if isinstance(value, list) else [] if value is None else [value]
        if any(isinstance(item, (Mapping, list)) for item in listed):
            self.wrong(key, "it is not a list of texts", f'write {key} = ["...", "..."]')
            return ()
        return tuple(str(item).strip() for item in listed)

    def cell(self, key: str) -> Cell | None:
        """A field: the name of a column, or a group with column or always."""
        value = self.take(key)
        return None if value is None else self._cell(key, value)

    def cells(self, key: str) -> Cell | tuple[Cell, ...] | None:
        """As `cell`; a list of columns where a field takes many."""
        value = self.take(key)
        if not isinstance(value, list):
            return None if value is None else self._cell(key, value)
        return tuple(cell for item in value if (cell := self._cell(key, item)) is not None)

    def _cell(self, key: str, value: Any) -> Cell | None:
        if not isinstance(value, Mapping):
            return Cell(column=str(value))
        page = _Page(value, f"{self.place}.{key}".strip("."), self.problems)
        self.inner.append(page)
        words = page.words("words")
        cell = Cell(
            column=page.text("column"),
            always=page.text("always"),
            unit=page.unit("unit"),
            decimals=page.number("decimals", None, 0),
            blanks=frozenset(page.texts("blanks")),
            words=words,
            means=page.choice("means", ("", *MEANS)),
        )
        if bool(cell.column) == bool(cell.always):
            self.wrong(key, "it needs a column, or a text that always holds", 'write {column = "..."}')
        return cell

    def unit(self, key: str, default: str = "") -> str:
        text = self.text(key, default)
        if not text:
            return ""
        try:
            return known_unit(text, "length")
        except ValueError as error:
            self.wrong(key, str(error), f'write {key} = "ft"')
            return ""

    def words(self, key: str) -> dict[str, str] | None:
        table = self.take(key)
        if table is None:
            return None
        if not isinstance(table, Mapping) or any(isinstance(value, (Mapping, list)) for value in table.values()):
            self.wrong(key, "it is not a table of words", 'write {"their word" = "our words"}')
            return {}
        return {name.strip(): str(value) for name, value in table.items()}

    def meanings(self, key: str) -> dict[str, Meaning]:
        page = self.section(key)
        names = [] if page is None else list(page.given)
        return {name.strip(): page.meaning(name) for name in names} if page else {}

    def meaning(self, name: str) -> Meaning:
        page = self.section(name)
        if page is None:
            return Meaning()
        return Meaning(page.seen("seen"), page.text("note"), page.text("no_reading"), page.text("set_aside"))

    def seen(self, key: str) -> Seen:
        """What goes on at the well; lengths with their unit."""
        given, older = self.take(key), self.given.pop("conditions", None)
        if older is not None:
            today = facts_of_words({"conditions": older if isinstance(older, list) else [older]})
            self.wrong("conditions", "it is no field any more: say what goes on as facts", f"write {today or 'seen'}")
        if given is None:
            return NOTHING_SEEN
        if not isinstance(given, Mapping):
            self.wrong(key, f"{given!r} is not a group", f'write {key} = {{ pump = "running" }}')
            return NOTHING_SEEN
        facts, problems = SEEN.read(given, "m", key)
        for problem in problems:
            self.wrong(problem.place, problem.message, problem.mend)
        return facts or NOTHING_SEEN

    def nothing_left(self) -> None:
        for key in self.given:
            self.wrong(key, "it is not known here", f"known here: {', '.join(self.known) or 'nothing'}")
        for page in self.inner:
            page.nothing_left()


def _mapping(page: _Page, makes: str, sections: Mapping[str, _Page | None], sha256: str) -> TableMapping:
    file = page.section("file") or _Page({})
    well = sections.get("well") or _Page({}, "well", page.problems)
    code = well.cell("code")
    if code is None:
        well.wrong("code", "the column with the well's code is not named", 'write [well] code = "..."')
    length_unit = page.unit("length_unit")
    if not length_unit:
        page.wrong("length_unit", "the unit of lengths is not said", 'write length_unit = "ft" or "m"')
    readings = makes == "readings"
    delimiter = file.text("delimiter")
    if len(delimiter) > 1 or delimiter in ('"', "\n", "\r"):
        file.wrong("delimiter", f"{delimiter!r} is not one character", 'write delimiter = ";"')
    return TableMapping(
        makes=makes,
        sha256=sha256,
        length_unit=length_unit,
        decimal_comma=page.flag("decimal_comma"),
        blanks=frozenset(("", *page.texts("blanks"))),
        header_row=file.number("header_row", 1, 1) or 1,
        sheet=file.text("sheet"),
        delimiter=delimiter,
        code=code or Cell(),
        new_wells=readings and well.flag("new_wells"),
        clock=_clock(sections["time"], page) if "time" in sections else None,
        reading=_reading(sections["reading"], page) if readings else None,
        status=_status(sections.get("status")),
        point=_point(sections.get("point"), page, needed=makes == "points"),
        fields=_fields(makes, sections, page),
    )


def _clock(page: _Page | None, whole: _Page) -> ClockColumns | None:
    if page is None:
        whole.wrong("time", "the section is missing", 'write [time] date = "..." and zone = "..."')
        return None
    clock = ClockColumns(
        date=page.text("date"),
        time=page.text("time"),
        formats=page.texts("formats"),
        zone=page.text("zone"),
        false_zone=page.flag("false_zone"),
        unknown_times=frozenset(page.texts("unknown_times")),
    )
    if not clock.date:
        page.wrong("date", "the column with the date is not named", 'write date = "..."')
    if problem := zone_problem(clock.zone):
        page.wrong("zone", problem, 'write an IANA name, "UTC", an offset such as "-08:00", or "written"')
    if clock.false_zone and clock.zone == "written":
        page.wrong("false_zone", "the zone written is false and is to be used", "say in zone which clock it was")
    for form in clock.formats:
        try:
            datetime.strptime(datetime(2026, 5, 14, 10, 20).strftime(form), form)
        except ValueError as error:
            page.wrong("formats", f"{form!r}: {error}", 'write it like "%d/%m/%Y %H:%M"')
    return clock


def _reading(page: _Page | None, whole: _Page) -> ReadingPart | None:
    if page is None:
        whole.wrong("reading", "the section is missing", "write [reading] with what was read")
        return None
    value, at_point, at_water = page.cell("value"), page.cell("at_point"), page.cell("at_water")
    if (value is None) == (at_point is None) or (at_point is None) != (at_water is None):
        page.wrong("value", "what was read is not said once", "give value, or at_point together with at_water")
    reference = page.choice("reference", REFERENCES, "below measuring point" if at_point else "")
    no_cut = frozenset(page.texts("no_cut"))
    if not all(_is_number(text) for text in no_cut if text):
        page.wrong(
            "no_cut", "it is not a list of numbers", 'write no_cut = ["0"], or ["0", ""] when blank means it too'
        )
    elevation = reference == "elevation"
    positive, datum = page.text("positive"), page.text("vertical_datum")
    if value is not None and not elevation and positive not in ("down", "up"):
        page.wrong(
            "positive",
            "whether depths grow downward or levels below are negative is not said",
            'write positive = "down" (12.3 is a depth) or "up" (-12.3 lies below)',
        )
    if elevation and not datum:
        page.wrong("vertical_datum", "elevations without their vertical datum", 'write vertical_datum = "NAVD88"')
    return ReadingPart(
        value=value,
        positive="up" if elevation else positive or "down",
        reference=reference,
        what=page.choice("what", ("water level", "total depth"), "water level"),
        vertical_datum=datum,
        at_point=at_point,
        at_water=at_water,
        no_cut=no_cut,
        how=page.cell("how"),
        u=_u(page, "u"),
        remarks=page.cell("remarks"),
        instead=page.meanings("instead"),
    )


def _is_number(text: str) -> bool:
    try:
        return written(text, "m").unit == "m"
    except ValueError:
        return False


def _u(page: _Page, key: str) -> Cell | None:
    cell = page.cell(key)
    if cell is not None and not cell.means:
        page.wrong(
            key,
            "whether it is a standard uncertainty or a half-width is not said",
            'write {column = "...", means = "half-width"} or means = "standard uncertainty"',
        )
    return cell


def _status(page: _Page | None) -> Status | None:
    if page is None:
        return None
    status = Status(page.text("column"), page.meanings("words"))
    if not status.column:
        page.wrong("column", "the column is not named", 'write column = "..."')
    return status


def _point(page: _Page | None, whole: _Page, *, needed: bool) -> PointPart | None:
    if page is None:
        if needed:
            whole.wrong("point", "the section is missing", "write [point] with height and positive")
        return None
    height, elevation, ground = page.cell("height"), page.cell("elevation"), page.cell("ground")
    if (height is None) == (elevation is None) or (elevation is None) != (ground is None):
        page.wrong("height", "the point's height is not said once", "give height, or elevation together with ground")
    positive = page.text("positive")
    if height is not None and positive not in ("above land surface", "below land surface"):
        page.wrong(
            "positive",
            "which way a height is positive is not said, and handbooks write it opposite ways",
            'write positive = "above land surface" or positive = "below land surface"',
        )
    return PointPart(
        height,
        positive,
        elevation,
        ground,
        page.cell("name") or Cell(always="MP"),
        page.cell("description") or Cell(always="as told by the table"),
        _u(page, "u_height"),
        page.cell("why"),
    )


def _fields(
    makes: str, sections: Mapping[str, _Page | None], whole: _Page
) -> dict[str, dict[str, Cell | tuple[Cell, ...]]]:
    forms = {
        "position": KINDS["position"],
        "construction": KINDS["construction"],
        "screen": INTERVAL,
        "casing": INTERVAL,
    }
    if makes == "wells":
        forms["well"] = KINDS["well"]
    cells_of_kind: dict[str, dict[str, Cell | tuple[Cell, ...]]] = {}
    for kind, form in forms.items():
        page = sections.get(kind)
        if page is None:
            continue
        cells = {
            field.name: _u(page, field.name) if field.name.startswith("u_") else page.cells(field.name)
            for field in form.fields
            if field.form is None and field.name != "code"
        }
        cells_of_kind[kind] = {name: cell for name, cell in cells.items() if cell is not None}
    length = {"screens": "screen", "casings": "casing"}.get(makes, "")
    if length and not {"top", "bottom"} <= set(cells_of_kind.get(length, {})):
        whole.wrong(length, "top and bottom are needed", f'write [{length}] top = "..." and bottom = "..."')
    if "land_surface" in cells_of_kind.get("position", {}) and "vertical_datum" not in cells_of_kind["position"]:
        whole.wrong("position.vertical_datum", "an elevation without its vertical datum", 'write {always = "NAVD88"}')
    return cells_of_kind
