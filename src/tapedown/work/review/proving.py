"""Proof of what was signed: every set against the record, and small files that prove one entry without it."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import NamedTuple

from tapedown.exchange.ledger.proof_file import consistency_text, inclusion_text
from tapedown.record import entries_after, entry
from tapedown.record.errors import NoSuchBlob
from tapedown.values.errors import TapedownError
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import Entry, entry_bytes, entry_digest
from tapedown.values.ledger.merkle import consistency_path, inclusion_path, leaf, tree_head
from tapedown.work.networks import OpenNetwork
from tapedown.work.review.signing import Signed, SignedLeaf, find_signed, list_bytes, sign_offs, signed_list


class NotSigned(TapedownError):
    """The entry is in no signed set, or not in the one named."""

    def __init__(self, entry_id: str, where: str) -> None:
        super().__init__(f"entry {entry_id} is not in {where}", hint="see `tapedown signed`; sign it: `tapedown sign`")


class FollowsNothing(TapedownError):
    """The sign-off does not go on from an earlier one."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{name} does not go on from an earlier sign-off", hint="prove its entries one by one")


class SetProof(NamedTuple):
    """A signed set held against the record, and what is wrong with it."""

    signed: Signed
    problems: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Nothing is wrong."""
        return not self.problems


def verify_signed(network: OpenNetwork) -> list[SetProof]:
    """Every signed set, withdrawn ones too, against the entries as the record holds them now; newest first.

    The sign-offs are taken from the whole of the entries as well: in a damaged file a look by kind may miss them.
    """
    held = {one.id: one for one in entries_after(network.record)}
    struck_by = {one.strikes: one.id for one in held.values() if one.strikes is not None}
    newest = sorted((one for one in held.values() if one.kind == "sign-off"), key=lambda e: e.written_at, reverse=True)
    read = ((one, KINDS["sign-off"].read(one.data, network.unit)[0]) for one in newest)
    signed = {one.id: Signed(one, value, struck_by.get(one.id)) for one, value in read if value is not None}
    return [SetProof(one, tuple(_problems(network, one, held, signed))) for one in signed.values()]


def _problems(
    network: OpenNetwork, signed: Signed, held: Mapping[str, Entry], all_signed: Mapping[str, Signed]
) -> list[str]:
    try:
        listed = signed_list(network, signed)
    except NoSuchBlob:
        return ["the list of its entries is not here: take it in again (`tapedown receive`)"]
    except ValueError:
        return ["the list of its entries was changed: restore a backup"]
    problems = _against_list(signed, listed) + _against_record(listed, held)
    earlier = all_signed.get(signed.value.follows)
    if earlier is not None and not problems:
        begins = signed_list(network, earlier) == listed[: int(earlier.value.entries.si)]
        problems += [] if begins else [f"it does not begin with the entries of {earlier.value.name!r}"]
    return problems


def _against_list(signed: Signed, listed: list[SignedLeaf]) -> list[str]:
    problems = []
    if hashlib.sha256(list_bytes(listed)).hexdigest() != signed.value.leaves:
        problems.append("the list of its entries was changed: restore a backup")
    if tree_head([one.digest for one in listed]).hex() != signed.value.tree_head:
        problems.append("its entries do not come to its tree head")
    if len(listed) != int(signed.value.entries.si):
        problems.append(f"it names {signed.value.entries.text} entries, its list has {len(listed)}")
    return problems


def _against_record(listed: list[SignedLeaf], held: Mapping[str, Entry]) -> list[str]:
    problems = []
    for one in listed:
        there = held.get(one.id)
        if there is None:
            problems.append(f"entry {one.id} is gone")
        elif not _whole(there) or leaf(entry_bytes(there)) != one.digest:
            problems.append(f"entry {one.id} is not as it was signed ({there.kind} of {there.about})")
        elif entry_digest(there) != there.digest:
            problems.append(f"entry {one.id} is as it was signed, but the digest kept beside it was changed")
    return problems


def _whole(held: Entry) -> bool:
    """Whether its fields are text and a number: a foreign hand may have put bytes there."""
    return all(isinstance(field, (str, int)) for field in held._replace(strikes=held.strikes or ""))


def prove_entry(network: OpenNetwork, entry_id: str, which: str = "") -> str:
    """A proof, as text, that an entry is in the signed set named, or in the newest that holds it.

    Raises
    ------
    NoSuchEntry, NoSuchSignOff, NotSigned, NoSuchBlob
    """
    to_prove = entry(network.record, entry_id)
    named = [find_signed(network, which)] if which else [s for s in sign_offs(network) if s.struck_by is None]
    for signed in named:
        listed = signed_list(network, signed)
        index = next((place for place, one in enumerate(listed) if one.id == entry_id), None)
        if index is not None:
            path = inclusion_path([one.digest for one in listed], index)
            return inclusion_text(to_prove, index, path, signed.entry)
    raise NotSigned(entry_id, f"{which!r}" if which else "any signed set")


def prove_begins(network: OpenNetwork, which: str) -> str:
    """A proof, as text, that a signed set begins with the one it goes on from.

    Raises
    ------
    NoSuchSignOff, FollowsNothing, NoSuchBlob
    """
    later = find_signed(network, which)
    earlier = next((one for one in sign_offs(network) if one.entry.id == later.value.follows), None)
    if earlier is None:
        raise FollowsNothing(later.value.name)
    leaves = [one.digest for one in signed_list(network, later)]
    path = consistency_path(leaves, int(earlier.value.entries.si))
    return consistency_text(earlier.entry, later.entry, path)
