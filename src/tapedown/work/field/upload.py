"""What a phone hands in: entries chained on it, and photos.

The office takes what was written at the well as it was written. It refuses what the phone had no business writing, and
tells what it cannot read; an entry that enters but cannot be read is still a fact.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from tapedown.record import Blob, Head, Receipt, add, add_blob, blob, entries, heads
from tapedown.record.errors import NoSuchBlob
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import FIRST, Entry
from tapedown.values.times import is_measured_at
from tapedown.work.authorship import now
from tapedown.work.entry.documents import NotKept, media_type
from tapedown.work.field.packs import PHOTO_TYPES
from tapedown.work.networks import OpenNetwork
from tapedown.work.wells.files import well_codes

KINDS_TAKEN = ("visit", "readings", "document", "strike")
CLOCK_AHEAD = timedelta(hours=1)
"""How far a phone's clock may be ahead before it is told."""
LONGEST_ABOUT = 200
DEEPEST = 100


class OtherBytes(TapedownError):
    """The bytes are not those that were named."""

    def __init__(self, named: str, found: str) -> None:
        super().__init__(
            f"the bytes have sha256 {found[:12]}..., not {named[:12]}...",
            hint="send the photo again; it was cut short or changed on the way",
        )


def head_of(network: OpenNetwork, device: str) -> Head:
    """Where a device's chain ends in the record; number 0 when it holds nothing of it."""
    return next((head for head in heads(network.record) if head.device == device), Head(device, 0, FIRST))


def hand_in(
    network: OpenNetwork, device: str, offered: Sequence[Entry], clock: Callable[[], datetime] = now
) -> list[Receipt]:
    """Take in entries of one device; a receipt for each, in the order given.

    A receipt's `why` tells what could not be read of an entry that entered.
    """
    refusals = [_not_its_business(device, one) for one in offered]
    allowed = [one for one, why in zip(offered, refusals) if not why]
    codes = set(well_codes(network))
    added = zip(allowed, add(network.record, allowed))
    receipts = (_told(receipt, one, network, codes, clock()) for one, receipt in added)
    return [Receipt(one.id, "refused", why) if why else next(receipts) for one, why in zip(offered, refusals)]


def _not_its_business(device: str, offered: Entry) -> str:
    """Why a phone may not write this, "" when it may."""
    if offered.device != device:
        return f"it is of device {offered.device!r}, and this key is of {device}; each device hands in its own entries"
    if offered.kind not in KINDS_TAKEN:
        return f"a phone does not write {offered.kind!r}; enter it in the office"
    if not offered.about.startswith("well/") or not 5 < len(offered.about) <= LONGEST_ABOUT:
        return f"it is about {offered.about[:40]!r}; a phone writes about wells"
    if _too_deep(offered.body):
        return f"its body holds groups within groups, more than {DEEPEST} deep"
    if not is_measured_at(offered.measured_at):
        return f"its time is {offered.measured_at[:40]!r}; write it like 2026-05-14T10:20+01:00"
    if offered.kind == "strike" and offered.strikes is None:
        return "it is a strike that strikes nothing"
    return ""


def _too_deep(body: str) -> bool:
    """Whether brackets stand deeper than any form goes; those in text count too, which no real text comes near."""
    depth = deepest = 0
    for character in body:
        depth += (character in "[{") - (character in "]}")
        deepest = max(deepest, depth)
    return deepest > DEEPEST


def _told(receipt: Receipt, offered: Entry, network: OpenNetwork, codes: set[str], moment: datetime) -> Receipt:
    """The receipt of an entry that is held, with what the office cannot make of the entry."""
    if receipt.outcome == "refused":
        return receipt
    doubts = [f"{problem.place or offered.kind}: {problem.message}" for problem in _problems(offered, network.unit)]
    code = offered.subject
    if code not in codes:
        doubts.append(f"no well {code!r} in this network")
    if offered.measured_at[:10] > (moment + timedelta(days=1)).date().isoformat():
        doubts.append(f"its day, {offered.measured_at[:10]}, is still to come")
    if datetime.fromisoformat(offered.written_at) - moment > CLOCK_AHEAD:
        doubts.append(f"the device's clock is ahead of the office: it wrote {offered.written_at}")
    unread = f"kept, but look at it: {'; '.join(doubts)}" if doubts else ""
    return receipt._replace(why="; ".join(filter(None, (receipt.why, unread))))


def _problems(offered: Entry, length_unit: str) -> Sequence[Problem]:
    return KINDS[offered.kind].read(offered.data, length_unit)[1]


def keep_photo(network: OpenNetwork, named: str, data: bytes, said_type: str) -> str:
    """Keep a photo under its SHA-256; the same one again changes nothing.

    Raises
    ------
    OtherBytes
        The bytes do not have the SHA-256 named.
    NotKept
        Too large, empty, no JPEG or PNG, or not what it was said to be.
    """
    kind = media_type(data, "the photo")
    if kind not in PHOTO_TYPES or kind != said_type:
        raise NotKept(f"the photo is {kind}, sent as {said_type[:40]!r}", hint="send a JPEG or PNG as what it is")
    sha256 = hashlib.sha256(data).hexdigest()
    if sha256 != named:
        raise OtherBytes(named, sha256)
    return add_blob(network.record, data, kind)


def photo(network: OpenNetwork, sha256: str) -> Blob:
    """A photo that a document of the network names.

    Raises
    ------
    NoSuchBlob
    """
    image = document(network, sha256)
    if image.media_type not in PHOTO_TYPES:
        raise NoSuchBlob(f"{sha256[:12]}... is no photo", hint="fetch the pack again")
    return image


def document(network: OpenNetwork, sha256: str) -> Blob:
    """A photo or paper that a document of the network names; bytes that nothing names are not handed out.

    Raises
    ------
    NoSuchBlob
    """
    for held in entries(network.record, kinds=["document"]):
        if held.entry.data.get("sha256") == sha256:
            return blob(network.record, sha256)
    raise NoSuchBlob(f"no photo or paper {sha256[:12]}... in this network", hint="its bytes may not have come in yet")
