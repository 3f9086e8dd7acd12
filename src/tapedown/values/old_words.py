"""Words that entries of earlier versions used for what was found at a well, and the facts each stands for.

Such entries stay as they were written and are shown in their own words. Nothing else knows these words: no screen, no
form and no file offers them.
"""

from __future__ import annotations

from typing import Any

WORD_FIELDS = ("conditions", "depth_reached", "hours_since_pumping")
"""Fields of an earlier version's visit or reading set that `values.seen` has taken the place of."""
_HOLE = "in_the_hole"
OLD_WORDS: dict[str, dict[str, Any]] = {
    "static": {"water": ["stands still"]},
    "dry": {"water": ["not reached"]},
    "pumping": {"pump": "running"},
    "recently pumped": {"pump": "at rest", "pump_since": "lately"},
    "nearby well pumping": {"near_by": [{"what": "drawing"}]},
    "nearby well recently pumped": {"near_by": [{"what": "at rest", "since": "lately"}]},
    "flowing": {"water": ["runs over"]},
    "recently flowing": {"water": ["runs over", "rises"]},
    "recovering": {"water": ["rises"]},
    "obstructed": {_HOLE: ["tape hung up"]},
    "oil on water": {_HOLE: ["oil"]},
    "frozen": {_HOLE: ["ice"]},
    "cascading water": {_HOLE: ["water falling in"]},
    "injecting": {"pump": "putting water in"},
    "recharging nearby": {"near_by": [{"what": "putting in"}]},
    "tide or stream nearby": {"near_by": [{"what": "tide or stream"}]},
    "access refused": {"no_reading": "access refused"},
    "cap locked": {"no_reading": "cap locked"},
    "not found": {"no_reading": "not found"},
    "plugged": {"no_reading": "plugged"},
    "destroyed": {"no_reading": "destroyed", "gone": True},
}
