"""What follows from what goes on at a well: what a reading stands for, how good it is, what to do, what cannot be.

One rule a fact, each with its source. The most limiting rule that holds decides what a level stands for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.values import seen as at
from tapedown.values.results import Finding
from tapedown.values.seen import Seen, hours_between
from tapedown.values.settings import Settings

NOT_NOTED = "level, state not noted"
STATIC, RECOVERING, DISTURBED, PUMPING, DEEPER_THAN, NOTHING = (
    "static level",
    "recovering level",
    "disturbed level",
    "pumping level",
    "deeper than",
    "no value",
)
USES = (NOT_NOTED, STATIC, DISTURBED, RECOVERING, PUMPING, DEEPER_THAN, NOTHING)
"""What a level may stand for, the least limiting first."""
COMMON = "common practice, no source"
_TM = "USGS TM 1-A1 GWPD"
_CHALK, _ELECTRIC, _ALL_TAPES = "chalked tape", "electric tape", ("chalked tape", "electric tape")
EQUAL_TIMES = 3
"""Readings at equal times that water on the move asks for (San Joaquin County, CA, doc 600482, read)."""


class Rule(NamedTuple):
    """What one fact says.

    fact    in words
    holds   whether it holds, of what was seen, the time of the reading and the settings
    level   what a level then stands for, "" when the fact alone does not say
    bottom  whether a sounding may stand for the total depth
    doubts  methods whose level it makes doubtful
    advice  what to do or to write down
    source  where the rule comes from
    """

    fact: str
    holds: Callable[[Seen, str, Settings], bool]
    level: str = ""
    bottom: bool = True
    doubts: tuple[str, ...] = ()
    advice: str = ""
    source: str = COMMON


def _does(word: str) -> Callable[[Seen, str, Settings], bool]:
    return lambda seen, _when, _settings: word in seen.water


def _pump(word: str) -> Callable[[Seen, str, Settings], bool]:
    return lambda seen, _when, _settings: seen.pump == word


def _near(*words: str) -> Callable[[Seen, str, Settings], bool]:
    return lambda seen, _when, _settings: any(one.what in words for one in seen.near_by)


def _meets(word: str) -> Callable[[Seen, str, Settings], bool]:
    return lambda seen, _when, _settings: word in seen.in_the_hole


def _rests_lately(seen: Seen, when: str, settings: Settings) -> bool:
    return seen.pump == at.AT_REST and _lately(seen.pump_since, when, settings)


def _rests_unknown(seen: Seen, when: str, _settings: Settings) -> bool:
    return seen.pump == at.AT_REST and seen.pump_since != at.LONG_AGO and not _timed(seen.pump_since, when)


def _near_rests_lately(seen: Seen, when: str, settings: Settings) -> bool:
    rests = [one.since for one in seen.near_by if one.what == at.NEAR_AT_REST]
    return any(_lately(since, when, settings) or not _told(since, when) for since in rests)


def _lately(since: str, when: str, settings: Settings) -> bool:
    hours = hours_between(since, when)
    return since == at.LATELY or (hours is not None and hours < settings.si("pump_rest"))


def _timed(since: str, when: str) -> bool:
    return since == at.LATELY or hours_between(since, when) is not None


def _told(since: str, when: str) -> bool:
    return since == at.LONG_AGO or _timed(since, when)


def _hung_up(seen: Seen) -> bool:
    return at.HUNG_UP in seen.in_the_hole


def _not_read(seen: Seen, _when: str, _settings: Settings) -> bool:
    """That the water was not reached is a finding, whatever reason stands beside it."""
    return bool(seen.no_reading) and at.NOT_REACHED not in seen.water


RULES: tuple[Rule, ...] = (
    Rule("as usual, nothing going on", lambda seen, _w, _s: seen.quiet, STATIC),
    Rule("water stands still", _does(at.STILL), STATIC),
    Rule("water rises or falls", lambda seen, _w, _s: seen.moves, DISTURBED,
         advice="read three times at equal times, keep all three, write how far apart",
         source="San Joaquin County, CA, doc 600482 (read): three readings at equal times"),
    Rule("water runs over", _does(at.RUNS_OVER), STATIC,
         advice="shut it in slowly, stand aside, note how long; the same time on each visit", source=f"{_TM} 12"),
    Rule("water not reached", _does(at.NOT_REACHED), DEEPER_THAN,
         advice="write how far the tape went; a dry well has no level"),
    Rule("water not looked for", _does(at.NOT_LOOKED)),
    Rule("a pump in this well runs", _pump(at.RUNNING), PUMPING, bottom=False,
         advice="do not sound, no steel tape; note since when it runs", source=f"{_TM} 1 and 11"),
    Rule("water is put into this well", _pump(at.PUTTING_IN), DISTURBED, advice="note how much and since when"),
    Rule("the pump stopped lately", _rests_lately, RECOVERING, advice="read again in 15 to 30 minutes, keep both",
         source="a Canadian prairie guide (read): 15-30 min; US EPA RCRA guidance 1992 (read): 24 h"),
    Rule("when the pump stopped is not known", _rests_unknown,
         advice="ask when it stopped, or read again in 15 to 30 minutes", source="a Canadian prairie guide (read)"),
    Rule("a well near by draws or takes in water", _near(at.DRAWING, at.NEAR_PUTTING_IN), DISTURBED,
         advice="note which well, how far off, since when"),
    Rule("a well near by stopped lately, or nobody knows when", _near_rests_lately, DISTURBED,
         advice="note which well and when it stopped"),
    Rule("tide or stream near by", _near(at.TIDE), advice="note its state: rising, falling, high, low"),
    Rule("oil on the water", _meets(at.OIL), doubts=_ALL_TAPES,
         advice="read the oil's surface and the interface; note its relative density", source=f"{_TM} 1 step 14"),
    Rule("ice in the hole", _meets(at.ICE), NOTHING, bottom=False, advice="ice is not a level"),
    Rule("foam on the water", _meets(at.FOAM), doubts=_ALL_TAPES,
         advice="let it settle and read again: foam wets a tape and closes a circuit"),
    Rule("water falls in from above", _meets(at.FALLING_IN), doubts=(_CHALK,),
         advice="use an electric tape: drips spoil a chalk cut; wait for a lasting signal", source=f"{_TM} 1 and 4"),
    Rule("the tape hung up", lambda seen, _w, _s: _hung_up(seen) and at.NOT_REACHED not in seen.water, NOTHING,
         bottom=False, advice="write where it hung up; that is no total depth",
         source=f"{_TM} 11: free of obstructions"),
    Rule("the tape hung up above the water", lambda seen, _w, _s: _hung_up(seen) and at.NOT_REACHED in seen.water,
         DEEPER_THAN, bottom=False, advice="write where it hung up; the water stands deeper"),
    Rule("no reading could be taken", _not_read, NOTHING, bottom=False),
    Rule("the well is gone", lambda seen, _w, _s: seen.gone, NOTHING, bottom=False, advice="note how it was seen"),
)  # fmt: skip


def rules_of(seen: Seen, when: str, settings: Settings) -> list[Rule]:
    """The rules that hold, in the order of the table.

    Parameters
    ----------
    seen
        What goes on at the well; nothing noted holds no rule.
    when
        Time of the reading, ISO 8601 with offset; with a date alone or "", no time since the pump stopped follows.
    settings
        The network's: how long a pump must have rested.

    Returns
    -------
    list
        Rules of `RULES`, several at once where several facts hold.
    """
    if seen.nothing_noted:
        return []
    return [rule for rule in RULES if rule.holds(seen, when, settings)]


def level_use(seen: Seen, when: str = "", settings: Settings | None = None) -> str:
    """What a water level read now stands for: the most limiting rule decides.

    Parameters
    ----------
    seen
        What goes on at the well.
    when
        Time of the reading, ISO 8601 with offset; "" when it is not known.
    settings
        The network's; its defaults when left out.

    Returns
    -------
    str
        One of `USES`.

    Example
    -------
    >>> level_use(Seen(water=("stands still",), pump="at rest", pump_since="40 min"))
    'recovering level'
    >>> level_use(Seen(pump="none"))
    'level, state not noted'
    """
    settings = Settings() if settings is None else settings
    uses = [rule.level for rule in rules_of(seen, when, settings) if rule.level]
    return max(uses, key=USES.index, default=NOT_NOTED)


def may_be_total_depth(seen: Seen) -> bool:
    """Whether a sounding made now may stand for the total depth.

    Parameters
    ----------
    seen
        What goes on at the well.

    Returns
    -------
    bool
        False where one rule that holds forbids it: a running pump, a tape that hung up, ice, no reading, a well gone.

    Example
    -------
    >>> may_be_total_depth(Seen(in_the_hole=("tape hung up",)))
    False
    """
    return all(rule.bottom for rule in rules_of(seen, "", Settings()))


def hours_since_pump(seen: Seen, when: str) -> float | None:
    """Time from when the pump in this well stopped to the reading.

    Parameters
    ----------
    seen
        What goes on at the well: the pump, and since when it is at rest.
    when
        Time of the reading, ISO 8601 with offset.

    Returns
    -------
    float or None
        Hours, >= 0; None where the time is not known or would be negative, and where the pump is not at rest.

    Example
    -------
    >>> hours_since_pump(Seen(pump="at rest", pump_since="90 min"), "2026-05-14T10:20-04:00")
    1.5
    """
    hours = hours_between(seen.pump_since, when) if seen.pump == at.AT_REST else None
    return hours if hours is not None and hours >= 0 else None


def said_of(seen: Seen, when: str, settings: Settings) -> list[Finding]:
    """What to tell the person at the well: contradictions first, then what is lacking, then what each fact asks for.

    Parameters
    ----------
    seen
        What goes on at the well.
    when
        Time of the visit, ISO 8601 with offset, or a date.
    settings
        The network's: how long a pump must have rested.

    Returns
    -------
    list
        Findings about the visit; empty where nothing needs to be said.

    Example
    -------
    >>> [found.check for found in said_of(Seen(water=("not reached",)), "", Settings())]
    ['depth-reached-missing', 'asks-for']
    """
    findings = [*contradictions(seen, when), *_lacking(seen)]
    for rule in rules_of(seen, when, settings):
        if rule.advice:
            findings.append(finding("asks-for", rule.fact, rule.advice, "visit"))
    return findings


def _lacking(seen: Seen) -> list[Finding]:
    findings = []
    if at.NOT_REACHED in seen.water and seen.depth_reached is None and seen.hung_up_at is None:
        what = "water was not reached, and how far the tape went is not written"
        findings.append(finding("depth-reached-missing", what, "write the depth the tape reached", "visit"))
    if at.HUNG_UP in seen.in_the_hole and seen.hung_up_at is None:
        what = "the tape hung up, and where is not written"
        findings.append(finding("depth-reached-missing", what, "write the depth where it hung up", "visit"))
    return findings


def contradictions(seen: Seen, when: str) -> list[Finding]:
    """What cannot hold at once, each as a finding.

    Parameters
    ----------
    seen
        What goes on at the well.
    when
        Time of the visit, ISO 8601 with offset; without one a pump said to have stopped after the visit is not seen.

    Returns
    -------
    list
        One finding a contradiction.

    Example
    -------
    >>> [found.message for found in contradictions(Seen(water=("runs over", "not reached")), "")]
    ['water is said to be not reached and to run over']
    """
    clashes = [*_of_quiet(seen), *_of_water(seen), *_of_pump(seen, when), *_of_the_rest(seen)]
    return [finding("facts-contradict", one, "look again and take one of the two back", "visit") for one in clashes]


def _of_quiet(seen: Seen) -> list[str]:
    if not (seen.quiet and seen.something_goes_on):
        return []
    return ["the well is said to be as usual with nothing going on, and something is said to go on"]


def _of_water(seen: Seen) -> list[str]:
    water, clashes = seen.water, []
    if at.RISES in water and at.FALLS in water:
        clashes.append("water is said to rise and to fall")
    if at.STILL in water and seen.moves:
        clashes.append("water is said to stand still and to move")
    for word, does in ((at.RUNS_OVER, "run over"), (at.STILL, "stand still"), (at.RISES, "rise"), (at.FALLS, "fall")):
        if at.NOT_REACHED in water and word in water:
            clashes.append(f"water is said to be not reached and to {does}")
        if at.NOT_LOOKED in water and word in water:
            clashes.append(f"water is said to be not looked for and to {does}")
    if seen.depth_reached is not None and water and at.NOT_REACHED not in water:
        clashes.append(f"the tape is said to have reached {seen.depth_reached} without water, and water to be there")
    return clashes


def _of_pump(seen: Seen, when: str) -> list[str]:
    clashes = []
    if seen.pump == at.NO_PUMP and seen.pump_since:
        clashes.append(f"there is said to be no pump, and yet since when: {seen.pump_since}")
    hours = hours_between(seen.pump_since, when)
    if hours is not None and hours < 0:
        clashes.append(f"the pump is said to be {seen.pump} since {seen.pump_since}, which is after the visit")
    return clashes


def _of_the_rest(seen: Seen) -> list[str]:
    clashes = []
    near = [one.what for one in seen.near_by]
    if at.NONE_SEEN in near and len(near) > 1:
        clashes.append("nothing is said to go on near by, and something is")
    if at.CLEAR in seen.in_the_hole and len(seen.in_the_hole) > 1:
        clashes.append("the hole is said to be clear and not to be")
    for size, word, what in (
        (seen.oil_thickness, at.OIL, "oil"), (seen.hung_up_at, at.HUNG_UP, "a tape that hung up"),
    ):  # fmt: skip
        if size is not None and word not in seen.in_the_hole:
            clashes.append(f"{size} is written for {what}, and none is said to be there")
    return clashes


def stands_for(depth_m: float | None, seen: Seen, when: str, settings: Settings) -> str:
    """What a level read at `depth_m` below the measuring point stands for.

    A tape that hung up further down did not hinder a level read above that place.

    Parameters
    ----------
    depth_m
        Depth of the water below the measuring point, m; None where there is none.
    seen
        What goes on at the well.
    when
        Time of the reading, ISO 8601 with offset; "" when it is not known.
    settings
        The network's: how long a pump must have rested.

    Returns
    -------
    str
        One of `USES`.

    Example
    -------
    >>> from tapedown.values.written import Written
    >>> hung = Seen(water=("stands still",), in_the_hole=("tape hung up",), hung_up_at=Written("12.0", "m"))
    >>> stands_for(8.2, hung, "", Settings()), stands_for(None, hung, "", Settings())
    ('static level', 'no value')
    """
    hung = seen.hung_up_at.si if seen.hung_up_at is not None else None
    if at.HUNG_UP in seen.in_the_hole and hung is not None and depth_m is not None and depth_m < hung:
        free = tuple([word for word in seen.in_the_hole if word != at.HUNG_UP])
        return level_use(seen._replace(in_the_hole=free, hung_up_at=None), when, settings)
    return level_use(seen, when, settings)


def doubts_of(method: str, seen: Seen, when: str, settings: Settings) -> list[Finding]:
    """Facts that make a level read by this method doubtful.

    Parameters
    ----------
    method
        Name of the method, "chalked tape".
    seen
        What goes on at the well.
    when
        Time of the reading, ISO 8601 with offset; "" when it is not known.
    settings
        The network's.

    Returns
    -------
    list
        One finding a fact, with what to do; empty for a method the facts do not touch.

    Example
    -------
    >>> drips = Seen(in_the_hole=("water falling in",))
    >>> [len(doubts_of(method, drips, "", Settings())) for method in ("chalked tape", "electric tape")]
    [1, 0]
    """
    return [
        finding("made-doubtful", f"{rule.fact}: a level by {method} is in doubt", rule.advice)
        for rule in rules_of(seen, when, settings)
        if method in rule.doubts
    ]


def read_although(method: str, depth_m: float | None, seen: Seen) -> list[Finding]:
    """A level that was read although what goes on says there was none to read, or that it stood elsewhere.

    Parameters
    ----------
    method
        Name of the method: only a tape read below the measuring point contradicts water that runs over.
    depth_m
        Depth of the water below the measuring point, m; None where there is none.
    seen
        What goes on at the well.

    Returns
    -------
    list
        One finding a contradiction.

    Example
    -------
    >>> [found.message for found in read_although("electric tape", 3.1, Seen(water=("runs over",)))]
    ['water is said to run over, and it was read below the measuring point']
    """
    clashes = []
    if at.NOT_LOOKED in seen.water:
        clashes.append("water is said not to have been looked for, and a level was read")
    if seen.no_reading:
        clashes.append(f"no reading is said to have been taken ({seen.no_reading}), and there is one")
    if at.RUNS_OVER in seen.water and depth_m is not None and depth_m > 0.0 and method in _ALL_TAPES:
        clashes.append("water is said to run over, and it was read below the measuring point")
    hung = seen.hung_up_at
    if hung is not None and depth_m is not None and depth_m > hung.si:
        clashes.append(f"the tape is said to have hung up at {hung}, and water was read further down")
    return [finding("facts-contradict", one, "look again and take one of the two back") for one in clashes]


def moving_findings(count: int, apart: object, seen: Seen) -> list[Finding]:
    """What is lacking where the water moved while it was read.

    Parameters
    ----------
    count
        How many times it was read.
    apart
        Time from one reading to the next as written; None when it was not.
    seen
        What goes on at the well; only water that rises or falls asks for more.

    Returns
    -------
    list
        One finding, or none where nothing is lacking.

    References
    ----------
    Three readings at equal times: San Joaquin County (CA) doc 600482 (read).

    Example
    -------
    >>> [found.message for found in moving_findings(2, None, Seen(water=("falls",)))]
    ['water falls while it is read and it was read 2 times']
    """
    if not seen.moves or (count >= EQUAL_TIMES and apart is not None):
        return []
    does = "rises" if at.RISES in seen.water else "falls"
    lacks = f"it was read {count} time{'s' if count != 1 else ''}" if count < EQUAL_TIMES else "no times are written"
    return [
        finding(
            "water-moving",
            f"water {does} while it is read and {lacks}",
            "read three times at equal times and write how far apart; the last one counts",
        )
    ]
