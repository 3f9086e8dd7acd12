"""Parts that the XML formats share: namespaces, elements, references to terms, quantities, points, datums."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple
from urllib.parse import quote

from lxml import etree

from tapedown.exchange.delivery.contents import DeliveredWell, Delivery
from tapedown.exchange.delivery.features import map_place
from tapedown.exchange.delivery.words_of_standards import vertical_epsg, vertical_uri

NAMESPACES = {
    "wml2": "http://www.opengis.net/waterml/2.0",
    "gml": "http://www.opengis.net/gml/3.2",
    "om": "http://www.opengis.net/om/2.0",
    "sam": "http://www.opengis.net/sampling/2.0",
    "sams": "http://www.opengis.net/samplingSpatial/2.0",
    "swe": "http://www.opengis.net/swe/2.0",
    "gmd": "http://www.isotc211.org/2005/gmd",
    "gco": "http://www.isotc211.org/2005/gco",
    "gwml2w": "http://www.opengis.net/gwml-well/2.2",
    "gwml2wc": "http://www.opengis.net/gwml-wellconstruction/2.2",
    "xlink": "http://www.w3.org/1999/xlink",
    "xsi": "http://www.w3.org/2001/XMLSchema-instance",
    "xs": "http://www.w3.org/2001/XMLSchema",
}
SCHEMAS = {
    "wml2": "http://schemas.opengis.net/waterml/2.0/waterml2.xsd",
    "gwml2w": "http://schemas.opengis.net/gwml/2.2/gwml2-well.xsd",
}
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_UNSAFE = re.compile(r"[^A-Za-z0-9._-]")


@lru_cache(maxsize=512)
def tag(name: str) -> str:
    """ "gml:Point" as the library writes it."""
    prefix, _, local = name.partition(":")
    return f"{{{NAMESPACES[prefix]}}}{local}"


def root(name: str, prefixes: tuple[str, ...], *, schema: str = "", **attributes: str) -> etree._Element:
    """The outermost element; `schema` is the prefix whose schema location is told."""
    element = etree.Element(tag(name), nsmap={prefix: NAMESPACES[prefix] for prefix in prefixes})
    if schema:
        element.set(tag("xsi:schemaLocation"), f"{NAMESPACES[schema]} {SCHEMAS[schema]}")
    return _told(element, attributes)


def add(parent: etree._Element, name: str, text: str = "", **attributes: str) -> etree._Element:
    """An element under another. Attributes are named as gml_id, xlink_href."""
    element = etree.SubElement(parent, tag(name))
    if text:
        element.text = clean(text)
    return _told(element, attributes)


def _told(element: etree._Element, attributes: dict[str, str]) -> etree._Element:
    for key, value in attributes.items():
        prefix, cut, local = key.partition("_")
        element.set(tag(f"{prefix}:{local}") if cut else key, clean(value))
    return element


def clean(text: str) -> str:
    """Text without characters that XML cannot hold."""
    return _UNPRINTABLE.sub("\ufffd", text)


def refer(parent: etree._Element, name: str, uri: str, title: str) -> etree._Element:
    """An element that refers to a term; the title says what it is."""
    return add(parent, name, xlink_href=uri, xlink_title=title)


def quantity(parent: etree._Element, name: str, value: float, unit: str, *, label: str = "") -> None:
    """An element that holds a number with its UCUM unit."""
    element = add(add(parent, name), "swe:Quantity")
    if label:
        add(element, "swe:label", label)
    add(element, "swe:uom", code=unit)
    add(element, "swe:value", repr(float(value)))


def document(found: etree._Element) -> bytes:
    """The document as bytes."""
    return etree.tostring(found, xml_declaration=True, encoding="UTF-8", pretty_print=True)


class FileNames:
    """Names of files after the codes of wells: safe on every disk, never the same twice."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def name(self, code: str, ending: str) -> str:
        """A name for a well's file."""
        stem = _UNSAFE.sub("-", code).strip(".-")[:80] or "well"
        file_name, number = f"{stem}{ending}", 1
        while file_name.lower() in self._taken:
            number += 1
            file_name = f"{stem}-{number}{ending}"
        self._taken.add(file_name.lower())
        return file_name


def own_uri(kind: str, name: str) -> str:
    """A name of our own for something that no register has.

    Example
    -------
    >>> own_uri("network", "Marrow Fen")
    'urn:x-tapedown:network:Marrow%20Fen'
    """
    return f"urn:x-tapedown:{kind}:{quote(name.encode('utf-8', 'replace'), safe='')}"


def shape(parent: etree._Element, well: DeliveredWell, identity: str) -> None:
    """Where the well is, latitude first as EPSG 4326 has it; empty with the reason where that is not known."""
    place = map_place(well)
    if place is None:
        add(parent, "sams:shape", nilReason="unknown")
        return
    point = add(add(parent, "sams:shape"), "gml:Point", gml_id=identity)
    point.set("srsName", "http://www.opengis.net/def/crs/EPSG/0/4326")
    add(point, "gml:pos", f"{place[1]!r} {place[0]!r}")


class Datum(NamedTuple):
    """A vertical reference in words: what it is called and where its zero lies."""

    name: str
    anchor: str
    uri: str = ""


def datums(well: DeliveredWell, delivery: Delivery) -> list[Datum]:
    """The vertical references of a well: its land-surface datum, its measuring points, the datum of elevations."""
    at, listed = well.position, []
    name = (at.vertical_datum if at else "") or delivery.network.vertical_datum
    epsg = vertical_epsg(name)
    called = f"{name} (EPSG {epsg})" if epsg else name
    if at is not None and at.land_surface is not None:
        spread = f", standard uncertainty {at.u_elevation}" if at.u_elevation else ""
        listed.append(Datum("land-surface datum", f"fixed mark at {at.land_surface} above {called}{spread}"))
    else:
        listed.append(Datum("land-surface datum", "fixed mark at the well; its elevation is not recorded"))
    for dated in well.points:
        point = dated.point
        held = f"from {dated.since or 'the beginning'}" + (f" until {dated.until}" if dated.until else "")
        where = f"{point.height} {point.side} the land-surface datum" if point.side != "level" else "at land surface"
        listed.append(Datum(f"measuring point {point.name}", f"{point.description}; {where}, {held}"))
    return [*listed, Datum(name, f"elevations count from {called}", vertical_uri(name))]


def vertical_datum(parent: etree._Element, name: str, datum: Datum, identity: str) -> None:
    """A vertical datum told in words, with its register name where it has one."""
    node = add(add(parent, name), "gml:VerticalDatum", gml_id=identity)
    add(node, "gml:identifier", datum.uri or datum.name, codeSpace="http://www.opengis.net/" if datum.uri else "local")
    add(node, "gml:name", datum.name)
    add(node, "gml:scope", "depths and elevations of this well")
    add(node, "gml:anchorDefinition", datum.anchor)


def named_text(parent: etree._Element, name: str, title: str, text: str) -> None:
    """A named value that is text."""
    parameter = add(add(parent, name), "om:NamedValue")
    refer(parameter, "om:name", f"urn:x-tapedown:{title.replace(' ', '-')}", title)
    value = add(parameter, "om:value", text)
    value.set(tag("xsi:type"), "xs:string")
