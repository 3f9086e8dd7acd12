"""Drafts as they are written at the wells of Marrow Fen."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from tapedown.values.ledger.entries import FIRST, Draft, Entry, canonical, chained

DAY = "2026-05-14T"


def moment(number: int) -> str:
    """The `number`-th microsecond after nine o'clock of the day."""
    return f"{DAY}09:{number // 60_000_000 % 60:02d}:{number // 1_000_000 % 60:02d}.{number % 1_000_000:06d}Z"


def visit(number: int, **changes: Any) -> Draft:
    """The `number`-th visit: the id and the time follow from the number."""
    draft = Draft(
        id=str(UUID(int=(0x7 << 76) | (0x8 << 60) | number)),
        kind="visit",
        about=f"well/MF-{number % 20 + 1:02d}",
        measured_at="2026-05-14T10:05+01:00",
        written_at=moment(number),
        by="R. Alder",
        body=canonical({"readings": ["84.30", "84.31"], "tape": "ST-014", "number": number}),
    )
    return draft._replace(**changes)


def strike(number: int, target: str, **changes: Any) -> Draft:
    """A withdrawal of the entry `target`."""
    told = {"kind": "strike", "strikes": target, "reason": "read the wrong foot", "body": "{}"}
    return visit(number, **(told | changes))


def chain(device: str, drafts: list[Draft]) -> list[Entry]:
    """The drafts chained as on a device of that name, from its first entry on."""
    entries: list[Entry] = []
    previous = FIRST
    for place, draft in enumerate(drafts, start=1):
        entries.append(chained(draft, device=device, sequence=place, previous=previous))
        previous = entries[-1].digest
    return entries
