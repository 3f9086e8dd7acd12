"""An entry: one fact in the record, written once and never changed.

The body is JSON text. Numbers that were read in the field stand in it as text, so that `84.30` keeps its last digit.
Entries of one device form a chain: each carries the digest of the one before it, so a changed, lost or inserted entry
shows.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any, NamedTuple

_CANONICAL = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
_COMPACT = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False)
FIRST = "0" * 64
"""What the first entry of a device names as the digest before it."""


class Draft(NamedTuple):
    """A fact about to be written: an entry that has no place in a device's chain yet.

    id          UUIDv7, lower case with hyphens, made where the fact was written
    kind        what the fact is: "well", "visit", "strike", ...
    about       what it is about: "well/MF-07", "gear/ST-014", "network"
    measured_at when it was so: ISO 8601 with an offset, or a date alone when the time is not known, or ""
    written_at  when it was written, UTC, always in the form 2026-05-14T09:20:00.000000Z
    by          who wrote it
    body        canonical JSON text (see `canonical`)
    strikes     id of the entry this one replaces or withdraws, or None
    reason      why, when it strikes; else ""
    """

    id: str
    kind: str
    about: str
    measured_at: str
    written_at: str
    by: str
    body: str
    strikes: str | None = None
    reason: str = ""


class Entry(NamedTuple):
    """A draft in its place: device, position in the device's chain, digest before it and its own digest."""

    id: str
    kind: str
    about: str
    measured_at: str
    written_at: str
    by: str
    body: str
    strikes: str | None
    reason: str
    device: str
    sequence: int
    previous: str
    digest: str

    @property
    def subject(self) -> str:
        """The name in what it is about: the code of a well, the serial number of gear; "" for the network."""
        return self.about.partition("/")[2]

    @property
    def data(self) -> dict[str, Any]:
        """The body as JSON values."""
        loaded: dict[str, Any] = json.loads(self.body)
        return loaded


def canonical(body: Mapping[str, Any]) -> str:
    """One spelling for one body: sorted keys, no spaces, no escapes for letters.

    A digest can only be compared where the same body is always the same bytes. NaN and infinity have no spelling in
    JSON: the encoder turns them down with a ValueError.

    Parameters
    ----------
    body
        Values that JSON can say; what was read in the field stands in it as text.

    Returns
    -------
    str
        JSON text.

    Example
    -------
    >>> canonical({"readings": ["84.30"], "by": "R. Alder"})
    '{"by":"R. Alder","readings":["84.30"]}'
    """
    return _CANONICAL.encode(body)


def content_digest(kind: str, about: str, measured_at: str, body: str) -> str:
    """Digest of what a fact says, whoever wrote it and whenever: tells "already there" on a second import."""
    return _sha256([kind, about, measured_at, body])


def chained(draft: Draft, *, device: str, sequence: int, previous: str) -> Entry:
    """The entry that a draft becomes in its place in a device's chain.

    Parameters
    ----------
    draft
        The fact as it was written.
    device
        Name of the device whose chain it is.
    sequence
        Its number in the chain, from 1.
    previous
        Digest of the entry before it, `FIRST` for the first.

    Returns
    -------
    Entry
        With its own digest.

    Example
    -------
    >>> d = Draft("id-1", "remark", "well/MF-07", "", "2026-05-14T09:20:00.000000Z", "R. Alder", "{}")
    >>> e = chained(d, device="desk", sequence=1, previous=FIRST)
    >>> e.digest == entry_digest(e)
    True
    """
    entry = Entry(*draft, device=device, sequence=sequence, previous=previous, digest="")
    return entry._replace(digest=entry_digest(entry))


def entry_digest(entry: Entry) -> str:
    """SHA-256 over everything the entry says and its place in the chain, in lower-case hexadecimal."""
    return hashlib.sha256(entry_bytes(entry)).hexdigest()


def entry_bytes(entry: Entry) -> bytes:
    """The bytes an entry stands for: its fields but the digest, in their order, as a compact JSON list in UTF-8."""
    return _compact(list(entry[:-1]))


def _sha256(parts: list[Any]) -> str:
    return hashlib.sha256(_compact(parts)).hexdigest()


def _compact(parts: list[Any]) -> bytes:
    return _COMPACT.encode(parts).encode("utf-8")
