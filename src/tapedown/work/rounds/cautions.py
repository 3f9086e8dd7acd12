"""The usual cautions, in plain lines: for every round, and for a well by what is known of it.

Local codes, the site's safety plan and licensed practice come first; nothing here is a rule of law.
"""

from __future__ import annotations

from collections.abc import Iterable

from tapedown.values.seen import AT_REST, HUNG_UP, OIL, PUTTING_IN, RUNNING, RUNS_OVER, Seen
from tapedown.values.wells import AccessNote, PointHeight

GENERAL = (
    "Permission first. Local codes, the site's safety plan and licensed practice come before anything said here.",
    "Do not climb into pits or sunken boxes; open covers and caps slowly and stand aside: gas, pressure, wasps.",
    "Never sound a well that is pumping; keep steel tape off live electrical parts.",
    "Mind traffic, animals and loads; leave when there is lightning.",
    "Clean tape and weight between wells, the cleaner well before the dirtier.",
)
FLOWS = "water runs over here under pressure: stand clear, open the valve slowly"
BY_HOLE = {
    OIL: "oil on the water: visit it last, its tape touches no other well before it is clean; no sparks",
    HUNG_UP: "a tape hung up here before: lower it gently",
}
PUT_IN = "water is put in under pressure at times: ask before opening"
PUMP = "a pump may start by itself: have it locked out before a tape goes in"
PIT = "the measuring point lies below ground: lean in, do not climb in; look out for gas"
UNASKED = "no permission is on record: ask first"


def well_cautions(noted: Iterable[Seen], point: PointHeight | None, access: AccessNote | None) -> list[str]:
    """Cautions for one well, from what went on there lately, its measuring point and its access note.

    Example
    -------
    >>> well_cautions([Seen(pump="running")], None, AccessNote("owner, in writing", "", "loose dog", ""))
    ['loose dog', 'a pump may start by itself: have it locked out before a tape goes in']
    """
    seen = list(noted)
    lines = [access.hazards] if access and access.hazards else []
    lines += [FLOWS] if any(RUNS_OVER in one.water for one in seen) else []
    lines += [line for word, line in BY_HOLE.items() if any(word in one.in_the_hole for one in seen)]
    lines += [PUT_IN] if any(one.pump == PUTTING_IN for one in seen) else []
    if any(one.pump in {RUNNING, AT_REST} for one in seen):
        lines.append(PUMP)
    if point is not None and point.side == "below":
        lines.append(PIT)
    if access is None or not access.permission:
        lines.append(UNASKED)
    return lines
