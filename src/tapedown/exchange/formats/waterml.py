"""A delivery as WaterML 2.0 Part 1: a file a well, in it an observation for every series.

Readings by hand are Discontinuous: nothing is known between them. A logger is Continuous. A daily mean is stamped with
the beginning of its day and holds for the day that follows it. Where the water was not reached the value is nil, with
the reason and with the depth the tape reached as a qualifier.

References
----------
OGC 10-126r4 (schema 2.0.2), tables 5 and 6, 9.15.3.1 for the threshold of a censored value; code register of the OGC.
"""

from __future__ import annotations

from collections.abc import Iterator

from lxml import etree

from tapedown.exchange.delivery.contents import DeliveredSeries, DeliveredWell, Delivery
from tapedown.exchange.delivery.quantities import BY_KEY, Quantity, all_series
from tapedown.exchange.delivery.words_of_standards import NIL, WATERML, quality_uri
from tapedown.exchange.formats.xml_parts import (
    FileNames,
    add,
    datums,
    document,
    named_text,
    own_uri,
    quantity,
    refer,
    root,
    shape,
    tag,
    vertical_datum,
)

_OBSERVATION = "http://www.opengis.net/def/observationType/OGC-OM/2.0/OM_MeasurementTimeseriesTVP"
_PREFIXES = ("wml2", "gml", "om", "sam", "sams", "swe", "gmd", "gco", "xlink", "xsi", "xs")
_KINDS = {
    "reading": ("ManualMethod", "manual method", "Discontinuous", "discontinuous"),
    "logger": ("Sensor", "sensor", "Continuous", "continuous"),
    "daily mean": ("Algorithm", "algorithm", "AverageSucc", "average in the interval that follows"),
}
"""Kind of a series -> process type and interpolation type, each as term and in words."""
DAY = "P1D"


def waterml_files(delivery: Delivery) -> Iterator[tuple[str, bytes]]:
    """A file for every well that has a series."""
    names = FileNames()
    for well in delivery.wells:
        series = [one for one in all_series(well) if one.times]
        if series:
            yield names.name(well.code, ".xml"), document(collection(delivery, well, series))


def collection(delivery: Delivery, well: DeliveredWell, series: list[DeliveredSeries]) -> etree._Element:
    """The series of one well as a collection."""
    whole = root("wml2:Collection", _PREFIXES, schema="wml2", gml_id="collection")
    add(whole, "gml:description", delivery.title)
    about = add(add(whole, "wml2:metadata"), "wml2:DocumentMetadata", gml_id="document")
    add(about, "wml2:generationDate", delivery.made_at)
    add(about, "wml2:generationSystem", f"{delivery.program}, engine {delivery.engine}")
    for number, one in enumerate(series, 1):
        _observation(add(whole, "wml2:observationMember"), delivery, well, one, f"s{number}")
    return whole


def _observation(
    parent: etree._Element, delivery: Delivery, well: DeliveredWell, series: DeliveredSeries, identity: str
) -> None:
    of = BY_KEY[series.quantity]
    observation = add(parent, "om:OM_Observation", gml_id=f"{identity}-observation")
    add(observation, "gml:description", f"{well.code}: {of.title}; {of.definition}; positive {of.positive}")
    refer(observation, "om:type", _OBSERVATION, "measurement time series")
    _metadata(observation, delivery)
    _period(add(observation, "om:phenomenonTime"), series, f"{identity}-period")
    instant = add(add(observation, "om:resultTime"), "gml:TimeInstant", gml_id=f"{identity}-made")
    add(instant, "gml:timePosition", delivery.made_at)
    _process(observation, delivery, series, of, identity)
    refer(observation, "om:observedProperty", of.uri, of.title)
    _monitoring_point(add(observation, "om:featureOfInterest"), delivery, well, identity)
    _timeseries(add(observation, "om:result"), series, of, identity)


def _metadata(parent: etree._Element, delivery: Delivery) -> None:
    metadata = add(add(parent, "om:metadata"), "wml2:ObservationMetadata")
    add(metadata, "gmd:contact", gco_nilReason="withheld")
    add(add(metadata, "gmd:dateStamp"), "gco:DateTime", delivery.made_at)
    add(metadata, "gmd:identificationInfo", gco_nilReason="inapplicable")
    refer(metadata, "wml2:sampledMedium", f"{WATERML}medium/GroundWater", "ground water")


def _period(parent: etree._Element, series: DeliveredSeries, identity: str) -> None:
    period = add(parent, "gml:TimePeriod", gml_id=identity)
    add(period, "gml:beginPosition", series.times[0])
    add(period, "gml:endPosition", series.times[-1])


def _process(parent: etree._Element, delivery: Delivery, series: DeliveredSeries, of: Quantity, identity: str) -> None:
    process, title, _, _ = _KINDS[series.kind]
    procedure = add(add(parent, "om:procedure"), "wml2:ObservationProcess", gml_id=f"{identity}-process")
    refer(procedure, "wml2:processType", f"{WATERML}processType/{process}", title)
    if series.kind == "daily mean":
        add(procedure, "wml2:aggregationDuration", DAY)
    methods = sorted({note.partition(";")[0] for note in series.notes if note})
    for comment in (of.definition, f"methods: {', '.join(methods)}" if methods else "", f"by {delivery.program}"):
        if comment:
            add(procedure, "wml2:comment", comment)


def _monitoring_point(parent: etree._Element, delivery: Delivery, well: DeliveredWell, identity: str) -> None:
    place = add(parent, "wml2:MonitoringPoint", gml_id=f"{identity}-well")
    well_identity = well.identity
    if well_identity and well_identity.place:
        add(place, "gml:description", well_identity.place)
    add(place, "gml:identifier", well.code, codeSpace=own_uri("network", delivery.network.name))
    add(place, "gml:name", well_identity.name if well_identity and well_identity.name else well.code)
    sampled = well_identity.aquifer if well_identity and well_identity.aquifer else "ground water"
    refer(place, "sam:sampledFeature", "urn:x-tapedown:aquifer", sampled)
    named_text(place, "sam:parameter", "time zone", delivery.network.zone)
    shape(place, well, f"{identity}-place")
    for number, datum in enumerate(datums(well, delivery), 1):
        vertical_datum(place, "wml2:verticalDatum", datum, f"{identity}-datum{number}")


def _timeseries(parent: etree._Element, series: DeliveredSeries, of: Quantity, identity: str) -> None:
    timeseries = add(parent, "wml2:MeasurementTimeseries", gml_id=f"{identity}-series")
    about = add(add(timeseries, "wml2:metadata"), "wml2:MeasurementTimeseriesMetadata")
    _period(add(about, "wml2:temporalExtent"), series, f"{identity}-extent")
    _, _, term, meaning = _KINDS[series.kind]
    default = add(add(timeseries, "wml2:defaultPointMetadata"), "wml2:DefaultTVPMeasurementMetadata")
    refer(default, "wml2:quality", quality_uri("good"), "good")
    add(default, "wml2:uom", code="m")
    refer(default, "wml2:interpolationType", f"{WATERML}interpolationType/{term}", meaning)
    if series.kind == "daily mean":
        add(default, "wml2:aggregationDuration", DAY)
    for place in range(len(series.times)):
        _point(add(timeseries, "wml2:point"), series, of, place)


def _point(parent: etree._Element, series: DeliveredSeries, of: Quantity, place: int) -> None:
    point, value, quality = add(parent, "wml2:MeasurementTVP"), series.values_m[place], series.quality[place]
    add(point, "wml2:time", series.times[place])
    if value is None:
        add(point, "wml2:value").set(tag("xsi:nil"), "true")
    else:
        add(point, "wml2:value", repr(float(value)))
    note, expanded_m = series.notes[place] if series.notes else "", series.expanded_m[place]
    if value is not None and quality == "good" and not note and expanded_m is None:
        return
    about = add(add(point, "wml2:metadata"), "wml2:TVPMeasurementMetadata")
    if quality != "good":
        refer(about, "wml2:quality", quality_uri(quality), quality)
    bound_m = series.bounds_m[place] if series.bounds_m else None
    term, reason = _why_nil(of, bound_m)
    if value is None:
        refer(about, "wml2:nilReason", f"{NIL}{term}", reason)
    if note:
        add(about, "wml2:comment", note)
    if bound_m is not None:
        quantity(about, "wml2:qualifier", bound_m, "m", label="tape reached, water not found")
        refer(about, "wml2:censoredReason", f"{NIL}{term}", reason)
    if expanded_m is not None:
        quantity(about, "wml2:accuracy", expanded_m, "m", label="expanded uncertainty")


def _why_nil(of: Quantity, bound_m: float | None) -> tuple[str, str]:
    """Dry: a depth lies beyond what could be reached, an elevation below it. Else the reading is missing."""
    if bound_m is None:
        return "missing", "not read"
    return ("AboveDetectionRange", "deeper than reached") if of.positive == "down" else (
        "BelowDetectionRange", "lower than reached")  # fmt: skip
