"""The manifest of a delivery: every file with its size and SHA-256, what it was made from, the heads of the record.

{"tapedown delivery": {"version": 1, "network": "Marrow Fen", ..., "files": [{"path": ..., "bytes": ..., "sha256": ...}]}}
"""  # noqa: E501 - one line as it stands in the file

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.packages.errors import NotADelivery
from tapedown.exchange.strict_json import NotJson, strict_json

NAME = "manifest.json"
VERSION = 1
_TITLE = "tapedown delivery"
_SHA256 = re.compile(r"[0-9a-f]{64}")
MOST_FILES = 200_000


class DeliveredFile(NamedTuple):
    """A file of a delivery."""

    path: str
    size: int
    sha256: str


class Manifest(NamedTuple):
    """What a manifest says.

    heads      ends of the record's chains when it was made: device, number, digest
    tree_head  head of the tree of signed entries, "" where there is none
    """

    network: str
    made_at: str
    as_known_at: str
    made_by: str
    formats: tuple[str, ...]
    heads: tuple[tuple[str, int, str], ...]
    tree_head: str
    files: tuple[DeliveredFile, ...]


class Flaw(NamedTuple):
    """Something in a delivery that is not as its manifest says."""

    path: str
    what: str


def manifest_of(
    delivery: Delivery, formats: Iterable[str], heads: Iterable[tuple[str, int, str]], files: Iterable[DeliveredFile]
) -> Manifest:
    """The manifest of a delivery that was just written."""
    return Manifest(
        delivery.network.name, delivery.made_at, delivery.as_of, delivery.program, tuple(formats), tuple(heads),
        delivery.tree_head, tuple(sorted(files)),
    )  # fmt: skip


def manifest_bytes(manifest: Manifest) -> bytes:
    """The manifest as its file."""
    fields = manifest._asdict()
    heads = [{"device": device, "sequence": number, "digest": digest} for device, number, digest in manifest.heads]
    files = [{"path": p.path, "bytes": p.size, "sha256": p.sha256} for p in manifest.files]
    body = {"version": VERSION, **fields, "heads": heads, "files": files}
    return (json.dumps({_TITLE: body}, indent=1, ensure_ascii=False) + "\n").encode("utf-8", "replace")


def read_manifest(data: bytes) -> Manifest:
    """Read a manifest.

    Raises
    ------
    NotADelivery
    """
    try:
        document = strict_json(data)
        body = document.get(_TITLE) if isinstance(document, dict) else None
        if not isinstance(body, dict):
            raise ValueError(f"the manifest does not hold {_TITLE!r}")  # noqa: TRY004, TRY301 - told as one refusal
        if body.get("version") != VERSION:
            raise ValueError(f"it has version {body.get('version')!r}; this program reads {VERSION}")  # noqa: TRY301
        return _read(body)
    except (NotJson, ValueError) as error:
        raise NotADelivery(str(error)) from None


def _read(body: Mapping[str, Any]) -> Manifest:
    files = body.get("files")
    if not isinstance(files, list) or len(files) > MOST_FILES:
        raise ValueError("its list of files is missing or too long")
    heads = [h for h in body.get("heads") or [] if isinstance(h, dict)]
    return Manifest(
        _text(body, "network"),
        _text(body, "made_at"),
        _text(body, "as_known_at"),
        _text(body, "made_by"),
        tuple(str(name) for name in body.get("formats") or ()),
        tuple((str(h.get("device")), int(h.get("sequence") or 0), str(h.get("digest"))) for h in heads),
        _text(body, "tree_head"),
        tuple(_piece(row) for row in files),
    )


def _text(body: Mapping[str, Any], key: str) -> str:
    text = body.get(key, "")
    if not isinstance(text, str):
        raise ValueError(f"{key} is not text")  # noqa: TRY004 - what is wrong with a manifest is a ValueError
    return text


def _piece(row: Any) -> DeliveredFile:
    if not isinstance(row, dict):
        raise ValueError("a file in its list is not told by fields")  # noqa: TRY004 - see above
    path, size, sha256 = row.get("path"), row.get("bytes"), row.get("sha256")
    if not isinstance(path, str) or not is_inside(path):
        raise ValueError(f"it names a file outside the delivery: {str(path)[:80]!r}")
    if isinstance(size, bool) or not isinstance(size, int) or size < 0:
        raise ValueError(f"the size of {path} is {str(size)[:40]!r}")
    if not isinstance(sha256, str) or not _SHA256.fullmatch(sha256):
        raise ValueError(f"the digest of {path} is not a SHA-256")
    return DeliveredFile(path, size, sha256)


def is_inside(path: str) -> bool:
    """Whether a relative path stays where it begins, on every system.

    Example
    -------
    >>> is_inside("csv/wells.csv"), is_inside("../wells.csv"), is_inside("C:/x"), is_inside("a\\\\..\\\\b")
    (True, False, False, False)
    """
    parts = path.split("/")
    plain = path.isprintable() and "\\" not in path and ":" not in path
    return plain and all(part not in {"", ".", ".."} for part in parts)


def flaws(manifest: Manifest, found: Mapping[str, tuple[int, str]]) -> list[Flaw]:
    """What differs between a manifest and the files found: path -> (size, SHA-256)."""
    listed = {piece.path: piece for piece in manifest.files}
    missing = [Flaw(path, "it is missing") for path in sorted(listed.keys() - found.keys())]
    added = [Flaw(path, "the manifest does not name it") for path in sorted(found.keys() - listed.keys())]
    changed = [
        Flaw(path, "it was changed: it does not match its SHA-256")
        for path in sorted(listed.keys() & found.keys())
        if found[path] != (listed[path].size, listed[path].sha256)
    ]
    return missing + changed + added
