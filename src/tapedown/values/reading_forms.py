"""The forms of reading sets, visits, documents and reviews: what a person writes, and how it is checked.

One form a method; the values they make are in `values.readings`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tapedown.values.forms import Field, Form, Problem, inside
from tapedown.values.readings import (
    AirLine,
    ChalkedTape,
    Document,
    ElectricTape,
    FlowingGauge,
    Hanging,
    HoldCut,
    Import,
    LoggerCheck,
    OilOnWater,
    OilWater,
    Readings,
    Reported,
    Review,
    Standpipe,
    Strike,
    Visit,
    WeightedTape,
)
from tapedown.values.seen import NOTHING_SEEN, SEEN, SEEN_FIELD, Seen, with_seen

COMMON = (
    Field("point", "text", "measuring point, when it is not the one in force", asked="seldom"),
    Field("chosen", "ratio", "number of the repeat chosen as most representative, counted from 1", asked="seldom"),
    Field("why_chosen", "text", "why that one", asked="seldom"),
    Field("remarks", "text", "anything else", asked="seldom"),
)
_TAPE = Field("tape", "text", "serial number of the tape", gear=("steel tape", "electric tape"))
_WEIGHT = Field("weight", "text", "serial number of the weight", gear=("weight",))
_GAUGE = Field("gauge", "text", "serial number of the gauge", gear=("gauge",))
_HANGING = Field(
    "hanging",
    "form",
    "for heat and stretch of the tape",
    asked="seldom",
    form=Form(
        "hanging tape",
        Hanging,
        "for heat and stretch of the tape",
        (
            Field("tape_temp", "temperature", "mean temperature of the hanging tape", metric="degC", feet="degF"),
            Field("surface_temp", "temperature", "or temperature at the measuring point", metric="degC", feet="degF"),
            Field(
                "temp_gradient", "temperature gradient", "and its change with depth", metric="degC/m", feet="degF/ft"
            ),
            Field("water_at", "length", "depth to water below the measuring point: below it the tape is lighter"),
        ),
    ),
)
_WATER_TEMP = Field("water_temp", "temperature", "temperature of the water", metric="degC", feet="degF", asked="first")
_GAUGE_ERROR = Field("gauge_error", "pressure", "error of the gauge, half-width", metric="kPa", feet="psi")
_SHUT_IN = Field("shut_in", "duration", "how long the well was shut in", asked="first")


_APART = Field(
    "apart", "duration", "water that moves: time from one reading to the next", metric="min", feet="min", asked="moving"
)


def _pressures(name: str, text: str, *, required: bool = True) -> Field:
    return Field(name, "pressure", text, required=required, many=True, metric="kPa", feet="psi")


def _one_way_to_read(line: AirLine) -> Sequence[Problem]:
    problems = []
    if bool(line.readings) == bool(line.readings_as_water):
        problems.append(
            Problem("readings", "an air line is read in pressure or in feet or metres of water", "give one of the two")
        )
    by_tape = line.constant_depth is not None
    gauges = (line.constant_gauge is not None) + (line.constant_gauge_as_water is not None)
    if by_tape == (line.line_length is not None) or by_tape != (gauges == 1):
        problems.append(
            Problem(
                "constant_depth",
                "the line is known by a tape reading with its gauge reading, or by its length",
                "give constant_depth and constant_gauge, or line_length",
            )
        )
    return problems


def _whole_splice(tape: ElectricTape) -> Sequence[Problem]:
    if (tape.marker_above_splice is None) == (tape.marker_to_sensor is None):
        return []
    lacking = "marker_to_sensor" if tape.marker_to_sensor is None else "marker_above_splice"
    return [Problem(lacking, "half of a splice: the other half decides how many feet it takes off", "give both")]


def _interface_below_oil(pair: OilWater) -> Sequence[Problem]:
    if pair.water.si < pair.oil.si:
        return [Problem("water", f"interface {pair.water} lies above oil surface {pair.oil}", "are they swapped?")]
    return []


METHODS: dict[str, Form] = {
    "weighted tape": Form(
        "weighted tape",
        WeightedTape,
        "total depth by weighted steel tape",
        (
            Field("readings", "length", "tape value at the measuring point, one for each lowering", True, True),
            _TAPE,
            _WEIGHT,
            Field("weight_interval", "length", "tape zero to bottom of the weight, measured before use", asked="first"),
            Field("bottom", "choice", "how the bottom felt", choices=("firm", "soft", "unsure")),
            _HANGING,
            *COMMON,
        ),
    ),
    "chalked tape": Form(
        "chalked tape",
        ChalkedTape,
        "depth to water by chalked steel tape",
        (
            Field(
                "readings",
                "form",
                "hold and cut, one pair for each lowering",
                required=True,
                many=True,
                form=Form(
                    "hold and cut",
                    HoldCut,
                    "hold and cut",
                    (
                        Field("hold", "length", "tape value at the measuring point", required=True),
                        Field("cut", "length", "tape value at the wetted line", required=True),
                    ),
                ),
            ),
            _TAPE,
            _WEIGHT,
            _HANGING,
            _APART,
            *COMMON,
        ),
    ),
    "electric tape": Form(
        "electric tape",
        ElectricTape,
        "depth to water by electric tape",
        (
            Field("readings", "length", "tape value at the measuring point, one for each lowering", True, True),
            _TAPE._replace(gear=("electric tape",)),
            Field(
                "marker_above_splice", "length", "spliced tape: value of the marker above the splice", asked="seldom"
            ),
            Field(
                "marker_to_sensor", "length", "spliced tape: distance from that marker to the sensor", asked="seldom"
            ),
            _HANGING,
            _APART,
            *COMMON,
        ),
        _whole_splice,
    ),
    "air line": Form(
        "air line",
        AirLine,
        "depth to water by air line",
        (
            _pressures("readings", "steady gauge reading after pumping up", required=False),
            Field(
                "readings_as_water",
                "length",
                "the same on a gauge marked in feet or metres of water",
                many=True,
                asked="seldom",
            ),
            Field("line_length", "length", "depth of the line's lower end below the measuring point", asked="first"),
            Field("constant_depth", "length", "depth by wetted tape, taken together with the gauge", asked="first"),
            Field(
                "constant_gauge",
                "pressure",
                "gauge reading taken together with it",
                metric="kPa",
                feet="psi",
                asked="first",
            ),
            Field(
                "constant_gauge_as_water",
                "length",
                "the same on a gauge marked in feet or metres of water",
                asked="seldom",
            ),
            _GAUGE,
            _GAUGE_ERROR,
            _WATER_TEMP,
            Field(
                "air_temp", "temperature", "temperature of the air column", metric="degC", feet="degF", asked="seldom"
            ),
            Field("weight_of_air", "flag", "yes to count the weight of the air in line and casing", asked="seldom"),
            _APART,
            *COMMON,
        ),
        _one_way_to_read,
    ),
    "flowing gauge": Form(
        "flowing gauge",
        FlowingGauge,
        "head of a flowing well by gauge",
        (
            _pressures("readings", "gauge reading, shut in"),
            _GAUGE,
            Field(
                "gauge_above_point", "length", "gauge centre above the measuring point; minus when lower", asked="first"
            ),
            _GAUGE_ERROR,
            Field("gauge_range", "pressure", "full range of the gauge", metric="kPa", feet="psi", asked="first"),
            _SHUT_IN,
            _WATER_TEMP,
            _APART,
            *COMMON,
        ),
    ),
    "standpipe": Form(
        "standpipe",
        Standpipe,
        "head of a flowing well by standpipe",
        (
            Field("readings", "length", "level in the tube above the measuring point", True, True),
            _SHUT_IN,
            _APART,
            *COMMON,
        ),
    ),
    "logger check": Form(
        "logger check",
        LoggerCheck,
        "a logger beside the tape",
        (
            _pressures("readings", "pressure the logger shows"),
            Field("type", "choice", "vented or absolute", required=True, choices=("vented", "absolute"), asked="first"),
            Field("logger", "text", "serial number of the logger", gear=("logger",)),
            Field(
                "barometer", "pressure", "air pressure, for an absolute logger", metric="kPa", feet="psi", asked="first"
            ),
            _WATER_TEMP,
            Field(
                "water_density",
                "density",
                "density of the water, when measured",
                metric="kg/m3",
                feet="kg/m3",
                asked="seldom",
            ),
            Field("hanging_depth", "length", "depth of the sensor below the measuring point", asked="first"),
            Field(
                "taped_depth",
                "length",
                "depth to water by tape below the measuring point, read together",
                asked="first",
            ),
            Field("record_range", "length", "range the level went through since the last check", asked="first"),
            Field("barometer_at_land_surface", "flag", "yes to count the air column down to the water", asked="seldom"),
            *COMMON,
        ),
    ),
    "oil on water": Form(
        "oil on water",
        OilOnWater,
        "water level under floating oil",
        (
            Field(
                "readings",
                "form",
                "oil surface and interface, one pair for each lowering",
                required=True,
                many=True,
                form=Form(
                    "oil and water",
                    OilWater,
                    "oil and water",
                    (
                        Field("oil", "length", "depth to the oil surface below the measuring point", required=True),
                        Field("water", "length", "depth to the interface below the measuring point", required=True),
                    ),
                    _interface_below_oil,
                ),
            ),
            Field("relative_density", "ratio", "density of the oil over that of water", required=True, asked="first"),
            _TAPE,
            _APART,
            *COMMON,
        ),
    ),
    "reported": Form(
        "reported",
        Reported,
        "a value handed on by others",
        (
            Field("readings", "length", "the value they wrote", True, True),
            Field(
                "reference",
                "choice",
                "what it counts from",
                required=True,
                choices=("below measuring point", "below land surface", "elevation"),
                asked="first",
            ),
            Field("what", "choice", "what it is", required=True, choices=("water level", "total depth"), asked="first"),
            Field("how", "text", "how they say it was read", asked="first"),
            Field("u", "length", "standard uncertainty they state"),
            *COMMON,
        ),
    ),
}

FORMS: dict[str, Form] = {
    "visit": Form(
        "visit",
        Visit,
        "one stop at one well",
        (
            Field("people", "text", "who was there, when more than the writer", many=True, asked="seldom"),
            SEEN_FIELD,
            Field("point_checked", "text", "what the measuring point looked like; any change", asked="first"),
            Field("cleaning", "text", "how tape and weight were cleaned, and with what"),
            Field("remarks", "text", "anything else"),
        ),
        older=with_seen,
    ),
    "document": Form(
        "document",
        Document,
        "a photo or paper",
        (
            Field("sha256", "text", "sha256 of its bytes", required=True),
            Field("media_type", "text", "image/jpeg, application/pdf...", required=True),
            Field("name", "text", "file name it had"),
            Field("caption", "text", "what it shows"),
        ),
    ),
    "review": Form(
        "review",
        Review,
        "what a second person says of an entry",
        (
            Field("entry", "text", "id of the entry", required=True),
            Field(
                "quality",
                "choice",
                "quality given to it",
                required=True,
                choices=("good", "suspect", "estimate", "poor", "unchecked", "missing"),
            ),
            Field("why", "text", "why", required=True),
        ),
    ),
    "import": Form(
        "import",
        Import,
        "a table taken in",
        (
            Field("file", "text", "name of the file", required=True),
            Field("sha256", "text", "sha256 of its bytes", required=True),
            Field("mapping_sha256", "text", "sha256 of the mapping file", required=True),
            Field("entered", "ratio", "lines that became entries", required=True),
            Field("already_there", "ratio", "lines that were in the record already", required=True),
            Field("set_aside", "ratio", "lines set aside with a reason", required=True),
            Field("entries", "ratio", "entries written for them", required=True),
        ),
    ),
    "strike": Form("strike", Strike, "withdraws an entry", (Field("remarks", "text", "anything else"),)),
}


def gear_named(method: str, read: Any) -> dict[str, str]:
    """Serial numbers that a reading set names.

    Parameters
    ----------
    method
        Name of the method.
    read
        The set as a value, or the body of its fields.

    Returns
    -------
    dict
        Serial number by the field it stands in, in the order of the form; empty for a method that is not known.

    Example
    -------
    >>> gear_named("weighted tape", {"readings": ["84.30"], "tape": "ST-014", "weight": ""})
    {'tape': 'ST-014'}
    """
    form = METHODS.get(method)
    taken = [field.name for field in form.fields if field.gear] if form else []
    value_of = read.get if isinstance(read, Mapping) else lambda name: getattr(read, name, "")
    return {name: str(value_of(name)) for name in taken if value_of(name)}


def readings_from_body(
    body: Mapping[str, Any], length_unit: str, place: str = ""
) -> tuple[Readings | None, list[Problem]]:
    """A reading set from its body, or the problems with their places.

    Parameters
    ----------
    body
        Mapping with "method", "read" (the fields of the method's form) and optionally "visit" and "seen".
    length_unit
        "ft" or "m": the unit of a length that has none of its own.
    place
        Where the body stands in what was written, for the problems; "" for the whole.

    Returns
    -------
    tuple
        The set and the problems; the set is None when there are problems.

    Example
    -------
    >>> body = {"method": "electric tape", "read": {"readings": ["45.12"]}}
    >>> found, problems = readings_from_body(body, "ft")
    >>> readings_body(found)["read"]
    {'readings': ['45.12 ft']}
    """
    form = METHODS.get(str(body.get("method", "")))
    if form is None:
        problem = Problem(
            inside(place, "method"), f"no method {body.get('method')!r}", f"use one of: {', '.join(METHODS)}"
        )
        return None, [problem]
    given = body.get("read", {})
    if not isinstance(given, Mapping):
        return None, [
            Problem(inside(place, "read"), f"{given!r} is not a group of fields", "give the fields of the method")
        ]
    read, problems = form.read(given, length_unit, place)
    seen, wrong = _seen_with(body, length_unit, place)
    if read is None or seen is None:
        return None, problems + wrong
    return Readings(form.name, read, str(body.get("visit", "")), seen), []


_SET = Form("reading set", lambda seen: seen, "what went on while it was read", (SEEN_FIELD,))


def _seen_with(body: Mapping[str, Any], length_unit: str, place: str) -> tuple[Seen | None, list[Problem]]:
    """What was noted with the set itself; most sets have nothing of their own."""
    own = {name: body[name] for name in ("seen", "conditions") if body.get(name)}
    return _SET.read(with_seen(own), length_unit, place) if own else (NOTHING_SEEN, [])


def readings_body(readings: Readings) -> dict[str, Any]:
    """The body of a reading set.

    Parameters
    ----------
    readings
        The set in its place.

    Returns
    -------
    dict
        What `readings_from_body` reads: numbers as text with their units, only what was given.
    """
    body: dict[str, Any] = {"method": readings.method, "read": METHODS[readings.method].body(readings.read)}
    if readings.visit:
        body["visit"] = readings.visit
    if seen := SEEN.body(readings.seen):
        body["seen"] = seen
    return body


class _ReadingSets(Form):
    """Reading sets as a kind like the others: the fields below "read" are those of the method."""

    def read(
        self, given: Mapping[str, Any], length_unit: str, place: str = ""
    ) -> tuple[Readings | None, list[Problem]]:
        """As `readings_from_body`."""
        return readings_from_body(given, length_unit, place)

    def body(self, value: Readings) -> dict[str, Any]:
        """As `readings_body`."""
        return readings_body(value)


READING_SETS = _ReadingSets(
    "readings", Readings, "what one method read: method, read (its fields, below), visit, seen", ()
)
