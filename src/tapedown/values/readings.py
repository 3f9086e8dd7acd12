"""Reading sets: what was read at the well by one method, every repeat, as written.

A set holds no computed value. The engine makes one from it, again whenever asked.
"""

from __future__ import annotations

from typing import NamedTuple

from tapedown.values.seen import NOTHING_SEEN, Seen
from tapedown.values.written import Written


class HoldCut(NamedTuple):
    """Tape value held at the measuring point and tape value at the wetted line."""

    hold: Written
    cut: Written


class OilWater(NamedTuple):
    """Depths below the measuring point to the oil surface and to the oil-water interface."""

    oil: Written
    water: Written


class Hanging(NamedTuple):
    """What is needed for heat and stretch of a hanging tape, beside the tape's own figures."""

    tape_temp: Written | None = None
    surface_temp: Written | None = None
    temp_gradient: Written | None = None
    water_at: Written | None = None


class WeightedTape(NamedTuple):
    """Total depth: tape values at the measuring point with the weight standing on the bottom."""

    readings: tuple[Written, ...]
    tape: str = ""
    weight: str = ""
    weight_interval: Written | None = None
    bottom: str = ""
    hanging: Hanging = Hanging()
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class ChalkedTape(NamedTuple):
    """Depth to water: pairs of hold and cut."""

    readings: tuple[HoldCut, ...]
    tape: str = ""
    weight: str = ""
    hanging: Hanging = Hanging()
    apart: Written | None = None
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class ElectricTape(NamedTuple):
    """Depth to water: tape values at the measuring point when the circuit closes."""

    readings: tuple[Written, ...]
    tape: str = ""
    marker_above_splice: Written | None = None
    marker_to_sensor: Written | None = None
    hanging: Hanging = Hanging()
    apart: Written | None = None
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class AirLine(NamedTuple):
    """Depth to water from the pressure that keeps an air line empty.

    The line is known either by a tape reading taken together with the gauge (constant_depth with constant_gauge) or by
    its length below the measuring point.
    """

    readings: tuple[Written, ...] = ()
    readings_as_water: tuple[Written, ...] = ()
    constant_depth: Written | None = None
    constant_gauge: Written | None = None
    constant_gauge_as_water: Written | None = None
    line_length: Written | None = None
    gauge: str = ""
    gauge_error: Written | None = None
    water_temp: Written | None = None
    air_temp: Written | None = None
    weight_of_air: bool = False
    apart: Written | None = None
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class FlowingGauge(NamedTuple):
    """Head of a flowing well, shut in, by pressure gauge. gauge_above_point is negative when the gauge sits lower."""

    readings: tuple[Written, ...]
    gauge_above_point: Written | None = None
    gauge: str = ""
    gauge_error: Written | None = None
    gauge_range: Written | None = None
    shut_in: Written | None = None
    water_temp: Written | None = None
    apart: Written | None = None
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class Standpipe(NamedTuple):
    """Head of a flowing well, shut in, as the level in a tube above the measuring point."""

    readings: tuple[Written, ...]
    shut_in: Written | None = None
    apart: Written | None = None
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class LoggerCheck(NamedTuple):
    """What a logger in the well shows now, beside the tape.

    With taped_depth the hanging depth follows; with hanging_depth the water depth; with both, their difference.
    """

    readings: tuple[Written, ...]
    type: str = "vented"
    barometer: Written | None = None
    water_temp: Written | None = None
    water_density: Written | None = None
    hanging_depth: Written | None = None
    taped_depth: Written | None = None
    record_range: Written | None = None
    barometer_at_land_surface: bool = False
    logger: str = ""
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class OilOnWater(NamedTuple):
    """Water level under floating oil: oil surface, interface, relative density of the oil."""

    readings: tuple[OilWater, ...]
    relative_density: Written | None = None
    tape: str = ""
    apart: Written | None = None
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class Reported(NamedTuple):
    """A depth or elevation handed on by others: what they wrote, what it counts from, how they say it was read."""

    readings: tuple[Written, ...]
    reference: str = "below land surface"
    what: str = "water level"
    how: str = ""
    u: Written | None = None
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


ReadingSet = (
    WeightedTape | ChalkedTape | ElectricTape | AirLine | FlowingGauge | Standpipe | LoggerCheck | OilOnWater | Reported
)


class Readings(NamedTuple):
    """A reading set in its place: the method, what was read, the visit it belongs to, what went on meanwhile.

    visit  id of the visit's entry, "" when it came without one (an old table)
    seen   noted with the set itself; where it says nothing the visit's holds
    """

    method: str
    read: ReadingSet
    visit: str = ""
    seen: Seen = NOTHING_SEEN


class Visit(NamedTuple):
    """One stop at one well: who, what goes on, whether the point was looked at, how the gear was cleaned."""

    people: tuple[str, ...] = ()
    seen: Seen = NOTHING_SEEN
    point_checked: str = ""
    cleaning: str = ""
    remarks: str = ""


class Document(NamedTuple):
    """A photo or paper: its bytes are kept once under their sha256."""

    sha256: str
    media_type: str
    name: str
    caption: str


class Review(NamedTuple):
    """What a second person says of an entry."""

    entry: str
    quality: str
    why: str


class Import(NamedTuple):
    """A table taken in: which bytes by which mapping, and how many of its lines became what."""

    file: str
    sha256: str
    mapping_sha256: str
    entered: Written
    already_there: Written
    set_aside: Written
    entries: Written


class Strike(NamedTuple):
    """Withdraws an entry without replacing it; the reason stands in the entry."""

    remarks: str
