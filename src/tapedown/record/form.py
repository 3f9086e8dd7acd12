"""The form an entry must have to be kept for decades and still be read as it was meant."""

from __future__ import annotations

import json
import re
from datetime import datetime

from tapedown.values.ledger.entries import Draft, Entry, canonical

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
