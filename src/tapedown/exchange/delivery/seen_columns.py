"""What goes on at a well as columns of a table, and back: the facts, and what follows from them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from tapedown.engine.checks.at_the_well import hours_since_pump
from tapedown.exchange.delivery.columns import Column
from tapedown.values.forms import Problem
from tapedown.values.seen import HOLE, NEAR_BY, NOTHING_SEEN, PUMP, SEEN, WATER, Seen, seen_words, with_seen
from tapedown.values.written import Written

SEEN_COLUMNS = (
    Column("goes_on", "text", "what went on at the well, in words"),
    Column("as_usual", "flag", "whether it was said in one piece that nothing went on"),
    Column("water", "text", f"what the water did, with semicolons between: {', '.join(WATER)}"),
    Column("depth_reached_m", "number", "water not reached: how far the tape went below the measuring point", "m"),
    Column("pump", "text", "what a pump in this well did", choices=PUMP),
    Column("pump_since", "text", "since when, as it was written"),
    Column("since_pump_h", "number", "hours from when the pump stopped to the reading", "h"),
    Column("near_by", "text", f"others near by, a JSON list of groups; what: {', '.join(NEAR_BY)}"),
    Column("in_the_hole", "text", f"what was met in the hole, with semicolons between: {', '.join(HOLE)}"),
    Column("oil_thickness_m", "number", "how thick the oil was", "m"),
    Column("hung_up_at_m", "number", "where the tape hung up below the measuring point", "m"),
    Column("no_reading", "text", "why there was no reading, in the person's words"),
    Column("well_gone", "flag", "whether the well was no longer there"),
)
_LENGTHS = ("depth_reached", "oil_thickness", "hung_up_at")
_LISTS = ("water", "in_the_hole")


def seen_cells(seen: Seen, when: str) -> tuple[Any, ...]:
    """The cells of SEEN_COLUMNS; None where nothing was said."""
    body = SEEN.body(seen)
    near = json.dumps(body["near_by"], ensure_ascii=False) if "near_by" in body else None
    return (
        "; ".join(seen_words(seen)) or None, seen.quiet or None, "; ".join(seen.water) or None,
        _metres(seen.depth_reached), seen.pump or None, seen.pump_since or None, hours_since_pump(seen, when), near,
        "; ".join(seen.in_the_hole) or None, _metres(seen.oil_thickness), _metres(seen.hung_up_at),
        seen.no_reading or None, seen.gone or None,
    )  # fmt: skip


def _metres(length: Written | None) -> float | None:
    return length.si if length is not None else None


def seen_from(cells: Mapping[str, str]) -> tuple[Seen, list[Problem]]:
    """What the cells of a row say, by column name; deliveries of an earlier version have one column of words.

    Example
    -------
    >>> seen_from({"water": "rises", "pump": "at rest", "pump_since": "40 min"})[0].pump_since
    '40 min'
    """
    if words := [word.strip() for word in cells.get("conditions", "").split(";") if word.strip()]:
        given: Any = with_seen({"conditions": words}).get("seen", {})
    else:
        given = _given(cells)
    seen, problems = SEEN.read(given, "m")
    return (seen or NOTHING_SEEN), problems


def _given(cells: Mapping[str, str]) -> dict[str, Any]:
    given: dict[str, Any] = {name: cells[name] for name in ("pump", "pump_since", "no_reading") if cells.get(name)}
    given |= {name: cells[name].split("; ") for name in _LISTS if cells.get(name)}
    given |= {name: f"{float(text):.9g} m" for name in _LENGTHS if (text := cells.get(f"{name}_m", ""))}
    given |= {ours: True for ours, name in (("quiet", "as_usual"), ("gone", "well_gone")) if _yes(cells.get(name, ""))}
    if near := cells.get("near_by"):
        given["near_by"] = json.loads(near)
    return given


def _yes(text: str) -> bool:
    return text.strip().lower() in {"true", "1", "yes"}
