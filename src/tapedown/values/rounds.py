"""Rounds that are planned, and the devices that are carried on them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.forms import Field, Form, Problem


class Round(NamedTuple):
    """A planned sequence of visits: the wells in the order in which they are to be visited, from this day on."""

    name: str
    day: str
    wells: tuple[str, ...]
    who: tuple[str, ...]
    remarks: str


class Device(NamedTuple):
    """A phone or tablet that may hand in entries; of its key only the SHA-256 is kept."""

    name: str
    label: str
    key_sha256: str


def _a_day_and_each_well_once(planned: Round) -> Sequence[Problem]:
    problems = []
    if len(planned.day) != 10:
        problems.append(Problem("day", f"{planned.day!r} is not a day", "write the day alone: 2026-05-14"))
    twice = sorted({code for code in planned.wells if planned.wells.count(code) > 1})
    if twice:
        problems.append(Problem("wells", f"{', '.join(twice)} named twice", "name each well once"))
    return problems


FORMS: dict[str, Form] = {
    "round": Form(
        "round",
        Round,
        "a planned round of visits",
        (
            Field("name", "text", "what people call it", required=True),
            Field("day", "when", "the day it begins, such as 2026-05-14", required=True),
            Field("wells", "text", "codes of the wells, in the order of the visits", required=True, many=True),
            Field("who", "text", "who goes", many=True),
            Field("remarks", "text", "anything else"),
        ),
        _a_day_and_each_well_once,
    ),
    "device": Form(
        "device",
        Device,
        "a phone or tablet that may hand in entries",
        (
            Field("name", "text", "name its entries carry", required=True),
            Field("label", "text", "what people call it"),
            Field("key_sha256", "text", "SHA-256 of its key", required=True),
        ),
    ),
}
