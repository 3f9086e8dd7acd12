"""Pairing a phone: codes that are good once and briefly, keys of which only a digest is kept."""

from __future__ import annotations

import hashlib
import re
from datetime import timedelta

import pytest

from tapedown.record import add, entries
from tapedown.record.errors import AlreadyStruck
from tapedown.values.ledger.entries import FIRST, chained
from tapedown.work.authorship import Author
from tapedown.work.field.pairing import (
    ALPHABET,
    Codes,
    CodeUnknown,
    KeyUnknown,
    NoSuchDevice,
    TooManyTries,
    device_of_key,
    devices,
    pair,
    revoke,
)
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import ReasonMissing, WrittenWrong
from tests.work.conftest import SteppingClock


@pytest.fixture
def codes(clock: SteppingClock) -> Codes:
    return Codes(clock)


def test_a_code_is_easy_to_read_aloud(codes: Codes) -> None:
    assert re.fullmatch(f"[{ALPHABET}]{{4}}-[{ALPHABET}]{{4}}", codes.make("M. Teasel").text)
    assert not set("0OQ1IL5S8B2Z") & set(ALPHABET)


def test_a_code_may_be_typed_in_small_letters_and_without_its_dash(codes: Codes) -> None:
    code = codes.make("M. Teasel")
    assert codes.use(" " + code.text.lower().replace("-", " ")) == code


def test_a_code_is_good_once(codes: Codes) -> None:
    code = codes.make("M. Teasel")
    codes.use(code.text)
    with pytest.raises(CodeUnknown):
        codes.use(code.text)


def test_a_code_is_good_for_ten_minutes(codes: Codes, clock: SteppingClock) -> None:
    early, late = codes.make("M. Teasel"), codes.make("M. Teasel")
    clock.moment += timedelta(minutes=9, seconds=30)
    codes.use(early.text)
    clock.moment += timedelta(seconds=40)
    with pytest.raises(CodeUnknown):
        codes.use(late.text)


@pytest.mark.parametrize("wrong", ["", "-", "AAAA-AAAA", "ÄÖÜ", "\ud800", "A" * 10_000])
def test_a_wrong_code_is_refused_with_the_mend(codes: Codes, wrong: str) -> None:
    codes.make("M. Teasel")
    with pytest.raises(CodeUnknown) as caught:
        codes.use(wrong)
    assert "new code" in caught.value.hint


def test_after_five_wrong_tries_even_the_right_code_waits_a_minute(codes: Codes, clock: SteppingClock) -> None:
    code = codes.make("M. Teasel")
    for _ in range(5):
        with pytest.raises(CodeUnknown):
            codes.use("AAAA-AAAA")
    with pytest.raises(TooManyTries):
        codes.use(code.text)
    clock.moment += timedelta(minutes=1)
    assert codes.use(code.text) == code


def test_pairing_writes_who_let_the_phone_in_and_only_the_digest_of_its_key(
    network: OpenNetwork, codes: Codes, author: Author
) -> None:
    paired = pair(network, codes, codes.make("M. Teasel").text, "Pixel of R. Alder", author)
    (held,) = entries(network.record, kinds=["device"])
    assert (held.entry.by, held.entry.about) == ("M. Teasel", f"device/{paired.device}")
    assert held.entry.device == "desk"
    assert held.entry.data["key_sha256"] == hashlib.sha256(paired.key.encode()).hexdigest()
    assert paired.key not in held.entry.body
    assert re.fullmatch(r"[A-Za-z0-9_-]{43}", paired.key)
    assert re.fullmatch(r"phone-[0-9a-f]{8}", paired.device)


def test_a_label_that_cannot_be_kept_does_not_use_up_the_code(
    network: OpenNetwork, codes: Codes, author: Author
) -> None:
    code = codes.make("M. Teasel")
    with pytest.raises(WrittenWrong):
        pair(network, codes, code.text, "a\x00b", author)
    assert pair(network, codes, code.text, "tablet", author).key


def test_a_key_opens_for_its_own_device_until_it_is_revoked(network: OpenNetwork, codes: Codes, author: Author) -> None:
    one, other = (pair(network, codes, codes.make("M. Teasel").text, label, author) for label in ("one", "other"))
    assert device_of_key(network, one.key).name == one.device
    assert device_of_key(network, other.key).name == other.device
    with pytest.raises(ReasonMissing):
        revoke(network, one.device, "", author)
    revoke(network, one.device, "left in a ditch", author)
    with pytest.raises(KeyUnknown):
        device_of_key(network, one.key)
    assert device_of_key(network, other.key).name == other.device
    with pytest.raises(AlreadyStruck):
        revoke(network, one.device, "again", author)
    with pytest.raises(NoSuchDevice):
        revoke(network, "phone-00000000", "never was", author)


@pytest.mark.parametrize("wrong", ["", "x", "\ud800", "é" * 43, "0" * 64])
def test_a_key_that_is_none_opens_nothing(network: OpenNetwork, codes: Codes, author: Author, wrong: str) -> None:
    paired = pair(network, codes, codes.make("M. Teasel").text, "", author)
    digest = entries(network.record, kinds=["device"])[0].entry.data["key_sha256"]
    for key in (wrong, digest, paired.key + "=", paired.key[:-1]):
        with pytest.raises(KeyUnknown):
            device_of_key(network, key)


def test_the_list_of_phones_shows_each_ones_last_entry(network: OpenNetwork, codes: Codes, author: Author) -> None:
    quiet = pair(network, codes, codes.make("M. Teasel").text, "quiet", author)
    busy = pair(network, codes, codes.make("M. Teasel").text, "busy", author)
    previous, written = FIRST, []
    for sequence in (1, 2):
        draft = author.draft(
            "visit", "well/MF-07", {"remarks": f"stop {sequence}"}, measured_at="2026-05-14T10:20+01:00"
        )
        written.append(chained(draft, device=busy.device, sequence=sequence, previous=previous))
        previous = written[-1].digest
    add(network.record, written)
    found = {one.device.name: one for one in devices(network)}
    assert (found[busy.device].last, found[quiet.device].last) == (written[-1], None)
    assert list(found) == [busy.device, quiet.device]
