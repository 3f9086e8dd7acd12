"""Forms: which fields a fact has, in words people write, and how they are read into values.

One table per kind of fact serves the file a person writes, the prompts, the record's bodies, the checks with their
mends and the printed documentation. Reading never raises for bad input: it returns the problems, each with its place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from tapedown.values.days import check_time, clock_text
from tapedown.values.units import UNITS, from_si
from tapedown.values.written import Written, written

SINCE_WORDS = ("lately", "long ago", "not known")
"""How long ago, where nobody can give a time."""


class Field(NamedTuple):
    """One field.

    name      key in the file and in the body; also the attribute of the value
    kind      "text", "choice", "flag", "when", "since", "form", or a quantity of values.units
    help      what to write, one line
    required  whether leaving it out is a problem
    many      a list of them
    choices   for "choice"
    form      the Form of the group, for "form" (Any: two value classes that name each other defeat the checker)
    metric    unit in a metre network when it is not m; `feet` the unit in a foot network when it is not ft
    asked     "first" before anything is read, "moving" the same where the water moves, "" with the rest, "seldom" only
              when it is wanted, "never" for what only entries of earlier versions bring with them
    gear      types of gear whose serial number it takes (values.gear.GEAR_TYPES); () for a field that names none
    possible  least and greatest number that can be, in the unit the engine counts in; None where there is no end to it
    """

    name: str
    kind: str
    help: str
    required: bool = False
    many: bool = False
    choices: tuple[str, ...] = ()
    form: Any = None
    metric: str = ""
    feet: str = ""
    asked: str = ""
    gear: tuple[str, ...] = ()
    possible: tuple[float, float] | None = None

    @property
    def before(self) -> bool:
        """Whether it is asked before anything is read: asked first, needed for it, or gear that is taken in hand."""
        return self.asked == "first" or bool(self.gear) or (self.required and not self.many)

    def unit(self, length_unit: str) -> str:
        """The unit taken when none is written."""
        own = self.feet if length_unit == "ft" else self.metric
        return own or (length_unit if self.kind == "length" else next(iter(UNITS[self.kind])))


class Problem(NamedTuple):
    """A place in what was written, what is wrong there, and the mend."""

    place: str
    message: str
    mend: str


class Form(NamedTuple):
    """A kind of fact: its name, the value it makes, its fields and checks across fields.

    check, when given, takes the value made and returns the problems across its fields.
    older, when given, turns a body of an earlier version into one of today's.
    """

    name: str
    makes: Callable[..., Any]
    help: str
    fields: tuple[Field, ...]
    check: Callable[[Any], Sequence[Problem]] | None = None
    older: Callable[[Mapping[str, Any]], Mapping[str, Any]] | None = None

    @property
    def asked(self) -> tuple[Field, ...]:
        """The fields that are asked for."""
        return tuple(field for field in self.fields if field.asked != "never")

    def read(self, given: Mapping[str, Any], length_unit: str, place: str = "") -> tuple[Any | None, list[Problem]]:
        """Read what a person or an entry wrote into the value of this form.

        Parameters
        ----------
        given
            What was written, by name of field; a body of an earlier version as well.
        length_unit
            "ft" or "m": the unit of a length that has none of its own.
        place
            Where it stands in what was written, for the problems; "" for the whole.

        Returns
        -------
        tuple
            The value and the problems, each with its place; the value is None when there are problems.

        Example
        -------
        >>> TIME.read({"when": "2026-05-14 10:20"}, "m")
        ('2026-05-14T10:20', [])
        >>> TIME.read({"wenn": "2026-05-14"}, "m")[1][0].mend
        'the fields are: when'
        """
        given = given if self.older is None else self.older(given)
        names = {field.name for field in self.fields}
        problems = [
            Problem(inside(place, key), f"no field {key!r} in {self.name}", _did_you_mean(key, self.fields))
            for key in given
            if key not in names
        ]
        values: dict[str, Any] = {}
        for field in self.fields:
            values[field.name], wrong = _read_field(
                field, given.get(field.name), length_unit, inside(place, field.name)
            )
            problems += wrong
        if problems:
            return None, problems
        value = self.makes(**values)
        across = [Problem(inside(place, at), message, mend) for at, message, mend in self._checked(value)]
        return (None if across else value), across

    def _checked(self, value: Any) -> Sequence[Problem]:
        return self.check(value) if self.check is not None else ()

    def body(self, value: Any) -> dict[str, Any]:
        """The value as a body: only what was given, numbers as text with their units."""
        written_out = {field.name: _plain(field, getattr(value, field.name)) for field in self.fields}
        return {name: plain for name, plain in written_out.items() if plain not in (None, "", [], {}, False)}


def inside(place: str, name: str) -> str:
    """The name of a field within a place: "readings[1].hold"."""
    return f"{place}.{name}" if place and name else place or name


def _did_you_mean(key: str, fields: Sequence[Field]) -> str:
    names = [field.name for field in fields]
    near = [name for name in names if name.startswith(key[:4]) or key in name]
    return f"did you mean {near[0]!r}?" if near else f"the fields are: {', '.join(names)}"


def _read_field(field: Field, given: Any, length_unit: str, place: str) -> tuple[Any, list[Problem]]:
    if given is None or given == "" or (given == [] and not field.required):
        if field.required:
            return None, [Problem(place, f"{field.name} is missing", field.help)]
        return _empty(field), []
    if not field.many:
        return _read_one(field, given, length_unit, place)
    listed = given if isinstance(given, (list, tuple)) else [given]
    if not listed:
        return (), [Problem(place, f"{field.name} is empty", field.help)]
    read = [_read_one(field, item, length_unit, f"{place}[{i}]") for i, item in enumerate(listed, 1)]
    return tuple(value for value, _ in read), [problem for _, wrong in read for problem in wrong]


def _empty(field: Field) -> Any:
    if field.many:
        return ()
    if field.kind == "form" and not any(inner.required for inner in field.form.fields):
        return field.form.makes(*(_empty(inner) for inner in field.form.fields))
    return {"text": "", "choice": "", "when": "", "since": "", "flag": False}.get(field.kind)


def _read_one(field: Field, given: Any, length_unit: str, place: str) -> tuple[Any, list[Problem]]:
    if field.kind == "form":
        if not isinstance(given, Mapping):
            return None, [Problem(place, f"{given!r} is not a group of fields", field.help)]
        form: Form = field.form
        return form.read(given, length_unit, place)
    reader: Callable[[Field, Any, str], Any] = _READERS[field.kind if field.kind in _READERS else "quantity"]
    try:
        return reader(field, given, length_unit), []
    except ValueError as error:
        return None, [Problem(place, str(error), field.help)]


def _read_text(_field: Field, given: Any, _unit: str) -> str:
    if isinstance(given, (Mapping, list, tuple)):
        raise ValueError(f"{given!r} is not text")  # noqa: TRY004
    text = str(given)
    if any(ord(c) < 32 and c not in "\n\t" for c in text):
        raise ValueError("text holds control characters; retype it")
    if any(0xD800 <= ord(c) <= 0xDFFF for c in text):
        raise ValueError("text holds half a character (a broken copy and paste); retype it")
    return text.strip()


def _read_choice(field: Field, given: Any, _unit: str) -> str:
    word = str(given).strip()
    if word not in field.choices:
        raise ValueError(f"{word!r} is not one of: {', '.join(field.choices)}")
    return word


def _read_flag(_field: Field, given: Any, _unit: str) -> bool:
    words = {"true": True, "yes": True, "false": False, "no": False}
    if str(given).strip().lower() not in words:
        raise ValueError(f"{given!r} is neither yes nor no")
    return words[str(given).strip().lower()]


def _read_when(_field: Field, given: Any, _unit: str) -> str:
    text = str(given).strip()  # a date or time of a TOML file says itself in ISO form
    if text[10:11] == " ":
        text = text[:10] + "T" + text[11:]
    try:
        check_time(text)
    except ValueError as error:
        hint = "write 2026-05-14T10:20+01:00, or 2026-05-14 when the time is not known"
        raise ValueError(f"{text!r} is not a time ({error}); {hint}") from None
    return text


def _read_since(_field: Field, given: Any, _unit: str) -> str:
    """A time of day, a date or time, a duration with its unit, or one of the words for what nobody can time."""
    text = str(given).strip()
    if text in SINCE_WORDS:
        return text
    try:
        if ":" in text and len(text) <= len("09:40"):
            return clock_text(text)
        if text[4:5] == "-":
            return _read_when(_field, given, _unit)
        if text.strip("0123456789.,") != "":
            return str(written(text, "", "duration"))
    except ValueError:
        pass
    raise ValueError(
        f"{text!r} tells no time; write 09:40, 2026-05-14, 40 min, 3 h or one of: {', '.join(SINCE_WORDS)}"
    )


def _read_quantity(field: Field, given: Any, length_unit: str) -> Written:
    number = written(given, field.unit(length_unit), field.kind)
    if field.possible is not None and not field.possible[0] <= number.si <= field.possible[1]:
        low, high = (f"{from_si(end, number.unit, field.kind):.4g}" for end in field.possible)
        raise ValueError(f"{number} cannot be: it lies between {low} and {high} {number.unit}")
    return number


_READERS: dict[str, Callable[[Field, Any, str], Any]] = {
    "text": _read_text,
    "choice": _read_choice,
    "flag": _read_flag,
    "when": _read_when,
    "since": _read_since,
    "quantity": _read_quantity,
}


def _plain(field: Field, value: Any) -> Any:
    if field.many:
        single = field._replace(many=False)
        return [_plain(single, item) for item in value]
    if value is None or field.kind in {"text", "choice", "when", "since", "flag"}:
        return value
    return field.form.body(value) if field.form is not None else str(value)


TIME = Form("time", lambda when: when, "a time", (Field("when", "when", "2026-05-14 10:20, or the date alone"),))
"""A time by itself, as a form: its `read` gives the time as entries carry it, or the problem."""
