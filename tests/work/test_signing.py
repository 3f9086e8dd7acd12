"""What was signed can be shown as it stood, proved entry by entry without the record, and one altered byte shows."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from tapedown.exchange.ledger.proof_file import check_proof
from tapedown.exchange.sheets import UnreadableSheet
from tapedown.record import backup, create_record, entries, open_record
from tapedown.values.errors import TapedownError
from tapedown.values.ledger.entries import Entry, entry_bytes
from tapedown.values.ledger.merkle import leaf, tree_head
from tapedown.values.results import BELOW_LAND
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import correct, enter_fact, strike
from tapedown.work.networks import OpenNetwork, network_of, place_of_record
from tapedown.work.refusals import NoSuchWell, WrittenWrong
from tapedown.work.review.proving import FollowsNothing, NotSigned, prove_begins, prove_entry, verify_signed
from tapedown.work.review.remeasures import ask_again
from tapedown.work.review.reviewing import set_quality
from tapedown.work.review.signing import (
    NoSuchSignOff,
    NothingToSign,
    ReviewsMissing,
    Scope,
    Signed,
    as_signed,
    covering,
    delivery,
    find_signed,
    scope_of_round,
    sign_off,
    signed_list,
    unreviewed_in,
)
from tapedown.work.rounds.planning import make_round
from tapedown.work.sync.sending import receive, sending
from tests.work.conftest import SteppingClock
from tests.work.test_reviewing import measure

STATEMENT = "read, reviewed and complete"


@pytest.fixture
def read(network: OpenNetwork, author: Author) -> list[Entry]:
    """Three readings at MF-07, each looked at by M. Teasel."""
    found = [
        measure(network, author, "MF-07", f"2025-0{m}-11T09:00", "15.02", "15.02", by="J. Sedge") for m in (1, 2, 3)
    ]
    for one in found:
        set_quality(network, "MF-07", one, "good", "sheet seen", author._replace(by="M. Teasel"))
    return found


def sign(network: OpenNetwork, author: Author, name: str = "2025", scope: Scope | None = None, **more: str) -> Signed:
    return sign_off(network, name, STATEMENT, scope or Scope(), author._replace(by="M. Teasel"), **more)


def test_a_sign_off_names_its_set_and_the_head_follows_from_the_entries(
    network: OpenNetwork, author: Author, read: list[Entry]
) -> None:
    held = [h.entry for h in entries(network.record, struck=True)]
    signed = sign(network, author)
    assert signed.value.tree_head == tree_head([leaf(entry_bytes(entry)) for entry in held]).hex()
    assert signed.value.entries.text == str(len(held))
    assert (signed.entry.by, signed.entry.data["statement"]) == ("M. Teasel", STATEMENT)
    told = delivery(network)
    assert told is not None
    assert (told.tree_head, told.entries) == (signed.value.tree_head, len(held))
    assert signed.value.tree_head in told.words


def test_signing_is_refused_while_looks_are_missing_unless_told_why(
    network: OpenNetwork, author: Author, read: list[Entry]
) -> None:
    late = measure(network, author, "MF-07", "2025-04-11T09:00", "15.02")
    with pytest.raises(ReviewsMissing) as refused:
        sign(network, author)
    (problem,) = refused.value.problems
    assert "MF-07 2025-04-11T09:00 electric tape" in problem.place
    assert late.id[-8:] in problem.mend
    assert entries(network.record, kinds=["sign-off"]) == []
    signed = sign(network, author, unreviewed="the April sheet is on its way")
    assert (signed.value.unreviewed.text, signed.value.why_unreviewed) == ("1", "the April sheet is on its way")


def test_an_open_request_to_measure_again_keeps_a_set_from_being_signed(
    network: OpenNetwork, author: Author, read: list[Entry]
) -> None:
    ask_again(network, "MF-07", read[0].id, "odd", author)
    assert [one.lacks for one in unreviewed_in(network, Scope())] == ["to be measured again: odd"]


def test_the_scope_is_wells_period_round_and_time(network: OpenNetwork, author: Author, read: list[Entry]) -> None:
    enter_fact(network, "well", "MF-08", {"name": "Depot"}, author)
    other = measure(network, author, "MF-08", "2025-02-12T09:00", "15.02")
    february = sign(network, author, "February", Scope(("MF-07",), "2025-02-01", "2025-02-28"))
    ids = {one.id for one in signed_list(network, february)}
    assert read[1].id in ids
    assert not ids & {read[0].id, read[2].id, other.id}
    planned = make_round(network, {"name": "spring", "day": "2025-02-10", "wells": ["MF-07", "MF-08"]}, author)
    scope = scope_of_round(network, planned.id)
    assert (scope.since, scope.until, set(scope.wells)) == ("2025-02-10", "2025-02-12", {"MF-07", "MF-08"})
    with pytest.raises(NoSuchWell):
        sign(network, author, "none", Scope(("MF-99",)))
    with pytest.raises(NothingToSign):
        sign(network, author, "none", Scope(("MF-07",), "2031-01-01"))
    with pytest.raises(WrittenWrong):
        sign(network, author, "", unreviewed="no name")


def test_as_of_leaves_out_what_was_written_later(
    network: OpenNetwork, author: Author, read: list[Entry], clock: SteppingClock
) -> None:
    before = clock().isoformat()
    late = measure(network, author, "MF-07", "2025-04-11T09:00", "15.02")
    signed = sign(network, author, as_of=before)
    assert late.id not in {one.id for one in signed_list(network, signed)}


def test_what_was_signed_is_shown_as_it_stood_and_what_was_struck_since(
    network: OpenNetwork, author: Author, read: list[Entry]
) -> None:
    signed = sign(network, author)
    mended = correct(network, read[1].id, {"readings": ["16.02", "16.02"]}, "read the wrong foot", author)
    later = {"name": "MP-2", "height": "2.40", "side": "above", "description": "cut down", "why": "road gang"}
    enter_fact(network, "measuring point", "MF-07", later, author, measured_at="2025-03-01")
    found = as_signed(network, signed)
    values = [row.value.result(BELOW_LAND) for row in found.rows["MF-07"] if row.value]
    assert [round(v.value_m / 0.3048, 2) for v in values if v] == [11.62, 11.62, 11.62]
    assert found.struck == {read[1].id: mended.entry}
    assert covering(network, "MF-07") == [signed]


def test_an_entry_that_comes_late_changes_nothing_that_was_signed(
    network: OpenNetwork, author: Author, read: list[Entry], tmp_path: Path
) -> None:
    away = Author("J. Sedge", "phone", SteppingClock())
    receive_all(network, tmp_path / "other")
    other = open_record(place_of_record(tmp_path / "other"))
    elsewhere = network_of(other)
    late = strike(elsewhere, read[0].id, "another well", away)[0]
    signed = sign(network, author)
    taken = receive_from(elsewhere, network)
    other.close()
    assert taken
    assert late.written_at < signed.value.as_of
    found = as_signed(network, signed)
    assert [row.entry.id for row in found.rows["MF-07"]] == [one.id for one in read]
    assert found.struck == {read[0].id: late}
    assert all(proof.sound for proof in verify_signed(network))


def receive_all(network: OpenNetwork, folder: Path) -> None:
    folder.mkdir()
    create_record(place_of_record(folder)).close()
    _hand_over(network, str(folder), folder.parent / "sent")


def receive_from(network: OpenNetwork, into: OpenNetwork) -> int:
    where = Path(into.record.where)
    return _hand_over(network, str(where), where.parent.parent / "back")


def _hand_over(network: OpenNetwork, where: str, file: Path) -> int:
    file.write_bytes(b"".join(sending(network).lines()))
    with file.open("rb") as lines:
        return len(receive(where, lines, "sent").receipts)


def test_a_signed_set_travels_with_its_entries(
    network: OpenNetwork, author: Author, read: list[Entry], tmp_path: Path
) -> None:
    signed = sign(network, author)
    receive_all(network, tmp_path / "other")
    with open_record(place_of_record(tmp_path / "other")) as other:
        (proof,) = verify_signed(network_of(other))
        assert proof.sound
        assert prove_entry(network_of(other), read[0].id) == prove_entry(network, read[0].id)
        assert proof.signed.entry == signed.entry


def test_an_entry_is_proved_without_the_record(network: OpenNetwork, author: Author, read: list[Entry]) -> None:
    signed = sign(network, author)
    text = prove_entry(network, read[1].id)
    checked = check_proof(text.encode(), "proof.json", signed.value.tree_head)
    assert checked.holds
    assert "J. Sedge" in checked.words
    other = check_proof(text.encode(), "proof.json", "00" * 32)
    assert not other.holds
    late = measure(network, author, "MF-07", "2025-04-11T09:00", "15.02")
    with pytest.raises(NotSigned):
        prove_entry(network, late.id)
    with pytest.raises(NoSuchSignOff):
        prove_entry(network, read[1].id, "2031")


def test_every_changed_character_of_a_proof_is_found(network: OpenNetwork, author: Author, read: list[Entry]) -> None:
    """Every character of the file in turn, but for the blanks and commas of its layout."""
    signed = sign(network, author)
    text = json.dumps(json.loads(prove_entry(network, read[1].id)), separators=(",", ":"))
    for place, letter in enumerate(text):
        other = "1" if letter != "1" else "2"
        changed = f"{text[:place]}{other}{text[place + 1 :]}".encode()
        try:
            checked = check_proof(changed, "proof.json", signed.value.tree_head)
        except UnreadableSheet:
            continue
        assert not checked.holds, text[max(0, place - 30) : place + 10]


def test_a_later_set_is_proved_to_begin_with_the_earlier(
    network: OpenNetwork, author: Author, read: list[Entry]
) -> None:
    first = sign(network, author)
    with pytest.raises(FollowsNothing):
        prove_begins(network, "2025")
    strike(network, read[0].id, "another well", author)
    second = sign(network, author, "2025 again")
    assert second.value.follows == first.entry.id
    before, after = signed_list(network, first), signed_list(network, second)
    assert after[: len(before)] == before
    text = prove_begins(network, "2025 again")
    assert check_proof(text.encode(), "proof.json", second.value.tree_head).holds
    told = json.loads(text)
    told["tapedown proof"]["path"][0] = "00" * 32
    assert not check_proof(json.dumps(told).encode(), "proof.json").holds


@pytest.mark.parametrize(
    "spoilt", [b"", b"[]", b"{}", b'{"tapedown proof": {"version": 1}}', b"\xff", b'{"tapedown proof": 7}']
)
def test_what_is_no_proof_is_told(spoilt: bytes) -> None:
    with pytest.raises(UnreadableSheet, match=r"proof\.json"):
        check_proof(spoilt, "proof.json")


def test_one_altered_byte_of_a_signed_entry_is_found_wherever_it_lies_in_the_file(
    network: OpenNetwork, author: Author, read: list[Entry], tmp_path: Path
) -> None:
    """The row of a signed entry in a copy of the file: the first and last byte of every field, and every 29th byte."""
    sign(network, author)
    backup(network.record, tmp_path / "sound.db")
    sound, found = (tmp_path / "sound.db").read_bytes(), read[1]
    texts = [found.id, found.kind, found.about, found.measured_at, found.written_at, found.by, found.body]
    start = sound.find("".join(texts).encode())
    assert start > 0
    ends, place = set(), 0
    for text in texts:
        ends |= {place, place + len(text.encode()) - 1}
        place += len(text.encode())
    digest = sound.find(found.digest.encode(), start)
    for number, offset in enumerate([*sorted(ends | set(range(0, place, 29))), digest - start]):
        altered = bytearray(sound)
        altered[start + offset] ^= 1
        copy = tmp_path / f"copy-{number}.db"
        copy.write_bytes(altered)
        with open_record(copy) as record:
            (told,) = verify_signed(network_of(record))
            assert not told.sound, offset
            assert found.id in " ".join(told.problems)


def test_a_signed_entry_that_moved_in_its_chain_is_found(
    network: OpenNetwork, author: Author, read: list[Entry], tmp_path: Path
) -> None:
    sign(network, author)
    copy = tmp_path / "copy.db"
    backup(network.record, copy)
    with sqlite3.connect(copy) as connection:
        connection.execute("DROP TRIGGER entries_not_changed")
        connection.execute("UPDATE entries SET sequence = sequence + 1000 WHERE id = ?", [read[1].id])
    connection.close()
    with open_record(copy) as record:
        (told,) = verify_signed(network_of(record))
        assert told.problems == (f"entry {read[1].id} is not as it was signed (readings of well/MF-07)",)


def test_an_altered_list_of_a_signed_set_is_found(
    network: OpenNetwork, author: Author, read: list[Entry], tmp_path: Path
) -> None:
    signed = sign(network, author)
    copy = tmp_path / "copy.db"
    backup(network.record, copy)
    with sqlite3.connect(copy) as connection:
        connection.execute("DROP TRIGGER blobs_not_changed")
        (data,) = connection.execute("SELECT bytes FROM blobs WHERE sha256 = ?", [signed.value.leaves]).fetchone()
        changed = data[:-2] + (b"0" if data[-2:-1] != b"0" else b"1") + data[-1:]
        connection.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", [changed, signed.value.leaves])
    connection.close()
    with open_record(copy) as record:
        (told,) = verify_signed(network_of(record))
        assert "the list of its entries was changed" in told.problems[0]


def test_a_sign_off_is_found_by_name_end_or_last_and_a_withdrawn_one_no_longer_counts(
    network: OpenNetwork, author: Author, read: list[Entry]
) -> None:
    signed = sign(network, author)
    assert find_signed(network, "2025") == find_signed(network, "last") == find_signed(network, signed.entry.id[-8:])
    strike(network, signed.entry.id, "signed too early", author)
    assert covering(network, "MF-07") == []
    assert find_signed(network, signed.entry.id[-8:]).struck_by is not None
    with pytest.raises(NoSuchSignOff):
        find_signed(network, "last")


def test_refusals_are_of_the_one_family() -> None:
    assert issubclass(ReviewsMissing, TapedownError)
