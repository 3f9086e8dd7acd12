"""What is done to a logger's series, and with which figures. Each treatment is a value; who, when and why stand in the
entry that carries it. A treatment is never applied in place: the series is worked out anew from the raw rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple, TypeAlias

from tapedown.values.days import check_time
from tapedown.values.forms import Field, Form, Problem
from tapedown.values.units import UNITS
from tapedown.values.written import Written


class ClockShift(NamedTuple):
    """A clock that was off by a constant: `add` is added to every time shown from start to end."""

    add: Written
    start: str
    end: str


class ClockDrift(NamedTuple):
    """A clock that ran slow or fast between two checks.

    set_at   time the clock showed when it was right
    read_at  time it showed at the second check
    fast_by  how much it was ahead of the true time then; negative for a slow clock
    """

    set_at: str
    read_at: str
    fast_by: Written


class SetAside(NamedTuple):
    """A stretch that is left out: the logger was in the air, was handled, or cannot be believed."""

    start: str
    end: str
    because: str


class UnitMended(NamedTuple):
    """A stretch whose numbers were in another unit than the profile says."""

    start: str
    end: str
    taken_as: str
    really: str


class Barometer(NamedTuple):
    """The air pressure that is taken off an absolute logger.

    series       name of the barometer's series
    gap          its readings are joined by a straight line unless they lie further apart than this
    above_water  how far the barometer hangs above the water in the well; negative when below
    air_temp     of the air between, for its weight
    sea_level_altitude  altitude of the station when its pressures were reduced to sea level; they are reduced back
    """

    series: str
    gap: Written | None
    above_water: Written | None
    air_temp: Written | None
    sea_level_altitude: Written | None


class WaterDensity(NamedTuple):
    """What turns pressure into height of water: density, or the temperature it follows from, and gravity.

    temp  one temperature for the whole series; without it that of the logger, without that the network's guess
    """

    temp: Written | None
    density: Written | None
    latitude: Written | None
    altitude: Written | None


class BarometricEfficiency(NamedTuple):
    """What the air pressure does to the level in this well, taken out.

    efficiency  share of a change of the air pressure that shows, opposed, in the level
    method      how the figure was found; methods differ by half on one well
    """

    efficiency: Written
    method: str
    series: str


class OntoTape(NamedTuple):
    """The series is pulled onto the check readings.

    share    how the change of the offset from one check to the next is shared out: "in time" (a straight line),
             "by steps" (at the times of handling), "one offset" (not at all: what remains is the uncertainty)
    handled  times at which the logger was handled between checks
    walk     how far the offset wanders by itself in a year, standard uncertainty (it grows with the root of time)
    u_point  standard uncertainty of one logged value beside its neighbours
    drift_share_max  a stretch whose drift exceeds this share of its own range is refused
    """

    share: str
    handled: tuple[str, ...]
    walk: Written | None
    u_point: Written | None
    drift_share_max: Written | None


class MonthRange(NamedTuple):
    """What is usual in a month, as depths."""

    month: str
    shallowest: Written
    deepest: Written


class QualityTests(NamedTuple):
    """The tests of the corrected series; a threshold that is not given is the network's."""

    gap: Written | None
    deepest: Written | None
    shallowest: Written | None
    sensor_deepest: Written | None
    sensor_shallowest: Written | None
    usual: tuple[MonthRange, ...]
    spike_suspect: Written | None
    spike_fail: Written | None
    rate_deviations: Written | None
    rate_window: Written | None
    flat_within: Written | None
    flat_suspect: Written | None
    flat_fail: Written | None
    neighbour: str
    neighbour_suspect: Written | None
    neighbour_fail: Written | None
    hampel: bool


Treatment: TypeAlias = (
    ClockShift
    | ClockDrift
    | SetAside
    | UnitMended
    | Barometer
    | WaterDensity
    | BarometricEfficiency
    | OntoTape
    | QualityTests
)
SHARES = ("in time", "by steps", "one offset")
ASIDE_BECAUSE = ("in air", "handling", "pumping or sampling", "ice", "not believed")
_START = Field("start", "when", "first time it holds for; from the beginning when not said")
_END = Field("end", "when", "last time it holds for; to the end when not said")


def _ordered(treatment: Any) -> Sequence[Problem]:
    """Both ends carry an offset, so that they are moments; the end is not before the start."""
    ends = [treatment.start, treatment.end] if hasattr(treatment, "start") else [treatment.set_at, treatment.read_at]
    return _moments(*ends)


def _moments(*times: str) -> list[Problem]:
    """Times of a treatment are moments: they say their offset."""
    return [
        Problem("time", f"{time!r} does not say its offset", "write it like 2026-05-14T10:20+01:00")
        for time in times
        if time and not is_moment(time)
    ]


def is_moment(text: str) -> bool:
    """Whether a time says its time of day and its offset, so that it is one moment the world over.

    Parameters
    ----------
    text
        A time in the form entries carry; another form is a ValueError.

    Returns
    -------
    bool
        False for a date alone and for a time without an offset.

    Example
    -------
    >>> is_moment("2026-05-14T10:20+01:00"), is_moment("2026-05-14T10:20"), is_moment("2026-05-14")
    (True, False, False)
    """
    check_time(text)
    return len(text) > 10 and (text.endswith("Z") or "+" in text[11:] or "-" in text[11:])


def _units_of_one_kind(mended: UnitMended) -> Sequence[Problem]:
    kinds = [{kind for kind, units in UNITS.items() if unit in units} for unit in (mended.taken_as, mended.really)]
    if not kinds[0] & kinds[1]:
        return [Problem("really", f"{mended.taken_as} and {mended.really} are not units of one kind", "name two alike")]
    return _ordered(mended)


def _handled_at_moments(tape: OntoTape) -> Sequence[Problem]:
    if tape.share == "by steps" and not tape.handled:
        return [Problem("handled", "steps need the times of handling", "name them, or share in time")]
    return _moments(*tape.handled)


_FORMS: tuple[tuple[str, Callable[..., Any], str, tuple[Field, ...], Any], ...] = (
    (
        "clock shift",
        ClockShift,
        "a clock off by a constant",
        (Field("add", "duration", "what is added to the time shown", required=True, metric="min", feet="min"),
         _START, _END),
        _ordered,
    ),
    (
        "clock drift",
        ClockDrift,
        "a clock that ran slow or fast",
        (Field("set_at", "when", "time shown when the clock was right", required=True),
         Field("read_at", "when", "time it showed at the second check", required=True),
         Field("fast_by", "duration", "how much it was ahead then; negative when slow", required=True,
               metric="min", feet="min")),
        _ordered,
    ),
    (
        "set aside",
        SetAside,
        "a stretch that is left out",
        (_START, _END, Field("because", "choice", "why", required=True, choices=ASIDE_BECAUSE)),
        _ordered,
    ),
    (
        "unit mended",
        UnitMended,
        "a stretch in another unit",
        (_START, _END, Field("taken_as", "text", "the unit it was read in", required=True),
         Field("really", "text", "the unit it was written in", required=True)),
        _units_of_one_kind,
    ),
    (
        "barometer",
        Barometer,
        "the air pressure taken off an absolute logger",
        (Field("series", "text", "the barometer's series", required=True),
         Field("gap", "duration", "longest gap that a straight line may bridge"),
         Field("above_water", "length", "how far the barometer hangs above the water in the well"),
         Field("air_temp", "temperature", "temperature of the air between"),
         Field("sea_level_altitude", "length", "altitude of a station that reports pressure reduced to sea level")),
        None,
    ),
    (
        "water",
        WaterDensity,
        "density of the water and gravity",
        (Field("temp", "temperature", "one temperature for the whole series"),
         Field("density", "density", "density as measured"),
         Field("latitude", "angle", "for gravity"),
         Field("altitude", "length", "for gravity")),
        None,
    ),
    (
        "barometric efficiency",
        BarometricEfficiency,
        "the effect of the air pressure on the level, taken out",
        (Field("efficiency", "ratio", "share of a change of pressure that shows in the level", required=True),
         Field("method", "text", "how the figure was found", required=True),
         Field("series", "text", "the barometer's series", required=True)),
        None,
    ),
    (
        "onto the tape",
        OntoTape,
        "the series pulled onto the check readings",
        (Field("share", "choice", "how drift between checks is shared out", required=True, choices=SHARES),
         Field("handled", "when", "times of handling between checks", many=True),
         Field("walk", "length", "how far the offset wanders in a year"),
         Field("u_point", "length", "standard uncertainty of one logged value"),
         Field("drift_share_max", "ratio", "a stretch with more drift than this share of its range is refused")),
        _handled_at_moments,
    ),
    (
        "quality tests",
        QualityTests,
        "tests of the corrected series",
        (Field("gap", "duration", "longest time between two rows"),
         Field("deepest", "length", "deepest level that is usual in this well"),
         Field("shallowest", "length", "shallowest"),
         Field("sensor_deepest", "length", "deepest level the logger can show"),
         Field("sensor_shallowest", "length", "shallowest"),
         Field("usual", "form", "what is usual in a month", many=True, form=Form(
             "month", MonthRange, "what is usual in a month",
             (Field("month", "choice", "its number", required=True, choices=tuple(map(str, range(1, 13)))),
              Field("shallowest", "length", "shallowest level", required=True),
              Field("deepest", "length", "deepest level", required=True)))),
         Field("spike_suspect", "length", "a point this far off the mean of its neighbours is suspect"),
         Field("spike_fail", "length", "and this far, it fails"),
         Field("rate_deviations", "ratio", "a step of more standard deviations is suspect"),
         Field("rate_window", "duration", "time before, over which they are taken"),
         Field("flat_within", "length", "values closer than this are the same"),
         Field("flat_suspect", "ratio", "as many equal values are suspect"),
         Field("flat_fail", "ratio", "as many fail"),
         Field("neighbour", "text", "series of a well that moves alike"),
         Field("neighbour_suspect", "length", "a difference beyond this is suspect"),
         Field("neighbour_fail", "length", "beyond this it fails"),
         Field("hampel", "flag", "run the Hampel identifier too")),
        None,
    ),
)  # fmt: skip

TREATMENTS: dict[str, Form] = {
    name: Form(name, makes, help_, fields, check) for name, makes, help_, fields, check in _FORMS
}
"""Name -> form of every treatment, in the order in which they are applied."""
_NAMES: dict[Any, str] = {form.makes: name for name, form in TREATMENTS.items()}


def treatment_name(treatment: Treatment) -> str:
    """What the treatment is called.

    Parameters
    ----------
    treatment
        One treatment of a series.

    Returns
    -------
    str
        A key of `TREATMENTS`.

    Example
    -------
    >>> treatment_name(SetAside("", "", "in air"))
    'set aside'
    """
    return _NAMES[type(treatment)]


def treatment_body(treatment: Treatment) -> dict[str, Any]:
    """The fields of a treatment as an entry carries them."""
    return TREATMENTS[treatment_name(treatment)].body(treatment)
