"""What may become ink: the one rule that every entry is held to, wherever it comes from.

An entry is kept for decades, so it must be readable as it was meant: its form, its kind, its times and what it says.
"""

from __future__ import annotations

import json
import re
from datetime import datetime

from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import Draft, Entry, canonical
from tapedown.values.times import EARLIEST, is_measured_at, zone

_WRITTEN_AT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}Z")


def fault(draft: Draft | Entry) -> str:
    """What is wrong with the form of a draft or entry, or an empty text.

    Example
    -------
    >>> fault(Draft("id-1", "remark", "well/MF-07", "", "2026-05-14T09:20:00.000000Z", "", "{}"))
    'by is empty'
    """
    for name in ("id", "kind", "about", "by"):
        if not getattr(draft, name):
            return f"{name} is empty"
    if draft.strikes is not None and not draft.reason.strip():
        return "reason is empty, but it strikes another entry"
    if not is_written_at(draft.written_at):
        return f"written_at is {draft.written_at!r}, not of the form 2026-05-14T09:20:00.000000Z"
    if not _storable(draft):
        return "a field holds characters that cannot be stored"
    if not _is_canonical(draft.body):
        return "body is not a JSON object in canonical spelling"
    return _unreal(draft)


def _unreal(draft: Draft | Entry) -> str:
    """What is said that cannot be so, and that nobody could read round: a kind, a day, a zone that there is not."""
    if draft.kind not in KINDS:
        return f"kind {draft.kind!r} is not known to this version; bring the program up to date"
    if draft.measured_at and not is_measured_at(draft.measured_at):
        return f"measured_at is {draft.measured_at[:40]!r}, no time like 2026-05-14T10:20+01:00 from {EARLIEST} on"
    return _no_network(draft) if draft.kind == "network" else ""


def _no_network(draft: Draft | Entry) -> str:
    """What is wrong with facts that everything else is read by."""
    if wrong := unreadable(draft):
        return wrong
    try:
        zone(json.loads(draft.body)["zone"])
    except ValueError as error:
        return f"zone: {error}"
    return ""


def unreadable(draft: Draft | Entry) -> str:
    """What cannot be read of what a draft says, or an empty text.

    Whoever writes here is asked this before it is ink. An entry that was chained elsewhere is ink already: those after
    it in its chain could not enter without it, so it enters, and is told wherever it is read.
    """
    _, problems = KINDS[draft.kind].read(json.loads(draft.body), "ft")
    return f"{problems[0].place or 'body'}: {problems[0].message}" if problems else ""


def may_strike(draft: Draft | Entry, struck: Draft | Entry) -> str:
    """Why an entry may not strike another one, or an empty text."""
    if draft.about != struck.about:
        return f"it is about {draft.about}, and what it strikes is about {struck.about}; each strikes what it is about"
    if draft.kind == "strike" and struck.kind == "network":
        return "it would leave the network without its unit, zone and datum; correct them by new ones"
    if draft.kind not in ("strike", struck.kind):
        return f"an entry of kind {draft.kind!r} cannot take the place of one of kind {struck.kind!r}"
    return ""


def is_written_at(text: str) -> bool:
    """Whether a time has the one form used in the record, in which earlier times sort first: UTC, six decimals."""
    if not _WRITTEN_AT.fullmatch(text):
        return False
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def _storable(draft: Draft | Entry) -> bool:
    text = "".join([field for field in draft if isinstance(field, str)])
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return "\0" not in text


def _is_canonical(body: str) -> bool:
    try:
        loaded = json.loads(body)
        return isinstance(loaded, dict) and canonical(loaded) == body
    except (ValueError, RecursionError):
        return False
