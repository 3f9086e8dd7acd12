"""WaterML 2.0 Part 1 from others -> wells and readings, every point accounted for.

What a series measures is taken from its observed property only where that is one of ours; else the person who takes it
in says it. A value without its unit, a time without its offset, NaN: the point is set aside with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple
from urllib.parse import unquote

from dateutil.relativedelta import relativedelta
from lxml import etree

from tapedown.exchange.delivery.quantities import BY_KEY, QUANTITIES
from tapedown.exchange.formats.xml_parts import tag
from tapedown.exchange.packages.incoming import (
    NOT_REACHED,
    NOT_READ,
    Found,
    Incoming,
    NotTaken,
    ReadingRow,
    incoming_readings,
    incoming_wells,
)
from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.exchange.tables.reading import TableRow
from tapedown.values.units import from_si
from tapedown.values.written import Written

LARGEST = 200_000_000
_UNITS = {
    "m": "m", "cm": "cm", "mm": "mm", "[ft_i]": "ft", "ft": "ft", "[ft_us]": "US survey ft", "[in_i]": "in",
}  # fmt: skip
"""UCUM codes of lengths; "ft" is none, and is what people write for feet."""
_DATUMS = {
    "4326": "WGS 84", "4979": "WGS 84", "4269": "NAD83", "4267": "NAD27", "4258": "ETRS89", "4283": "GDA94",
    "7844": "GDA2020",
}  # fmt: skip
"""EPSG codes of geographic systems, latitude first, and the datums they rest on (EPSG register)."""
_OFFSET = re.compile(r"Z|[+-][01]\d:[0-5]\d", re.ASCII)
_NO_OFFSET = re.compile(r"\d{4}-\d\d-\d\dT[\d:.]+", re.ASCII)
_N = r"\d{1,7}"
_SPACING = re.compile(rf"P({_N}Y)?({_N}M)?({_N}D)?(?:T({_N}H)?({_N}M)?({_N}(?:\.{_N})?S)?)?", re.ASCII)
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_TWICE = ("the depth of the same well and time is taken", "nothing to do: the elevation follows from it")
_BY_URI = {quantity.uri: quantity.key for quantity in QUANTITIES}
_KNOWN_ENDS = ("good", "suspect", "estimate", "poor", "unchecked", "missing")


def read_waterml(data: bytes, name: str, *, quantity: str = "", datum: str = "") -> Found:
    """What a WaterML 2 document holds.

    Parameters
    ----------
    quantity : key of exchange.delivery.quantities, for series whose observed property is not one of ours
    datum : vertical datum of elevations where the document does not name it

    Raises
    ------
    NotATable
        No XML, or XML of another kind, or with a document type (which could pull in other files).
    TableTooLarge
    """
    document = _parsed(data, name)
    members = list(document.iter(tag("om:OM_Observation")))
    if not members:
        raise NotATable(f"{name} holds no observation", hint="is it WaterML 2.0 Part 1?")
    reader = _ObservationReader(document, name, quantity, datum)
    for member in members:
        reader.take(member)
    return reader.found()


def _parsed(data: bytes, name: str) -> etree._Element:
    if len(data) > LARGEST:
        raise TableTooLarge(f"{name} has {len(data):,} bytes", hint=f"split it; the limit is {LARGEST:,}")
    if b"<!DOCTYPE" in data[:10_000] or b"<!ENTITY" in data:
        raise NotATable(f"{name} brings a document type of its own", hint="ask for it without; WaterML needs none")
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, remove_comments=True, remove_pis=True
    )
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        where = getattr(error, "msg", error)  # as text it also names a file that is none
        raise NotATable(f"{name} is not XML: {where}", hint="was it cut short? ask for the file again") from None
    if root.getroottree().docinfo.doctype:
        raise NotATable(f"{name} brings a document type of its own", hint="ask for it without; WaterML needs none")
    return root


class _Well(NamedTuple):
    """A well as the document tells it; offset is that of its clocks, "" where it is not told."""

    code: str
    cells: Mapping[str, str]
    offset: str = ""


class _Default(NamedTuple):
    """What holds for every point of a series unless it says otherwise."""

    unit: str
    quality: str
    how: str


class _Timed(NamedTuple):
    """A point with its number in the document, its time, and what is to be said of that."""

    number: int
    element: etree._Element
    time: str
    said: str


class _ObservationReader:
    """Takes observation after observation; numbers the points through the document."""

    def __init__(self, root: etree._Element, name: str, quantity: str, datum: str) -> None:
        self.name, self.quantity, self.datum = name, quantity, datum
        self.ids = {e.get(tag("gml:id")): e for e in root.iter() if e.get(tag("gml:id"))}
        self.wells: dict[str, Mapping[str, str]] = {}
        self.rows: dict[tuple[str, str], list[ReadingRow]] = {}
        self.aside: list[NotTaken] = []
        self.number = 0

    def take(self, member: etree._Element) -> None:
        """One observation."""
        about = member.find(tag("om:observedProperty"))
        uri, title = _href(about), about.get(tag("xlink:title"), "") if about is not None else ""
        points = list(member.iter(tag("wml2:MeasurementTVP"))) or _measured_once(member)
        others = len(list(member.iter(tag("wml2:CategoricalTVP"))))
        well = self._well(member.find(tag("om:featureOfInterest")))
        where = f"{self.name}, {well.code or 'a well without a name'}: {title or uri or 'a property not named'}"
        key = _BY_URI.get(uri, self.quantity)
        first, self.number = self.number + 1, self.number + len(points)
        if others:
            self.aside.append(NotTaken(where, others, "points that are words and not numbers", "nothing to do"))
        if not points and not others:
            self.aside.append(NotTaken(where, 0, _no_points(member), "ask for it as pairs of time and value"))
        if not points:
            return
        if key not in BY_KEY:
            mend = f"say what it is: one of {', '.join(BY_KEY)}"
            self.aside.append(NotTaken(where, len(points), f"what {title or uri or 'it'} measures is not known", mend))
            return
        datum = (_datum_name(member, self) or self.datum) if BY_KEY[key].positive == "up" else ""
        if BY_KEY[key].positive == "up" and not datum:
            self.aside.append(NotTaken(where, len(points), "elevations without a vertical datum", "name the datum"))
            return
        if well.code:
            self.wells.setdefault(well.code, well.cells)
        default = _default(member)
        rows = self.rows.setdefault((key, datum), [])
        rows += [_row(point, well.code, default, key) for point in _timed(member, points, first, well.offset)]

    def _well(self, feature: etree._Element | None) -> _Well:
        if feature is None:
            return _Well("", {})
        href = _href(feature)
        point = self.ids.get(href.removeprefix("#")) if href else next(iter(feature), None)
        if point is None:
            code = feature.get(tag("xlink:title")) or _last_part(href)
            return _Well(code, {"well": code})
        code = _text(point.find(tag("gml:identifier"))) or _text(point.find(tag("gml:name"))) or ""
        name = _text(point.find(tag("gml:name")))
        cells = {
            "well": code or str(point.get(tag("gml:id"), "")),
            "name": name if name != code else "",
            "place": _text(point.find(tag("gml:description"))),
            **_place(point),
        }
        if "latitude" not in cells and next(point.iter(tag("gml:pos")), None) is not None:
            why = "its place is in a system of coordinates that is not read here"
            if cells["well"] not in self.wells:
                self.aside.append(NotTaken(f"{self.name}, {cells['well']}: its place", 0, why, "enter the position"))
        return _Well(cells["well"], cells, _offset(point))

    def found(self) -> Found:
        """Wells first, then readings quantity by quantity."""
        wells = [incoming_wells(f"{self.name}, wells", _numbered(self.wells.values()))] if self.wells else []
        depths = {
            (r.well, r.time) for (key, _), rows in self.rows.items() if BY_KEY[key].positive == "down" for r in rows
        }
        for (key, _), rows in self.rows.items():
            if BY_KEY[key].positive == "up":
                rows[:] = [_aside(r.number, *_TWICE) if (r.well, r.time) in depths else r for r in rows]
        tables: list[Incoming] = [
            incoming_readings(f"{self.name}, {BY_KEY[key].title}", key, rows, datum=datum)
            for (key, datum), rows in self.rows.items()
            if rows
        ]
        return Found((*wells, *tables), tuple(self.aside))


def _numbered(wells: Iterable[Mapping[str, str]]) -> list[tuple[TableRow, Mapping[str, str]]]:
    return [(TableRow(number, ()), cells) for number, cells in enumerate(wells, 1)]


def _last_part(address: str) -> str:
    """The last part of an address: what stands for a code where nothing else does."""
    if address.lower().startswith("urn:"):
        return unquote(address.rpartition(":")[2])
    return unquote(address.rpartition("/")[2].rpartition("=")[2].rpartition("#")[2])


def _offset(point: etree._Element) -> str:
    """The offset of the clocks at a monitoring point, "" where it is not told or none."""
    offset = _text(next(point.iter(tag("wml2:zoneOffset")), None))
    return offset if _OFFSET.fullmatch(offset) else ""


def _measured_once(member: etree._Element) -> list[etree._Element]:
    """The result of an observation that is one measure, as a point of a series: [] for any other result."""
    result, when = member.find(tag("om:result")), member.find(tag("om:phenomenonTime"))
    unit = result.get("uom") if result is not None else None
    if result is None or not unit or not (result.text or "").strip() or len(result):
        return []
    if when is not None and _href(when)[:1] == "#":
        when = next((e for e in member.iter() if e.get(tag("gml:id")) == _href(when)[1:]), None)
    point = etree.Element(tag("wml2:MeasurementTVP"))
    position = next(when.iter(tag("gml:timePosition")), None) if when is not None else None
    etree.SubElement(point, tag("wml2:time")).text = _text(position)
    value = etree.SubElement(point, tag("wml2:value"), uom=unit)
    value.text = result.text
    return [point]


def _no_points(member: etree._Element) -> str:
    """Why an observation without points holds none."""
    result = member.find(tag("om:result"))
    if result is None:
        return "it holds no result"
    if _href(result):
        return "its result lies elsewhere and is not fetched"
    kind = next((etree.QName(child).localname for child in result), "")
    if kind in {"MeasurementTimeseries", "CategoricalTimeseries"}:
        return "its series holds no points"
    return f"its result is {f'a {kind}' if kind else 'no series'}, and no series of measured points"


def _href(element: etree._Element | None) -> str:
    return str(element.get(tag("xlink:href"), "")) if element is not None else ""


def _text(element: etree._Element | None) -> str:
    return " ".join((element.text or "").split()) if element is not None else ""


def _place(point: etree._Element) -> dict[str, str]:
    """Latitude and longitude of a point in a geographic system of EPSG (latitude first) or CRS84 (longitude first)."""
    position = next(point.iter(tag("gml:pos")), None)
    numbers = _text(position).split()
    if position is None or len(numbers) < 2 or not all(_NUMBER.fullmatch(n) for n in numbers[:2]):
        return {}
    shape = position.getparent()
    crs = str(position.get("srsName") or (shape.get("srsName") if shape is not None else "") or "")
    datum = "WGS 84"
    if (number := re.split(r"[/:]", crs)[-1]) in _DATUMS:
        latitude, longitude = numbers[:2]
        datum = _DATUMS[number]
    elif crs.upper().endswith("CRS84"):
        longitude, latitude = numbers[:2]
    else:
        return {}
    return {"latitude": _plain(latitude), "longitude": _plain(longitude), "horizontal datum": datum}


def _datum_name(member: etree._Element, reader: _ObservationReader) -> str:
    """Name of the vertical datum of elevations: the last one that is no land surface and no measuring point."""
    feature = member.find(tag("om:featureOfInterest"))
    href = _href(feature)
    scopes = [member, reader.ids[href[1:]]] if href[1:] in reader.ids else [member]
    names = [_text(datum.find(tag("gml:name"))) for scope in scopes for datum in scope.iter(tag("gml:VerticalDatum"))]
    named = [name for name in names if name and not name.startswith(("land-surface datum", "measuring point"))]
    return named[-1] if named else ""


def _default(member: etree._Element) -> _Default:
    about = next(member.iter(tag("wml2:DefaultTVPMeasurementMetadata")), None)
    process = next(member.iter(tag("wml2:processType")), None)
    unit = _unit(about)
    quality = _href(about.find(tag("wml2:quality"))) if about is not None else ""
    processes = [element for element in (process, member.find(tag("om:procedure"))) if element is not None]
    named = (element.get(tag("xlink:title")) or _last_part(_href(element)) for element in processes)
    return _Default(unit, quality, next((how for how in named if how), ""))


def _unit(about: etree._Element | None) -> str:
    uom = about.find(tag("wml2:uom")) if about is not None else None
    if uom is None:
        return ""
    return str(uom.get("code") or uom.get(tag("xlink:title")) or _last_part(_href(uom)))


def _timed(member: etree._Element, points: Sequence[etree._Element], first: int, offset: str) -> Iterator[_Timed]:
    """Points with their times: their own, or of a series spaced evenly the time that follows from its start."""
    spaced = _Spaced.of(member)
    for place, element in enumerate(points):
        time, remarks = _text(element.find(tag("wml2:time"))), []
        if not time and spaced is not None:
            time = spaced.at(place)
            remarks.append(f"time reckoned: {spaced.base} and every {spaced.spacing}")
        if offset and _NO_OFFSET.fullmatch(time):
            time += offset.replace("Z", "+00:00")
            remarks.append(f"time at the monitoring point's offset, {offset}")
        yield _Timed(first + place, element, time, "; ".join(remarks))


class _Spaced(NamedTuple):
    """Times of a series spaced evenly: its base time and its spacing as written (WaterML 2.0, timeseries.xsd)."""

    base: str
    spacing: str
    start: datetime
    months: int
    rest: timedelta

    @classmethod
    def of(cls, member: etree._Element) -> _Spaced | None:
        """What a series says of it; None where it says nothing that can be read."""
        base = _text(next(member.iter(tag("wml2:baseTime")), None))
        spacing = _text(next(member.iter(tag("wml2:spacing")), None))
        match = _SPACING.fullmatch(spacing)
        try:
            start = datetime.fromisoformat(base)
        except ValueError:
            return None
        if not match or len(base) <= len("2026-05-14"):
            return None
        years, months, days, hours, minutes, seconds = (float((part or "0?")[:-1]) for part in match.groups())
        rest = timedelta(days=days, hours=hours, minutes=minutes, seconds=seconds)
        months += 12 * years
        return cls(base, spacing, start, int(months), rest) if months or rest else None

    def at(self, place: int) -> str:
        """Time of the point at a place, the first one at 0; "" beyond the calendar.

        A month later is the same day of the month or its last (W3C XML Schema 1.0 part 2, appendix E, from memory).
        """
        try:
            month: datetime = self.start + relativedelta(months=place * self.months)
            return (month + place * self.rest).isoformat()
        except (OverflowError, ValueError):
            return ""


def _row(point: _Timed, well: str, default: _Default, key: str) -> ReadingRow:
    number, time, value = point.number, point.time, point.element.find(tag("wml2:value"))
    about = next(point.element.iter(tag("wml2:TVPMeasurementMetadata")), None)
    unit = (value.get("uom", "") if value is not None else "") or _unit(about) or default.unit
    remarks = "; ".join(filter(None, (*_remarks(about, default), point.said)))
    if not well:
        return ReadingRow(number, "", time, "", problem="its well has no name", mend="ask for it with an identifier")
    text = (value.text or "").strip() if value is not None else ""
    if value is None or not text or value.get(tag("xsi:nil")) in ("true", "1"):
        return ReadingRow(number, well, time, "", how=default.how, remarks=remarks, found=_why(about, key))
    if not _NUMBER.fullmatch(text):
        return _aside(number, f"{text[:40]!r} is not a number", "correct the value")
    if unit not in _UNITS:
        problem = f"the unit is {unit[:40]!r}, no length that is known" if unit else "no unit is given"
        return _aside(number, problem, "give it as a UCUM code: m, [ft_i]")
    u = _uncertainty(about, _UNITS[unit])
    return ReadingRow(number, well, time, f"{_plain(text)} {_UNITS[unit]}", u, default.how, remarks)


def _aside(number: int, problem: str, mend: str) -> ReadingRow:
    return ReadingRow(number, "", "", "", problem=problem, mend=mend)


def _plain(number: str) -> str:
    """A number without an exponent: nobody writes one at a well."""
    if not {"e", "E"} & set(number):
        return number.lstrip("+")
    return f"{float(number):.12f}".rstrip("0").rstrip(".") or "0"


def _remarks(about: etree._Element | None, default: _Default) -> Iterator[str]:
    quality = (_href(about.find(tag("wml2:quality"))) if about is not None else "") or default.quality
    word = quality.rpartition("/")[2]
    if word and word != "good":
        yield f"quality {word if word in _KNOWN_ENDS else quality}"
    if about is None:
        return
    for comment in about.findall(tag("wml2:comment")):
        if comment.text:
            yield " ".join(comment.text.split())
    for qualifier in about.findall(tag("wml2:qualifier")):
        if words := _qualifier(qualifier):
            yield words


def _qualifier(element: etree._Element) -> str:
    label = _text(next(element.iter(tag("swe:label")), None)) or element.get(tag("xlink:title"), "")
    number, uom = _text(next(element.iter(tag("swe:value")), None)), next(element.iter(tag("swe:uom")), None)
    return " ".join(filter(None, (label, number, uom.get("code", "") if uom is not None else "")))


def _why(about: etree._Element | None, key: str) -> str:
    """Whether a missing value lies beyond what could be reached."""
    beyond = "AboveDetectionRange" if BY_KEY[key].positive == "down" else "BelowDetectionRange"
    if about is None:
        return NOT_READ
    reasons = [_href(about.find(tag(f"wml2:{name}"))) for name in ("nilReason", "censoredReason")]
    return NOT_REACHED if any(reason.endswith(f"/{beyond}") for reason in reasons) else NOT_READ


def _uncertainty(about: etree._Element | None, unit: str) -> str:
    """A standard uncertainty in the value's unit, "" where none is given: half of an expanded one, as it is said."""
    accuracy = about.find(tag("wml2:accuracy")) if about is not None else None
    if accuracy is None:
        return ""
    number, uom = _text(next(accuracy.iter(tag("swe:value")), None)), next(accuracy.iter(tag("swe:uom")), None)
    theirs = _UNITS.get(uom.get("code", ""), "") if uom is not None else ""
    label = _text(next(accuracy.iter(tag("swe:label")), None)).lower()
    if not theirs or not _NUMBER.fullmatch(number):
        return ""
    share = 0.5 if "expanded" in label else 1.0
    size = from_si(Written(_plain(number), theirs).si * share, unit, "length")
    return f"{abs(size):.6f} {unit}"
