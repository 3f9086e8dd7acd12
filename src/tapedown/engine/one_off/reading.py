"""One reading set with everything around it in one plain mapping: read it and work it out, or name what is wrong.

The same mapping serves the one-off file of the command line and the field sheet, which asks for it at every keystroke.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from tapedown.engine.checks.at_the_well import NOTHING, hours_since_pump, level_use, rules_of, said_of
from tapedown.engine.context import Calibrated, ReadingContext
from tapedown.engine.methods.registry import reduce_readings
from tapedown.values import gear, wells
from tapedown.values.forms import TIME, Problem
from tapedown.values.reading_forms import readings_from_body
from tapedown.values.readings import Readings
from tapedown.values.results import Reduction
from tapedown.values.seen import NOTHING_SEEN, SEEN
from tapedown.values.settings import Settings, checked_settings

FACTS = {**wells.FORMS, **gear.FORMS}
"""The facts a reading rests on; not every kind of entry, which a phone need not load."""
GROUPS = ("point", "position", "construction", "settings", "gear", "calibrations")
"""Optional groups beside the reading itself."""
PLAIN = ("length_unit", "method", "when", "seen", "vertical_datum")
"""Fields beside the method's own."""


class Once(NamedTuple):
    """What came of it: the reduction, or None with the problems, and the settings in force."""

    value: Reduction | None
    problems: tuple[Problem, ...]
    settings: Settings


class Given(NamedTuple):
    """A set read from a mapping, None when it cannot be, with its context and the problems found."""

    read: Readings | None
    context: ReadingContext
    problems: tuple[Problem, ...]


class _MappingReader:
    """Reads groups of a mapping, gathering problems with their places."""

    def __init__(self, given: Mapping[str, Any], length_unit: str) -> None:
        self.given, self.length_unit = given, length_unit
        self.problems: list[Problem] = []

    def group(self, kind: str, name: str) -> Any:
        """The value of an optional group, None when it is left out or wrong."""
        return self._read(kind, self.given.get(name), name)

    def listed(self, kind: str, name: str) -> list[tuple[str, Any]]:
        """The values of a list of groups, each with its `on`.

        Parameters
        ----------
        kind
            Kind of fact, as in `FACTS`.
        name
            Key of the list in the mapping; a single group counts as a list of one.

        Returns
        -------
        list
            Pairs of day ("" when it is left out or wrong) and value; a group that is wrong is left out and its problems
            are kept.
        """
        rows = self.given.get(name, [])
        dated = []
        for number, row in enumerate(rows if isinstance(rows, (list, tuple)) else [rows], 1):
            plain = {k: v for k, v in row.items() if k != "on"} if isinstance(row, Mapping) else row
            value = self._read(kind, plain, f"{name}[{number}]")
            if value is not None:
                dated.append((self.day(row.get("on"), f"{name}[{number}].on"), value))
        return dated

    def day(self, given: Any, place: str) -> str:
        """A date or time, "" when it is left out or wrong."""
        value, problems = TIME.read({"when": given}, self.length_unit)
        self.problems += [problem._replace(place=place) for problem in problems]
        return str(value or "")

    def settings(self) -> Settings:
        """The settings changed in the mapping.

        Returns
        -------
        Settings
            Defaults alone where one change is wrong; the problem is kept.
        """
        try:
            changes = {name: str(value) for name, value in dict(self.given.get("settings", {})).items()}
            return Settings(self.length_unit, checked_settings(changes))
        except (ValueError, TypeError) as error:
            self.problems.append(Problem("settings", str(error), "the settings and their defaults are in the docs"))
            return Settings(self.length_unit)

    def _read(self, kind: str, given: Any, place: str) -> Any:
        if given is None:
            return None
        if not isinstance(given, Mapping):
            self.problems.append(Problem(place, f"{given!r} is not a group of fields", f"begin it with [{place}]"))
            return None
        value, problems = FACTS[kind].read(given, self.length_unit, place)
        self.problems += problems
        return value


def reduce_once(given: Mapping[str, Any]) -> Once:
    """Work out one reading set from a plain mapping.

    Parameters
    ----------
    given
        Mapping with length_unit ("ft" or "m"), method and the method's fields, and optionally: when, seen,
        vertical_datum, the groups point, position, construction, settings, and lists gear and calibrations (each
        calibration with `on`, the day it was made).

    Returns
    -------
    Once
        The reduction, its lengths in m; None with the problems where anything could not be read.

    Example
    -------
    >>> once = reduce_once({"method": "chalked tape", "readings": [{"hold": "14.99", "cut": "1.28"}]})
    >>> round(once.value.main.value_m / 0.3048, 2)
    13.71
    """
    read, context, problems = read_once(given)
    if read is None or problems:
        return Once(None, problems, context.settings)
    return Once(reduce_readings(read.method, read.read, context), (), context.settings)


def seen_once(given: Mapping[str, Any]) -> dict[str, Any]:
    """What follows from what goes on at a well: what a level stands for, what to say, what it forbids.

    Parameters
    ----------
    given
        Mapping with length_unit ("ft" or "m"), settings, when and the group seen, each optional.

    Returns
    -------
    dict
        Plain data: problems, and seen with level, hours_since_pump (h or None), findings and forbids; seen is None
        where the group could not be read.

    Example
    -------
    >>> seen_once({"seen": {"pump": "running"}})["seen"]["level"]
    'pumping level'
    """
    unit = str(given.get("length_unit", "ft"))
    reader = _MappingReader(given, unit)
    settings, when = reader.settings(), reader.day(given.get("when"), "when")
    seen, problems = SEEN.read(given.get("seen") or {}, unit)
    wrong = [problem._asdict() for problem in (*reader.problems, *problems)]
    if seen is None:
        return {"seen": None, "problems": wrong}
    rules = rules_of(seen, when, settings)
    forbids = [
        {"fact": rule.fact, "advice": rule.advice, "level": rule.level == NOTHING}
        for rule in rules
        if rule.level == NOTHING or not rule.bottom
    ]
    account = {
        "level": level_use(seen, when, settings),
        "hours_since_pump": hours_since_pump(seen, when),
        "findings": [finding._asdict() for finding in said_of(seen, when, settings)],
        "forbids": forbids,
    }
    return {"seen": account, "problems": wrong}


def read_once(given: Mapping[str, Any]) -> Given:
    """The set, the context around it and what is wrong with them.

    Parameters
    ----------
    given
        The mapping of `reduce_once`.

    Returns
    -------
    Given
        The context holds what could be read, whatever problems there are; an unknown length_unit leaves everything else
        unread.
    """
    unit = str(given.get("length_unit", "ft"))
    if unit not in ("ft", "m"):
        wrong = Problem("length_unit", f"{unit!r} is neither ft nor m", "write ft or m")
        return Given(None, ReadingContext(), (wrong,))
    fields = {k: v for k, v in given.items() if k not in PLAIN and k not in GROUPS}
    body = {"method": given.get("method", ""), "read": fields, "seen": given.get("seen")}
    read, problems = readings_from_body(body, unit)
    reader = _MappingReader(given, unit)
    context = _context(reader, read)
    return Given(read, context, (*problems, *reader.problems))


def _context(reader: _MappingReader, read: Readings | None) -> ReadingContext:
    position = reader.group("position", "position")
    datum = position.vertical_datum if position else ""
    return ReadingContext(
        settings=reader.settings(),
        when=reader.day(reader.given.get("when"), "when"),
        point=reader.group("measuring point", "point"),
        position=position,
        construction=reader.group("construction", "construction"),
        gear={gear.serial: gear for _, gear in reader.listed("gear", "gear")},
        calibrations={c.serial: Calibrated(on, c) for on, c in reader.listed("calibration", "calibrations")},
        seen=read.seen if read else NOTHING_SEEN,
        vertical_datum=str(reader.given.get("vertical_datum", datum)),
    )
