"""What a mapping file says: which columns of somebody's table mean what. Values only; `mapping_file` reads them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from tapedown.values.seen import NOTHING_SEEN, Seen


class Cell(NamedTuple):
    """Where a field comes from: a column, or the same text for every line.

    column    name of the column, "" when `always` holds
    always    text for every line
    unit      unit of the numbers, when not the mapping's
    decimals  decimals the column was written with, for spreadsheets that lose the zeros; None: as it stands
    blanks    further texts that mean nothing was written
    words     their words -> ours; None: the text as it stands
    means     of an uncertainty: "standard uncertainty" or "half-width"
    """

    column: str = ""
    always: str = ""
    unit: str = ""
    decimals: int | None = None
    blanks: frozenset[str] = frozenset()
    words: Mapping[str, str] | None = None
    means: str = ""


class Meaning(NamedTuple):
    """What a word of theirs means.

    seen        what goes on at the well
    note        said in the reading's remarks
    no_reading  why there is no reading: the line becomes a visit that says so
    set_aside   why the line is not taken in at all
    """

    seen: Seen = NOTHING_SEEN
    note: str = ""
    no_reading: str = ""
    set_aside: str = ""


class ClockColumns(NamedTuple):
    """When a line was measured.

    date, time     columns; time is "" when the date column holds both
    formats        strptime formats, () for ISO 8601
    zone           IANA name, "UTC", an offset such as "-08:00", or "written": every cell carries its own
    false_zone     a zone written in the cells is wrong; the clock is `zone`
    unknown_times  times of day, as written, that stand for "not known"
    """

    date: str
    time: str = ""
    formats: tuple[str, ...] = ()
    zone: str = ""
    false_zone: bool = False
    unknown_times: frozenset[str] = frozenset()


class ReadingPart(NamedTuple):
    """What was read: a depth or elevation, or tape values at the point and at the water.

    positive        "down" or "up": which way a depth grows
    vertical_datum  of elevations
    no_cut          values of at_water that say the tape showed the depth itself
    instead         texts standing in the place of the number -> what they mean
    """

    value: Cell | None
    positive: str
    reference: str
    what: str
    vertical_datum: str
    at_point: Cell | None
    at_water: Cell | None
    no_cut: frozenset[str]
    how: Cell | None
    u: Cell | None
    remarks: Cell | None
    instead: Mapping[str, Meaning]


class Status(NamedTuple):
    """A column that says what was found at the well, and what its words mean."""

    column: str
    words: Mapping[str, Meaning]


class PointPart(NamedTuple):
    """How high the measuring point stood: a height with its sign stated, or two elevations.

    positive  which way a height counts as positive: "above land surface" or "below land surface"
    """

    height: Cell | None
    positive: str
    elevation: Cell | None
    ground: Cell | None
    name: Cell
    description: Cell
    u_height: Cell | None
    why: Cell | None = None


class TableMapping(NamedTuple):
    """A mapping file, read and checked.

    makes          "readings", "wells", "points", "screens" or "casings"
    sha256         of the mapping file
    blanks         texts that mean nothing was written, in every column
    code           the column (or constant) with the well's code
    new_wells      wells that are not in the record yet are entered with their code alone
    fields         kind of entry -> its fields: "well", "position", "construction", "screen", "casing"
    """

    makes: str
    sha256: str
    length_unit: str
    decimal_comma: bool
    blanks: frozenset[str]
    header_row: int
    sheet: str
    delimiter: str
    code: Cell
    new_wells: bool
    clock: ClockColumns | None
    reading: ReadingPart | None
    status: Status | None
    point: PointPart | None
    fields: Mapping[str, Mapping[str, Cell | tuple[Cell, ...]]]
