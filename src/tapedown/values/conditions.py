"""What was found at the well, in plain words, and what a reading taken then may stand for.

Common practice, no source, except where a line names one. Three things are kept apart: whether there is a reading, what
the well was doing, and how good the reading is.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

NOT_NOTED = "level, state not noted"
STATIC, DISTURBED, PUMPING, DEEPER_THAN, NOTHING = (
    "static level",
    "disturbed level",
    "pumping level",
    "deeper than",
    "no value",
)


class Condition(NamedTuple):
    """One condition and what follows from it.

    word      as written
    level     what a water level read then stands for (STATIC, DISTURBED, PUMPING, DEEPER_THAN, NOTHING)
    bottom    whether a sounding taken then may be a total depth
    quality   "" when the condition alone does not lower it, else "suspect" or "estimate"
    advice    what to do or to write down
    """

    word: str
    level: str
    bottom: bool
    quality: str
    advice: str


CONDITIONS: tuple[Condition, ...] = (
    Condition("static", STATIC, True, "", "nothing disturbed the well"),
    Condition("dry", DEEPER_THAN, True, "", "write the depth the tape reached; a dry well has no level"),
    Condition("pumping", PUMPING, False, "", "do not sound; a steel tape is not advised (USGS TM 1-A1 GWPD 1)"),
    Condition("recently pumped", DISTURBED, True, "", "note hours since it stopped; read again after 15 to 30 minutes"),
    Condition("nearby well pumping", DISTURBED, True, "", "note which well and since when"),
    Condition("nearby well recently pumped", DISTURBED, True, "", "note which well and when it stopped"),
    Condition("flowing", STATIC, True, "", "shut in, note the shut-in time, read gauge or standpipe"),
    Condition("recently flowing", DISTURBED, True, "", "note the shut-in time; repeat the same one each visit"),
    Condition("recovering", DISTURBED, True, "", "at least three readings at equal times; keep them all"),
    Condition("obstructed", NOTHING, False, "suspect", "note the depth where the tape hung up; it is no total depth"),
    Condition("oil on water", STATIC, True, "", "read oil surface and interface; note relative density"),
    Condition("frozen", NOTHING, False, "suspect", "ice is not a level"),
    Condition("cascading water", STATIC, True, "suspect", "a chalk cut is unreliable: use an electric tape"),
    Condition("injecting", DISTURBED, True, "", "note rate and since when"),
    Condition("recharging nearby", DISTURBED, True, "", "note the source of the water"),
    Condition("tide or stream nearby", STATIC, True, "", "note the state of tide or stream"),
    Condition("access refused", NOTHING, False, "", "note who refused and what was agreed"),
    Condition("cap locked", NOTHING, False, "", "note which key is needed"),
    Condition("not found", NOTHING, False, "", "note what was searched"),
    Condition("plugged", NOTHING, False, "", "note how it was seen"),
    Condition("destroyed", NOTHING, False, "", "note how it was seen"),
)

BY_WORD = {condition.word: condition for condition in CONDITIONS}
_ORDER = (NOT_NOTED, STATIC, DISTURBED, PUMPING, DEEPER_THAN, NOTHING)


def level_use(words: Iterable[str]) -> str:
    """What a water level read under these conditions may stand for: the most limiting one decides.

    Example
    -------
    >>> level_use(["nearby well pumping", "static"]), level_use([])
    ('disturbed level', 'level, state not noted')
    """
    return max((BY_WORD[word].level for word in words), key=_ORDER.index, default=NOT_NOTED)


def is_total_depth(words: Iterable[str]) -> bool:
    """Whether a sounding under these conditions may stand for the total depth.

    Example
    -------
    >>> is_total_depth(["obstructed"])
    False
    """
    return all(BY_WORD[word].bottom for word in words)
