"""Terms of open standards for what we say in words: quality, missing values, vertical datums, units."""

from __future__ import annotations

from tapedown.values.results import ESTIMATE, GOOD, MISSING, POOR, SUSPECT, UNCHECKED

WATERML = "http://www.opengis.net/def/waterml/2.0/"
NIL = "http://www.opengis.net/def/nil/OGC/0/"
UCUM_URI = "http://unitsofmeasure.org/ucum.html"

QARTOD = {GOOD: 1, UNCHECKED: 2, SUSPECT: 3, ESTIMATE: 3, POOR: 4, MISSING: 9}
"""Primary flags of the QARTOD data flag manual 1.2 (2020). The map is ours and loses the difference of 3 and 3."""


def quality_uri(word: str) -> str:
    """The term of the OGC register (10-126r4, table 5) for a quality word.

    Example
    -------
    >>> quality_uri("good")
    'http://www.opengis.net/def/waterml/2.0/quality/good'
    """
    return f"{WATERML}quality/{word}"


_VERTICAL = {
    "navd88": 5703, "ngvd29": 7968, "cgvd28": 5713, "cgvd2013": 6647, "odn": 5701, "newlyn": 5701, "ahd": 5711,
    "evrf2007": 5621, "evrf2019": 9389, "dhhn2016": 7837, "nap": 5709, "ngfign69": 5720, "ign69": 5720, "ln02": 5728,
    "rh2000": 5613, "nn2000": 5941, "nzvd2016": 7839, "alicante": 5782, "egm96": 5773, "egm2008": 3855, "msl": 5714,
}  # fmt: skip
"""Vertical reference systems in m by the name people write: EPSG dataset v11.022."""
_LONGER = {
    "ordnancedatumnewlyn": "odn",
    "northamericanverticaldatumof1988": "navd88",
    "nationalgeodeticverticaldatumof1929": "ngvd29",
    "australianheightdatum": "ahd",
    "meansealevel": "msl",
}


def vertical_epsg(datum: str) -> int | None:
    """EPSG code of a vertical reference system in m, None where the name is not one we know.

    Example
    -------
    >>> vertical_epsg("NAVD 88"), vertical_epsg("Ordnance Datum Newlyn"), vertical_epsg("the old bench mark")
    (5703, 5701, None)
    """
    name = "".join(c for c in datum.lower() if c.isalnum())
    return _VERTICAL.get(_LONGER.get(name, name))


def vertical_uri(datum: str) -> str:
    """The OGC name of a vertical reference system, "" where it has no code."""
    code = vertical_epsg(datum)
    return f"http://www.opengis.net/def/crs/EPSG/0/{code}" if code else ""


def is_wgs84(datum: str) -> bool:
    """Whether positions in this datum may be written as WGS 84 without a shift that would show on a map of wells.

    Not stated counts as WGS 84: that is what receivers of the last decades give. NAD 83 and ETRS 89 lie within 2 m.

    Example
    -------
    >>> is_wgs84("WGS84"), is_wgs84(""), is_wgs84("NAD 27")
    (True, True, False)
    """
    name = "".join(c for c in datum.lower() if c.isalnum())
    return name in {"", "wgs84", "epsg4326", "4326", "nad83", "epsg4269", "etrs89", "epsg4258", "gda94", "gda2020"}
