"""Proofs that are checked without the record: small JSON files.

That an entry is in a signed set:

    {"tapedown proof": {"version": 1, "entry": {...}, "index": 3, "entries": 41, "path": ["9f86...", ...],
                        "tree_head": "4e3b...", "sign_off": {...}}}

That a later signed set begins with an earlier one: "earlier" and "later" are sign-offs, "path" leads from one head to
the other. Entries stand whole, their bodies as text, exactly as they were digested. Whoever checks compares the head
with the one that came with the delivery, or that was noted elsewhere: a file alone can only agree with itself.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from tapedown.exchange.sheets import UnreadableSheet
from tapedown.values.ledger.entries import Entry, entry_bytes, entry_digest
from tapedown.values.ledger.merkle import consistent, included, leaf

VERSION = 1
TITLE = "tapedown proof"
_SPOILT = "ask for the proof again (`tapedown prove`)"


class Checked(NamedTuple):
    """What a proof says once it was checked, and what is wrong with it."""

    words: str
    tree_head: str
    problems: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Nothing is wrong."""
        return not self.problems


def inclusion_text(entry: Entry, index: int, path: Sequence[bytes], sign_off: Entry) -> str:
    """The file that shows an entry to be number `index` of a signed set."""
    body = sign_off.data
    proof = {"version": VERSION, "entry": entry._asdict(), "index": index, "entries": int(body["entries"]),
             "path": [digest.hex() for digest in path], "tree_head": body["tree_head"],
             "sign_off": sign_off._asdict()}  # fmt: skip
    return _text(proof)


def consistency_text(earlier: Entry, later: Entry, path: Sequence[bytes]) -> str:
    """The file that shows one signed set to be the beginning of another."""
    proof = {"version": VERSION, "earlier": earlier._asdict(), "later": later._asdict(),
             "path": [digest.hex() for digest in path]}  # fmt: skip
    return _text(proof)


def _text(proof: Mapping[str, Any]) -> str:
    return json.dumps({TITLE: proof}, indent=1, ensure_ascii=False) + "\n"


def check_proof(data: bytes, name: str, known_head: str = "") -> Checked:
    """Check a proof by itself, and against the head that is known from elsewhere when it is given.

    Raises
    ------
    UnreadableSheet
        The file is no proof.
    """
    proof = _read(data, name)
    try:
        checked = _consistency(proof) if "earlier" in proof else _inclusion(proof)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        why = f"{name} is not a whole proof ({type(error).__name__}: {error})"
        raise UnreadableSheet(why, hint=_SPOILT) from None
    if known_head and known_head.strip().lower() != checked.tree_head:
        other = f"the proof is for tree head {checked.tree_head}, not for {known_head.strip().lower()}"
        return checked._replace(problems=(*checked.problems, other))
    return checked


def _read(data: bytes, name: str) -> Mapping[str, Any]:
    try:
        loaded = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise UnreadableSheet(f"{name} is not JSON: {error}", hint=_SPOILT) from None
    proof = loaded.get(TITLE) if isinstance(loaded, dict) else None
    if not isinstance(proof, dict) or proof.get("version") != VERSION:
        why = f"{name} is not a proof of version {VERSION}"
        raise UnreadableSheet(why, hint="name a file written by `tapedown prove`")
    return proof


def _inclusion(proof: Mapping[str, Any]) -> Checked:
    entry, signed = Entry(**proof["entry"]), Entry(**proof["sign_off"])
    count, head = int(proof["entries"]), str(proof["tree_head"])
    path = [bytes.fromhex(digest) for digest in proof["path"]]
    problems = [*_digests(entry, "the entry"), *_digests(signed, "the sign-off"), *_says(signed, count, head)]
    if not included(leaf(entry_bytes(entry)), int(proof["index"]), count, path, bytes.fromhex(head)):
        problems.append("the path does not lead from the entry to the tree head")
    words = (
        f"{entry.kind} of {entry.about}, written by {entry.by} at {entry.written_at}, is entry "
        f"{int(proof['index']) + 1} of the {count} that {_signed_words(signed)}"
    )
    return Checked(words, head, tuple(problems))


def _consistency(proof: Mapping[str, Any]) -> Checked:
    earlier, later = Entry(**proof["earlier"]), Entry(**proof["later"])
    path = [bytes.fromhex(digest) for digest in proof["path"]]
    problems = [*_digests(earlier, "the earlier sign-off"), *_digests(later, "the later sign-off")]
    before, after = ((int(e.data["entries"]), str(e.data["tree_head"])) for e in (earlier, later))
    if not consistent(before[0], bytes.fromhex(before[1]), after[0], bytes.fromhex(after[1]), path):
        problems.append("the earlier set is not the beginning of the later one")
    words = f"the {before[0]} entries that {_signed_words(earlier)} begin the {after[0]} that {_signed_words(later)}"
    return Checked(words, after[1], tuple(problems))


def _signed_words(signed: Entry) -> str:
    return f"{signed.by} signed as {signed.data['name']!r} at {signed.written_at}"


def _digests(entry: Entry, what: str) -> list[str]:
    return [] if entry_digest(entry) == entry.digest else [f"{what} does not match its digest: it was changed"]


def _says(signed: Entry, count: int, head: str) -> list[str]:
    body = signed.data
    same = signed.kind == "sign-off" and body["tree_head"] == head and int(body["entries"]) == count
    return [] if same else ["the sign-off names another tree head or number of entries"]
