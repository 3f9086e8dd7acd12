"""The usual cautions, in plain lines: for every round, and for a well by what is known of it.

Local codes, the site's safety plan and licensed practice come first; nothing here is a rule of law.
"""

from __future__ import annotations

from collections.abc import Collection

from tapedown.values.conditions import BY_WORD, PUMPING
from tapedown.values.wells import AccessNote, PointHeight

GENERAL = (
    "Permission first. Local codes, the site's safety plan and licensed practice come before anything said here.",
    "Do not climb into pits or sunken boxes; open covers and caps slowly and stand aside: gas, pressure, wasps.",
    "Never sound a well that is pumping; keep steel tape off live electrical parts.",
    "Mind traffic, animals and loads; leave when there is lightning.",
    "Clean tape and weight between wells, the cleaner well before the dirtier.",
)
BY_CONDITION = {
    "flowing": "flows under pressure: stand clear, open the valve slowly",
    "recently flowing": "may flow under pressure: stand clear, open the valve slowly",
    "oil on water": "oil on the water: visit it last, its tape touches no other well before it is clean; no sparks",
    "obstructed": "a tape hung up here before: lower it gently",
    "injecting": "water is put in under pressure at times: ask before opening",
}
PUMP = "a pump may start by itself: have it locked out before a tape goes in"
PIT = "the measuring point lies below ground: lean in, do not climb in; look out for gas"
UNASKED = "no permission is on record: ask first"


def well_cautions(noted: Collection[str], point: PointHeight | None, access: AccessNote | None) -> list[str]:
    """Cautions for one well, from conditions noted lately, its measuring point and its access note.

    Example
    -------
    >>> well_cautions(["pumping"], None, AccessNote("owner, in writing", "", "loose dog", ""))
    ['loose dog', 'a pump may start by itself: have it locked out before a tape goes in']
    """
    lines = [access.hazards] if access and access.hazards else []
    lines += [line for word, line in BY_CONDITION.items() if word in noted]
    if any(word in BY_WORD and BY_WORD[word].level == PUMPING for word in noted) or "recently pumped" in noted:
        lines.append(PUMP)
    if point is not None and point.side == "below":
        lines.append(PIT)
    if access is None or not access.permission:
        lines.append(UNASKED)
    return lines
