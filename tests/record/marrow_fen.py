"""Drafts as they are written at the wells of Marrow Fen."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from tapedown.values.ledger.entries import FIRST, Draft, Entry, canonical, chained

DAY = "2026-05-14T"


def moment(number: int) -> str:
    """The `number`-th microsecond after nine o'clock of the day."""
    return f"{DAY}09:{number // 60_000_000 % 60:02d}:{number // 1_000_000 % 60:02d}.{number % 1_000_000:06d}Z"


def well_of(number: int) -> str:
    """What the `number`-th visit is about."""
    return f"well/MF-{number % 20 + 1:02d}"


def about_of(identity: str) -> str:
    """What the visit with that id is about; any well for an id that is none of ours."""
    try:
        return well_of(UUID(identity).int & 0xFFFFFFFF)
    except ValueError:
        return well_of(0)


def visit(number: int, **changes: Any) -> Draft:
    """The `number`-th visit: the id and the time follow from the number."""
    draft = Draft(
        id=str(UUID(int=(0x7 << 76) | (0x8 << 60) | number)),
        kind="visit",
        about=well_of(number),
        measured_at="2026-05-14T10:05+01:00",
        written_at=moment(number),
        by="R. Alder",
        body=canonical({"people": ["R. Alder"], "remarks": f"read 84.30 and 84.31 with ST-014, call {number}"}),
    )
    return draft._replace(**changes)


def strike(number: int, target: str, **changes: Any) -> Draft:
    """A withdrawal of the entry `target`."""
    told = {
        "kind": "strike",
        "about": about_of(target),
        "strikes": target,
        "reason": "read the wrong foot",
        "body": "{}",
    }
    return visit(number, **(told | changes))


def chain(device: str, drafts: list[Draft]) -> list[Entry]:
    """The drafts chained as on a device of that name, from its first entry on."""
    entries: list[Entry] = []
    previous = FIRST
    for place, draft in enumerate(drafts, start=1):
        entries.append(chained(draft, device=device, sequence=place, previous=previous))
        previous = entries[-1].digest
    return entries
