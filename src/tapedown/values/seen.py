"""What goes on at a well while somebody stands there: facts that can be seen, heard or asked, never a state to pick.

What a reading taken then stands for follows from the facts by `engine.checks.at_the_well`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from tapedown.values.days import day_number
from tapedown.values.forms import SINCE_WORDS, Field, Form, Problem
from tapedown.values.old_words import OLD_WORDS, WORD_FIELDS
from tapedown.values.units import known_unit
from tapedown.values.written import Written, written

STILL, RISES, FALLS, RUNS_OVER, NOT_REACHED, NOT_LOOKED = (
    "stands still",
    "rises",
    "falls",
    "runs over",
    "not reached",
    "not looked for",
)
WATER = (STILL, RISES, FALLS, RUNS_OVER, NOT_REACHED, NOT_LOOKED)
"""What the water does while it is read."""
NO_PUMP, AT_REST, RUNNING, PUTTING_IN = "none", "at rest", "running", "putting water in"
PUMP = (NO_PUMP, AT_REST, RUNNING, PUTTING_IN)
"""What a pump in this well does."""
NONE_SEEN, DRAWING, NEAR_PUTTING_IN, NEAR_AT_REST, TIDE = (
    "none seen",
    "drawing",
    "putting in",
    "at rest",
    "tide or stream",
)
NEAR_BY = (NONE_SEEN, DRAWING, NEAR_PUTTING_IN, NEAR_AT_REST, TIDE)
"""What other wells, works and waters near by do."""
CLEAR, OIL, ICE, FOAM, FALLING_IN, HUNG_UP = "clear", "oil", "ice", "foam", "water falling in", "tape hung up"
HOLE = (CLEAR, OIL, ICE, FOAM, FALLING_IN, HUNG_UP)
"""What is met in the hole."""
LATELY, LONG_AGO, NOT_KNOWN = SINCE_WORDS
USUAL_REASONS = (
    "no key to the cap",
    "gate shut, nobody there",
    "asked to stay away",
    "could not find it",
    "cover would not open",
    "not safe today",
)
"""Why there is no reading, as people say it; any other words do as well."""
_MINUTES_A_DAY = 1440


class Nearby(NamedTuple):
    """One well, work or water near by: what it does, since when, which it is, how far off, its state."""

    what: str
    since: str = ""
    which: str = ""
    distance: Written | None = None
    state: str = ""


class Seen(NamedTuple):
    """What goes on at a well.

    quiet          "as usual: nothing going on", said in one piece
    water          words of WATER: what the water does while it is read
    depth_reached  water not reached: how far the tape went, below the measuring point
    pump           a word of PUMP, "" when nobody said
    pump_since     since when it does that: a time, a duration or a word of SINCE_WORDS
    near_by        other wells, works and waters
    in_the_hole    words of HOLE
    oil_thickness, hung_up_at  how thick the oil is; where the tape hung up, below the measuring point
    no_reading     why there is no reading, in the person's words
    gone           the well is no longer there
    as_written     words of an entry of an earlier version: the facts were made of them (`old_words`)
    """

    quiet: bool = False
    water: tuple[str, ...] = ()
    depth_reached: Written | None = None
    pump: str = ""
    pump_since: str = ""
    near_by: tuple[Nearby, ...] = ()
    in_the_hole: tuple[str, ...] = ()
    oil_thickness: Written | None = None
    hung_up_at: Written | None = None
    no_reading: str = ""
    gone: bool = False
    as_written: tuple[str, ...] = ()

    @property
    def moves(self) -> bool:
        """Whether the water rises or falls while it is read."""
        return RISES in self.water or FALLS in self.water

    @property
    def nothing_noted(self) -> bool:
        """Whether nobody said anything of what goes on."""
        return self == NOTHING_SEEN

    @property
    def something_goes_on(self) -> bool:
        """Whether more is said than that the well is as usual.

        Returns
        -------
        bool
            False for what is no news: water that stands still or was not looked for, a clear hole, no pump or one at
            rest that nobody timed, nothing seen near by.
        """
        calm = self._replace(quiet=False, as_written=())
        near = tuple(one for one in calm.near_by if one.what != NONE_SEEN)
        words = (set(calm.water) - {STILL, NOT_LOOKED}) or (set(calm.in_the_hole) - {CLEAR})
        return bool(words or near or calm.pump in {RUNNING, PUTTING_IN} or calm.pump_since or calm.no_reading
                    or calm.gone or calm.depth_reached or calm.hung_up_at)  # fmt: skip

    @property
    def explains_no_reading(self) -> bool:
        """Whether it is a reason that nothing was read."""
        return self.something_goes_on or NOT_LOOKED in self.water


NOTHING_SEEN = Seen()

_NEARBY = Form(
    "near by",
    Nearby,
    "what draws, puts in or moves water near by",
    (
        Field("what", "choice", "what it does", required=True, choices=NEAR_BY),
        Field("since", "since", "since when: 09:40, a day, 40 min, or lately, long ago, not known"),
        Field("which", "text", "which one"),
        Field("distance", "length", "how far off"),
        Field("state", "text", "of tide or stream: rising, high, low, in flood"),
    ),
)


def _known_words(seen: Seen) -> Sequence[Problem]:
    return [
        Problem("as_written", f"{word!r} is no word of an earlier version", "say it by the fields beside this one")
        for word in seen.as_written
        if word not in OLD_WORDS
    ]


SEEN = Form(
    "seen",
    Seen,
    "what goes on at the well",
    (
        Field("quiet", "flag", "yes for: as usual, nothing going on"),
        Field("water", "choice", "what the water does while you read", many=True, choices=WATER),
        Field("depth_reached", "length", "water not reached: how far the tape went below the measuring point"),
        Field("pump", "choice", "a pump in this well", choices=PUMP),
        Field("pump_since", "since", "since when: 09:40, a day, 40 min, or lately, long ago, not known"),
        Field("near_by", "form", "other wells, works or waters near by", many=True, form=_NEARBY),
        Field("in_the_hole", "choice", "what you meet in the hole", many=True, choices=HOLE),
        Field("oil_thickness", "length", "how thick the oil is"),
        Field("hung_up_at", "length", "where the tape hung up below the measuring point"),
        Field("no_reading", "text", f"why there is no reading: {', '.join(USUAL_REASONS)}, or in your words"),
        Field("gone", "flag", "yes when the well is no longer there: rounds leave it out"),
        Field("as_written", "text", "words of an earlier version", many=True, asked="never"),
    ),
    _known_words,
)
SEEN_FIELD = Field("seen", "form", SEEN.help, form=SEEN)


def with_seen(body: Mapping[str, Any]) -> Mapping[str, Any]:
    """A body of a visit or a reading set with today's group; the words of an earlier version stand in `as_written`.

    Parameters
    ----------
    body
        Body as an entry carries it, of this version or an earlier one.

    Returns
    -------
    Mapping
        The body itself where it has nothing of an earlier version, or words that cannot be read; else a new one. A
        group that is there already wins over the words.

    Example
    -------
    >>> with_seen({"conditions": ["dry"], "depth_reached": "61.2 ft"})
    {'seen': {'water': ['not reached'], 'as_written': ['dry'], 'depth_reached': '61.2 ft'}}
    """
    words = body.get("conditions", [])
    older = [name for name in WORD_FIELDS if name in body]
    if not older or not isinstance(words, (list, tuple)) or not all(isinstance(word, str) for word in words):
        return body
    rest = {name: value for name, value in body.items() if name not in WORD_FIELDS}
    from_words = {**_from_words(words), **_beside_words(body, words)}
    given = rest.get("seen")
    return {**rest, "seen": given if given else from_words} if from_words or given else rest


def facts_of_words(older: Mapping[str, Any]) -> str:
    """What fields of an earlier version are today, as a person writes it in a file.

    Parameters
    ----------
    older
        Fields of an earlier version by name, as an entry carries them.

    Returns
    -------
    str
        One line of TOML; "" when they say nothing.

    Example
    -------
    >>> facts_of_words({"conditions": ["pumping"]})
    'seen = { pump = "running" }'
    """
    facts = dict(with_seen(older).get("seen", {}))
    today = {name: value for name, value in facts.items() if name != "as_written"}
    return f"seen = {_inline(today)}" if today else ""


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join([f"{name} = {_inline(one)}" for name, one in value.items()]) + " }"
    if isinstance(value, list):
        return "[" + ", ".join([_inline(one) for one in value]) + "]"
    return str(value).lower() if isinstance(value, bool) else f'"{value}"'


def _from_words(words: Sequence[str]) -> dict[str, Any]:
    facts: dict[str, Any] = {}
    for word in words:
        for name, value in OLD_WORDS.get(word, {}).items():
            if isinstance(value, list):
                facts[name] = [*facts.get(name, []), *(one for one in value if one not in facts.get(name, []))]
            elif name != "pump" or PUMP.index(value) > PUMP.index(facts.get("pump", NO_PUMP)):
                facts[name] = value
    if words:
        facts["as_written"] = list(words)
    return facts


def _beside_words(body: Mapping[str, Any], words: Sequence[str]) -> dict[str, Any]:
    """What an earlier version kept in fields of the visit beside its words."""
    facts = {}
    if reached := body.get("depth_reached"):
        facts["hung_up_at" if "obstructed" in words and "dry" not in words else "depth_reached"] = reached
    if hours := body.get("hours_since_pumping"):
        facts["pump_since"] = str(hours) if " " in str(hours) else f"{hours} h"
        facts["pump"] = RUNNING if "pumping" in words else AT_REST
    return facts


_READ: dict[str, Seen] = {}
_MOST_READ = 4096


def seen_in(body: Mapping[str, Any]) -> Seen:
    """What goes on, by the body of a visit or a reading set.

    The bodies of a network say the same few things again and again: each is read once.

    Parameters
    ----------
    body
        Body as an entry carries it, of this version or an earlier one.

    Returns
    -------
    Seen
        `NOTHING_SEEN` where nothing was noted or it cannot be read.

    Example
    -------
    >>> seen_in({"seen": {"water": ["rises"]}}).moves, seen_in({"remarks": "windy"}).nothing_noted
    (True, True)
    """
    own = {name: body[name] for name in ("seen", *WORD_FIELDS) if body.get(name)}
    if not own:
        return NOTHING_SEEN
    key = repr(own)
    if key not in _READ:
        if len(_READ) >= _MOST_READ:
            _READ.clear()
        facts = with_seen(own).get("seen")
        _READ[key] = (SEEN.read(facts, "m")[0] if isinstance(facts, Mapping) else None) or NOTHING_SEEN
    return _READ[key]


def seen_words(seen: Seen) -> list[str]:
    """What goes on, in short phrases; words of an earlier version as they were written.

    Parameters
    ----------
    seen
        What goes on at the well.

    Returns
    -------
    list
        One phrase a fact, in the order of asking; empty where nothing was noted.

    Example
    -------
    >>> seen_words(Seen(water=("rises",), pump="at rest", pump_since="09:40"))
    ['water rises', 'pump at rest since 09:40']
    """
    if seen.as_written:
        return list(seen.as_written)
    words = ["as usual, nothing going on"] if seen.quiet else []
    words += [f"water {word}{_to(seen.depth_reached) if word == NOT_REACHED else ''}" for word in seen.water]
    if seen.pump:
        words.append("no pump" if seen.pump == NO_PUMP else f"pump {seen.pump}{_since(seen.pump_since)}")
    words += [_near_words(one) for one in seen.near_by]
    for word in seen.in_the_hole:
        size = {OIL: seen.oil_thickness, HUNG_UP: seen.hung_up_at}.get(word)
        words.append(f"{'hole ' if word == CLEAR else ''}{word}{f' {_AT[word]} {size}' if size else ''}")
    if seen.no_reading:
        words.append(f"no reading: {seen.no_reading}")
    return [*words, "the well is gone"] if seen.gone else words


_AT = {OIL: "as thick as", HUNG_UP: "at"}


def _to(depth: Written | None) -> str:
    return f" down to {depth}" if depth else ""


def _since(since: str) -> str:
    if not since:
        return ""
    if since in (LATELY, LONG_AGO):
        return f", {since}"
    if since == NOT_KNOWN:
        return ", since when is not known"
    return f" for {since}" if _duration(since) is not None else f" since {since.replace('T', ' ')}"


def _near_words(one: Nearby) -> str:
    if one.what == NONE_SEEN:
        return "nothing near by"
    parts = [f"near by {one.what}{_since(one.since)}", one.which, f"{one.distance} off" if one.distance else ""]
    return ", ".join(part for part in (*parts, one.state) if part)


def short_facts(seen: Seen) -> tuple[str, ...]:
    """What goes on as words of FACTS, by which wells are found.

    Parameters
    ----------
    seen
        What goes on at the well.

    Returns
    -------
    tuple
        Words of FACTS; what is no news (a clear hole, no pump, none near by) has none.

    Example
    -------
    >>> short_facts(Seen(quiet=True, in_the_hole=("oil",)))
    ('nothing going on', 'oil')
    """
    words = [QUIET] if seen.quiet else []
    words += [f"water {word}" for word in seen.water]
    words += [f"pump {seen.pump}"] if seen.pump not in ("", NO_PUMP) else []
    words += [f"near by {one.what}" for one in seen.near_by if one.what != NONE_SEEN]
    words += [word for word in seen.in_the_hole if word != CLEAR]
    words += ["no reading"] if seen.no_reading else []
    return tuple(words)


QUIET = "nothing going on"
FACTS = (
    QUIET,
    *(f"water {word}" for word in WATER),
    *(f"pump {word}" for word in PUMP if word != NO_PUMP),
    *(f"near by {word}" for word in NEAR_BY if word != NONE_SEEN),
    *(word for word in HOLE if word != CLEAR),
    "no reading",
)
"""Short words for what goes on, in the order of asking."""


def together(visit: Seen, own: Seen) -> Seen:
    """What holds for one reading set: its own facts where it has them, else those of its visit.

    Parameters
    ----------
    visit
        Noted with the visit.
    own
        Noted with the set itself.

    Returns
    -------
    Seen
        Fact by fact; "as usual" is taken from the set alone where it says anything.

    Example
    -------
    >>> found = together(Seen(quiet=True, pump="none"), Seen(water=("rises",)))
    >>> found.water, found.pump, found.quiet
    (('rises',), 'none', False)
    """
    if own == NOTHING_SEEN:
        return visit
    if visit == NOTHING_SEEN:
        return own
    given: list[Any] = [mine if mine not in ("", (), None, False) else theirs for mine, theirs in zip(own, visit)]
    return Seen(*given)._replace(quiet=own.quiet, as_written=(*visit.as_written, *own.as_written))


_SEVERAL = ("water", "near_by", "in_the_hole", "as_written")


def joined(first: Seen, second: Seen) -> Seen:
    """What two people, or two words of one line, say together.

    Parameters
    ----------
    first
        What one says; it wins where only one answer can be kept.
    second
        What the other says.

    Returns
    -------
    Seen
        Lists are joined, each word once; of two pumps the weightier is kept: a running one over one at rest.

    Example
    -------
    >>> joined(Seen(water=("rises",), pump="at rest"), Seen(in_the_hole=("oil",), pump="running")).pump
    'running'
    """
    pumps = sorted((one for one in (first.pump, second.pump) if one), key=PUMP.index)
    given: list[Any] = []
    for name in Seen._fields:
        one, other = getattr(first, name), getattr(second, name)
        given.append(one + tuple(x for x in other if x not in one) if name in _SEVERAL else one or other)
    return Seen(*given)._replace(pump=pumps[-1] if pumps else "")


def hours_between(since: str, when: str) -> float | None:
    """Hours from `since` to `when`.

    Parameters
    ----------
    since
        A duration ("40 min"), a time of day (of the last such time before `when`), a date (its end: at least so long)
        or a time; a time without an offset has that of `when`.
    when
        A date or time, ISO 8601.

    Returns
    -------
    float or None
        Hours, negative where `since` is the later; None where one of the two does not tell.

    Example
    -------
    >>> hours_between("09:40", "2026-05-14T10:20-04:00"), hours_between("3 d", "2026-05-14")
    (0.6666666666666666, 72.0)
    >>> hours_between("lately", "2026-05-14T10:20-04:00") is None
    True
    """
    duration = _duration(since)
    if since in SINCE_WORDS or not since or duration is not None:
        return duration
    if len(since) == 5:
        if "T" not in when:
            return None
        return (_minutes_of_day(when[11:16]) - _minutes_of_day(since)) % _MINUTES_A_DAY / 60
    if not when or ("T" in since and "T" not in when):
        return None
    hours = (_minutes(when, when) - _minutes(since, when)) / 60
    return 0.0 if hours < 0 and since == when[:10] else hours


def spoken_hours(hours: float) -> str:
    """A stretch of time as people say it.

    Parameters
    ----------
    hours
        Length of time, h.

    Returns
    -------
    str
        In minutes below 2 h, in days from 48 h.

    Example
    -------
    >>> spoken_hours(2 / 3), spoken_hours(3.5), spoken_hours(72)
    ('40 min', '3.5 h', '3 d')
    """
    if hours < 2:
        return f"{round(hours * 60)} min"
    return f"{hours:.3g} h" if hours < 48 else f"{hours / 24:.3g} d"


def _duration(since: str) -> float | None:
    number, _, unit = since.partition(" ")
    if not unit or "T" in since or ":" in since:
        return None
    try:
        return written(number, known_unit(unit, "duration"), "duration").si
    except ValueError:
        return None


def _minutes_of_day(clock: str) -> int:
    return int(clock[:2]) * 60 + int(clock[3:5])


def _minutes(text: str, like: str) -> int:
    """Minutes since the first day; a date alone counts to its end; no offset: that of `like`."""
    clock = _minutes_of_day(text[11:16]) if "T" in text else _MINUTES_A_DAY
    return day_number(text) * _MINUTES_A_DAY + clock - _offset(text if _has_offset(text) else like)


def _has_offset(text: str) -> bool:
    return text.endswith("Z") or "+" in text[11:] or "-" in text[11:]


def _offset(text: str) -> int:
    rest = text[11:]
    for sign, way in (("+", 1), ("-", -1)):
        if sign in rest:
            return way * _minutes_of_day(rest[rest.index(sign) + 1 :])
    return 0
