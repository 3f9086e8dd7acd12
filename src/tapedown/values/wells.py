"""Wells as facts: what stands where, how it was built, and the point that readings are taken from.

Depths in a body are below land surface unless a field says otherwise.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.forms import Field, Form, Problem
from tapedown.values.written import Written

DIRTIER = ("clean", "between", "dirty")
"""How clean a well's water is, the cleanest first: the order in which gear may go from one to the next.

Cleanest to dirtiest is published (San Joaquin County, CA, doc 578983 p. 46, read); the words are ours.
"""


class Network(NamedTuple):
    """Facts of a network: name, how its people write lengths, its datum and clock, the settings it changed."""

    name: str
    length_unit: str
    vertical_datum: str
    zone: str
    settings: tuple[NamedValue, ...] = ()
    remarks: str = ""


class NamedValue(NamedTuple):
    """A name with a value as written."""

    name: str
    value: str


class Well(NamedTuple):
    """Identity of a well; its code never changes, everything else is told by later entries.

    visit_every  how often it is to be visited, None for as often as the network's setting says
    dirtier      a word of DIRTIER, "" for clean: tape and gear go from clean wells to dirty ones, never back
    """

    code: str
    name: str
    place: str
    use: str
    aquifer: str
    other_names: tuple[str, ...]
    remarks: str
    visit_every: Written | None = None
    dirtier: str = ""


class Position(NamedTuple):
    """Where the well is and how high the land-surface datum lies, with datum, method and uncertainty."""

    latitude: Written | None
    longitude: Written | None
    horizontal_datum: str
    position_method: str
    land_surface: Written | None
    vertical_datum: str
    elevation_method: str
    u_elevation: Written | None
    datum_shift: DatumShift | None
    source: str


class DatumShift(NamedTuple):
    """An offset somebody vouches for: elevation in `to` = elevation in the well's own datum + offset."""

    to: str
    offset: Written
    u: Written
    source: str


class Interval(NamedTuple):
    """A length of casing or screen, depths below land surface."""

    top: Written
    bottom: Written
    inside_diameter: Written | None
    material: str
    remarks: str


class Station(NamedTuple):
    """One station of a directional survey: distance along the hole, inclination from vertical, azimuth."""

    along: Written
    inclination: Written
    azimuth: Written | None


class Construction(NamedTuple):
    """How the well was built. lean is one angle from vertical; a survey, when there is one, replaces it."""

    completed_depth: Written | None
    hole_depth: Written | None
    casings: tuple[Interval, ...]
    screens: tuple[Interval, ...]
    lean: Written | None
    u_lean: Written | None
    survey: tuple[Station, ...]
    source: str
    remarks: str


class PointHeight(NamedTuple):
    """A measuring point: height above (+) or below (-) land surface, a number AND a word.

    along_casing  the height was taped along an off-vertical stick-up: it is a path, not a rise
    """

    name: str
    height: Written
    side: str
    u_height: Written | None
    along_casing: bool
    description: str
    why: str

    @property
    def height_m(self) -> float:
        """Height in m, + above land surface, - below."""
        return abs(self.height.si) * (-1.0 if self.side == "below" else 1.0)


class MarkLevel(NamedTuple):
    """A reference mark off the well with its elevation."""

    name: str
    description: str
    elevation: Written | None
    vertical_datum: str


class LevelCheck(NamedTuple):
    """Levels carried from a reference mark to the measuring point: is the point still where it was?"""

    mark: str
    point: str
    above_mark: Written
    method: str
    remarks: str


class AccessNote(NamedTuple):
    """Permission, keys, hazards, the owner's wishes."""

    permission: str
    keys: str
    hazards: str
    remarks: str


def _height_agrees(point: PointHeight) -> Sequence[Problem]:
    signed = point.height.text[:1]
    if (signed == "-" and point.side == "above") or (signed == "+" and point.side == "below"):
        return [
            Problem(
                "height",
                f"{point.height} says one thing and {point.side!r} the other",
                "write the height without a sign and above or below as a word; look at the casing again if in doubt",
            )
        ]
    if point.side == "level" and point.height.si != 0:
        return [Problem("height", f"{point.height} is not level with land surface", "write above or below")]
    return []


def _comes_back(well: Well) -> Sequence[Problem]:
    if well.visit_every is not None and well.visit_every.si <= 0:
        return [Problem("visit_every", f"{well.visit_every} is no interval", "write it like 91 d or 1 yr")]
    return []


def _stations_in_order(construction: Construction) -> Sequence[Problem]:
    along = [station.along.si for station in construction.survey]
    if any(b <= a for a, b in itertools.pairwise(along)):
        return [Problem("survey", "stations do not go down the hole in order", "sort them by distance along the hole")]
    if construction.survey and construction.lean is not None:
        return [Problem("lean", "there is a survey and a single angle", "keep the survey and leave lean out")]
    return []


SETTING = Form(
    "setting",
    NamedValue,
    "a changed setting",
    (
        Field("name", "text", "name of the setting", required=True),
        Field("value", "text", "its value as written", required=True),
    ),
)
INTERVAL = Form(
    "interval",
    Interval,
    "a length of casing or screen",
    (
        Field("top", "length", "depth of its top below land surface", required=True),
        Field("bottom", "length", "depth of its bottom below land surface", required=True),
        Field("inside_diameter", "length", "inside diameter", metric="mm", feet="in"),
        Field("material", "text", "material, slot, gauge"),
        Field("remarks", "text", "anything else"),
    ),
)

FORMS: dict[str, Form] = {
    "network": Form(
        "network",
        Network,
        "the network itself",
        (
            Field("name", "text", "what the network is called", required=True),
            Field("length_unit", "choice", "ft or m: what people write", required=True, choices=("ft", "m")),
            Field("vertical_datum", "text", "vertical datum of elevations, such as NAVD88", required=True),
            Field("zone", "text", "time zone of the wells, such as Europe/London", required=True),
            Field(
                "settings",
                "form",
                "settings changed from their defaults",
                many=True,
                form=SETTING,
            ),
            Field("remarks", "text", "anything else"),
        ),
    ),
    "well": Form(
        "well",
        Well,
        "a well's identity",
        (
            Field("code", "text", "short code painted on the well", required=True),
            Field("name", "text", "name people use"),
            Field("place", "text", "how to find it"),
            Field("use", "text", "what the well is used for"),
            Field("aquifer", "text", "aquifer it is open to"),
            Field("other_names", "text", "names it goes by elsewhere", many=True),
            Field("remarks", "text", "anything else"),
            Field("visit_every", "duration", "how often it is to be visited, such as 91 d", metric="d", feet="d"),
            Field("dirtier", "choice", "how clean its water is: clean wells come first on a round", choices=DIRTIER),
        ),
        _comes_back,
    ),
    "position": Form(
        "position",
        Position,
        "where the well is and how high land surface lies",
        (
            Field("latitude", "angle", "degrees, north positive"),
            Field("longitude", "angle", "degrees, east positive"),
            Field("horizontal_datum", "text", "such as WGS 84"),
            Field("position_method", "text", "how the position was found"),
            Field("land_surface", "length", "elevation of the land-surface datum"),
            Field("vertical_datum", "text", "vertical datum of that elevation"),
            Field("elevation_method", "text", "levelled, GNSS, map contours..."),
            Field("u_elevation", "length", "its standard uncertainty (half a contour interval / sqrt 3 from a map)"),
            Field(
                "datum_shift",
                "form",
                "an offset to another vertical datum, with who vouches for it",
                form=Form(
                    "datum shift",
                    DatumShift,
                    "an offset to another datum",
                    (
                        Field("to", "text", "the other datum", required=True),
                        Field("offset", "length", "amount to add", required=True),
                        Field("u", "length", "its standard uncertainty", required=True),
                        Field("source", "text", "where the offset comes from", required=True),
                    ),
                ),
            ),
            Field("source", "text", "where these facts come from"),
        ),
    ),
    "construction": Form(
        "construction",
        Construction,
        "how the well was built",
        (
            Field("completed_depth", "length", "depth of the finished well below land surface"),
            Field("hole_depth", "length", "depth drilled below land surface"),
            Field("casings", "form", "lengths of casing", many=True, form=INTERVAL),
            Field("screens", "form", "screens or open intervals", many=True, form=INTERVAL),
            Field("lean", "angle", "angle from vertical, when the hole leans as a whole"),
            Field("u_lean", "angle", "standard uncertainty of that angle"),
            Field(
                "survey",
                "form",
                "directional survey",
                many=True,
                form=Form(
                    "station",
                    Station,
                    "a survey station",
                    (
                        Field("along", "length", "distance along the hole from land surface", required=True),
                        Field("inclination", "angle", "degrees from vertical", required=True),
                        Field("azimuth", "angle", "degrees clockwise from north"),
                    ),
                ),
            ),
            Field("source", "text", "driller's log, camera, geophysical log..."),
            Field("remarks", "text", "anything else"),
        ),
        _stations_in_order,
    ),
    "measuring point": Form(
        "measuring point",
        PointHeight,
        "the marked point readings are taken from, from this date on",
        (
            Field("name", "text", "name of the point, such as MP-1", required=True),
            Field("height", "length", "height from land surface, without a sign", required=True),
            Field("side", "choice", "above or below land surface", required=True, choices=("above", "below", "level")),
            Field("u_height", "length", "standard uncertainty of the height"),
            Field("along_casing", "flag", "yes when taped along a stick-up that is not vertical"),
            Field("description", "text", "what the mark looks like", required=True),
            Field("why", "text", "why it changed"),
        ),
        _height_agrees,
    ),
    "reference mark": Form(
        "reference mark",
        MarkLevel,
        "a mark off the well that the measuring point is levelled to",
        (
            Field("name", "text", "name of the mark", required=True),
            Field("description", "text", "where it is and what it looks like", required=True),
            Field("elevation", "length", "its elevation"),
            Field("vertical_datum", "text", "vertical datum of that elevation"),
        ),
    ),
    "level check": Form(
        "level check",
        LevelCheck,
        "levels from a reference mark to the measuring point",
        (
            Field("mark", "text", "reference mark", required=True),
            Field("point", "text", "measuring point", required=True),
            Field("above_mark", "length", "height of the point above the mark; minus when below", required=True),
            Field("method", "text", "level, GNSS, tape"),
            Field("remarks", "text", "anything else"),
        ),
    ),
    "access": Form(
        "access",
        AccessNote,
        "permission, keys and hazards",
        (
            Field("permission", "text", "who gave it, when, on what terms"),
            Field("keys", "text", "keys and gate codes kept where"),
            Field("hazards", "text", "dogs, pits, traffic, overhead lines..."),
            Field("remarks", "text", "anything else"),
        ),
    ),
}
