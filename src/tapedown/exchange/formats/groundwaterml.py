"""A delivery's wells as GroundWaterML 2: identity, elevations, casing and screens. A file a well.

References
----------
OGC 16-032r2 (GWML 2.2). The elevation of the measuring point is the collar's; the land-surface datum is the origin.
"""

from __future__ import annotations

from collections.abc import Iterator

from lxml import etree

from tapedown.exchange.delivery.contents import DeliveredWell, Delivery
from tapedown.exchange.delivery.words_of_standards import vertical_uri
from tapedown.exchange.formats.xml_parts import FileNames, add, document, own_uri, quantity, refer, root, shape, tag
from tapedown.values.wells import Construction, Interval

_PREFIXES = ("gwml2w", "gwml2wc", "gml", "sam", "sams", "swe", "om", "xlink", "xsi")
ORIGIN = "http://resource.gwml.org/def/elevationType/originElevation"
_OWN = "urn:x-tapedown:"


def groundwaterml_files(delivery: Delivery) -> Iterator[tuple[str, bytes]]:
    """A file for every well."""
    names = FileNames()
    for well in delivery.wells:
        yield names.name(well.code, ".xml"), document(gw_well(delivery, well))


def gw_well(delivery: Delivery, well: DeliveredWell) -> etree._Element:
    """One well."""
    element = root("gwml2w:GW_Well", _PREFIXES, schema="gwml2w", gml_id="well")
    _identity(element, delivery, well)
    shape(element, well, "well-place")
    _borehole(add(element, "gwml2w:gwWellConstruction"), delivery, well)
    if well.identity and well.identity.use:
        refer(element, "gwml2w:gwWellPurpose", f"{_OWN}well-use", well.identity.use)
    _land_surface(element, delivery, well)
    built = well.construction
    if built is not None and built.completed_depth is not None:
        quantity(element, "gwml2w:gwWellTotalLength", built.completed_depth.si, "m")
    return element


def _identity(element: etree._Element, delivery: Delivery, well: DeliveredWell) -> None:
    named = well.identity
    if named and (named.place or named.remarks):
        add(element, "gml:description", "; ".join(filter(None, (named.place, named.remarks))))
    add(element, "gml:identifier", well.code, codeSpace=own_uri("network", delivery.network.name))
    for name in (named.name or well.code, *named.other_names) if named else (well.code,):
        add(element, "gml:name", name)
    refer(element, "sam:sampledFeature", f"{_OWN}aquifer", named.aquifer if named and named.aquifer else "ground water")


def _land_surface(element: etree._Element, delivery: Delivery, well: DeliveredWell) -> None:
    """The origin of depths. Where its elevation is not known the element still says what it is."""
    at = well.position
    elevation = add(add(element, "gwml2w:gwWellReferenceElevation"), "gwml2w:Elevation")
    if at is not None and at.land_surface is not None:
        _height(elevation, "gwml2w:elevation", at.land_surface.si, at.vertical_datum or delivery.network.vertical_datum)
    refer(elevation, "gwml2w:elevationType", ORIGIN, "origin of depths: the land-surface datum")
    if at is not None and at.elevation_method:
        refer(elevation, "gwml2w:elevationMeasurementMethod", f"{_OWN}elevation-method", at.elevation_method)


def _height(parent: etree._Element, name: str, height_m: float, datum: str) -> None:
    height = add(parent, name, repr(height_m))
    height.set("srsDimension", "1")
    height.set("srsName", vertical_uri(datum) or own_uri("vertical-datum", datum))
    height.set("uomLabels", "m")


def _borehole(parent: etree._Element, delivery: Delivery, well: DeliveredWell) -> None:
    borehole, built = add(parent, "gwml2wc:Borehole", gml_id="borehole"), well.construction
    if built is not None and (built.source or built.remarks):
        add(borehole, "gml:description", "; ".join(filter(None, (built.source, built.remarks))))
    refer(borehole, "sam:sampledFeature", f"{_OWN}aquifer", "ground water")
    shape(borehole, well, "borehole-place")
    if built is not None:
        _lengths(borehole, built)
    if not well.points:
        headworks = add(borehole, "gwml2wc:bholeHeadworks", nilReason="unknown")
        headworks.set(tag("xsi:nil"), "true")
    for number, dated in enumerate(well.points, 1):
        collar = add(add(borehole, "gwml2wc:bholeHeadworks"), "gwml2wc:BoreCollar", gml_id=f"collar{number}")
        until = f" until {dated.until}" if dated.until else ""
        add(collar, "gml:description", f"{dated.point.description}; from {dated.since or 'the beginning'}{until}")
        add(collar, "gml:name", dated.point.name)
        at = well.position
        if at is not None and at.land_surface is not None:
            datum = at.vertical_datum or delivery.network.vertical_datum
            _height(collar, "gwml2wc:collarElevation", at.land_surface.si + dated.point.height_m, datum)
        refer(collar, "gwml2wc:collarElevationType", f"{_OWN}measuring-point", "measuring point")


def _lengths(borehole: etree._Element, built: Construction) -> None:
    for what, intervals in (("casing", built.casings), ("screen", built.screens)):
        if not intervals:
            continue
        part = add(add(borehole, "gwml2wc:bholeConstruction"), f"gwml2wc:{what.capitalize()}", gml_id=what)
        for number, interval in enumerate(intervals, 1):
            element = add(part, f"gwml2wc:{what}Element")
            _component(element, what, interval, f"{what}{number}")


def _component(parent: etree._Element, what: str, interval: Interval, identity: str) -> None:
    component = add(parent, f"gwml2wc:{what.capitalize()}Component", gml_id=identity)
    if interval.remarks:
        add(component, "gml:description", interval.remarks)
    quantity(component, "gwml2wc:from", interval.top.si, "m")
    quantity(component, "gwml2wc:to", interval.bottom.si, "m")
    if interval.material:
        refer(component, f"gwml2wc:{what}Material", f"{_OWN}material", interval.material)
    if interval.inside_diameter is not None:
        quantity(component, f"gwml2wc:{what}InternalDiameter", interval.inside_diameter.si, "m")
