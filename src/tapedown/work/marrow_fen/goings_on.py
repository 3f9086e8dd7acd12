"""What went on at the wells of Marrow Fen beside the ordinary: each fact that can be noted, at least once."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

QUIET: Mapping[str, Any] = {"quiet": True}
SEEN: Mapping[tuple[str, int], Mapping[str, Any]] = {
    ("MF-01", 5): {"water": ["stands still"], "pump": "none", "near_by": [{"what": "none seen"}],
                   "in_the_hole": ["clear"]},
    ("MF-02", 9): {"water": ["stands still"],
                   "near_by": [{"what": "putting in", "which": "meadow flooded by the carr sluice", "since": "2 d"}]},
    ("MF-03", 6): {"water": ["falls"], "near_by": [{"what": "drawing", "which": "peat works drain pump",
                                                    "distance": "400 ft", "since": "07:30"}]},
    ("MF-05", 4): {"water": ["stands still"], "near_by": [{"what": "tide or stream", "which": "Long Dyke",
                                                           "distance": "60 ft", "state": "bank full, falling"}]},
    ("MF-09", 6): {"water": ["rises"], "pump": "at rest", "pump_since": "40 min"},
    ("MF-09", 10): {"water": ["stands still"], "pump": "putting water in", "pump_since": "lately"},
    ("MF-10", 11): {"water": ["stands still"], "in_the_hole": ["water falling in"]},
    ("MF-11", 8): {"water": ["stands still"],
                   "near_by": [{"what": "at rest", "which": "rectory bore", "distance": "150 ft", "since": "06:00"}]},
    ("MF-12", 4): {"water": ["stands still"], "in_the_hole": ["foam"]},
}  # fmt: skip
"""What goes on at a well in a round, by its code and the number of the round; elsewhere the visit's own."""


class Call(NamedTuple):
    """A stop between the rounds that gave no reading: where, when, what was seen, what else was written."""

    code: str
    day: date
    seen: Mapping[str, Any]
    remarks: str = ""


CALLS = (
    Call("MF-04", date(2021, 1, 19), {"in_the_hole": ["ice"], "no_reading": "lid frozen to the casing"}),
    Call("MF-02", date(2021, 6, 22), {"in_the_hole": ["tape hung up"], "hung_up_at": "41.2 ft",
                                      "no_reading": "root or slipped pipe, would not go further"},
         "tape came back clean; went free again at the next round"),
    Call("MF-12", date(2022, 7, 5), {"no_reading": "spoil heap where the well was", "gone": True},
         "found again in September: the heap was moved"),
    Call("MF-10", date(2022, 10, 18), {"water": ["not looked for"], "pump": "none"}, "only painted the mark"),
)  # fmt: skip
