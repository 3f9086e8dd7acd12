"""Entries carried between devices by file."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tapedown.cli.exits import SET_ASIDE
from tapedown.record import (
    Record,
    add,
    add_blob,
    append,
    blob,
    create_record,
    entries,
    entries_after,
    heads,
    kept_aside,
    open_record,
    verify,
)
from tapedown.values.ledger.entries import Draft
from tapedown.work.authorship import Author
from tapedown.work.marrow_fen import build
from tapedown.work.networks import OpenNetwork, open_network, start_network
from tapedown.work.sync.sending import receive, sending
from tapedown.work.wells.files import well_codes
from tapedown.work.wells.history import history
from tests.cli.conftest import VISIT, Ran, Run
from tests.work.conftest import SteppingClock

PHOTO = b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20


class Devices:
    """The office's record and the tablet's, both of Marrow Fen, and the commands given on each."""

    def __init__(self, run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.run, self.folder, self.environment = run, folder, monkeypatch

    def on(self, device: str, *command: str) -> Ran:
        place = self.folder / ("fen" if device == "office" else device)
        self.environment.setenv("TAPEDOWN_DEVICE", device)
        return self.run("-n", str(place), *command)

    def carry(self, giver: str, taker: str, *options: str) -> Ran:
        """What the taker lacks, from one to the other; gives what `receive` said."""
        path = self.folder / "carried.jsonl"
        path.unlink(missing_ok=True)
        (self.folder / "theirs.txt").write_text(self.on(taker, "heads").out)
        assert self.on(giver, "send", str(path), "--since-heads", str(self.folder / "theirs.txt")).code == 0
        return self.on(taker, "receive", str(path), *options)

    def told(self, device: str) -> list[Any]:
        """The history of the well as one device tells it."""
        rows: list[Any] = self.on(device, "history", "MF-07", "--json").json["rows"]
        return rows


@pytest.fixture
def devices(fen: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Devices:
    """Two devices with the same visit in their records."""
    (tmp_path / "visit.toml").write_text(VISIT)
    assert fen("visit", "visit.toml").code == 0
    both = Devices(fen, tmp_path, monkeypatch)
    assert both.on("office", "send", "whole.jsonl").code == 0
    assert both.on("tablet", "receive", "whole.jsonl").code == 0
    return both


def test_a_new_device_starts_from_what_was_sent(devices: Devices) -> None:
    assert devices.told("tablet") == devices.told("office")
    assert devices.on("tablet", "heads") == devices.on("office", "heads")
    assert devices.on("tablet", "verify").out.startswith("sound: 5 entries")


def test_the_same_file_may_be_received_twice(devices: Devices) -> None:
    before = devices.told("tablet")
    again = devices.on("tablet", "receive", "whole.jsonl")
    assert again.code == 0
    assert again.out == "0 entered, 5 already there, 0 kept aside, 0 refused; 0 new files\n"
    assert devices.told("tablet") == before


def test_only_what_the_other_side_lacks_is_sent(devices: Devices) -> None:
    nothing = devices.carry("office", "tablet")
    assert nothing.out.startswith("0 entered, 0 already there")
    assert devices.on("office", "add", "well", "MF-08", "name=Reed End").code == 0
    assert devices.carry("office", "tablet").out.startswith("1 entered, 0 already there")


def test_photos_travel_with_the_entries_that_name_them(devices: Devices, tmp_path: Path) -> None:
    (tmp_path / "notch.png").write_bytes(PHOTO)
    assert devices.on("office", "attach", "MF-07", "notch.png").code == 0
    assert "1 new file" in devices.carry("office", "tablet").out
    with open_record(tmp_path / "tablet") as record:
        (document,) = entries(record, kinds=["document"])
        assert blob(record, document.entry.data["sha256"]) == (PHOTO, "image/png")
    assert "0 new files" in devices.on("tablet", "receive", "carried.jsonl").out


def correct(devices: Devices, device: str, by: str, reading: str, reason: str) -> None:
    command = ("correct", "MF-07", "last", f"readings={reading}", "--reason", reason)
    done = devices.on(device, "--by", by, *command)
    assert done.code == 0, done.err


@pytest.fixture
def rivals(devices: Devices) -> Devices:
    """Two people, out of touch, corrected the same reading; the office was first."""
    correct(devices, "office", "J. Sedge", "84.80", "read 3 for 8")
    correct(devices, "tablet", "M. Teasel", "88.30", "read 48 for 88")
    assert devices.on("tablet", "add", "well", "MF-08", "name=Reed End").code == 0
    return devices


def test_rival_corrections_are_kept_and_both_records_agree(rivals: Devices) -> None:
    at_office = rivals.carry("tablet", "office")
    at_tablet = rivals.carry("office", "tablet")
    assert (at_office.code, at_tablet.code) == (SET_ASIDE, SET_ASIDE)
    assert "1 entered, 0 already there, 1 kept aside" in at_office.out
    assert "struck first by readings" in at_office.out
    assert "in place of readings" in at_tablet.out
    assert rivals.told("office") == rivals.told("tablet")
    assert rivals.on("office", "heads") == rivals.on("tablet", "heads")
    for device in ("office", "tablet"):
        assert "`tapedown rivals`" in rivals.on(device, "verify").out
        shown = rivals.on(device, "rivals").out
        assert (
            shown.index("written first")
            < shown.index("J. Sedge")
            < shown.index("kept aside")
            < shown.index("M. Teasel")
        )


def test_a_rival_is_settled_once_for_all_records(rivals: Devices) -> None:
    rivals.carry("tablet", "office")
    (waiting,) = rivals.on("office", "rivals", "--json").json
    end = waiting["kept_aside"]["id"][-8:]
    assert rivals.on("office", "settle", end).code == 3
    assert rivals.on("office", "settle", "ffffffff", "--reason", "x").code == 3
    assert rivals.on("office", "settle", end, "--reason", "the tape was read aloud again: 84.80").code == 0
    assert rivals.on("office", "rivals").out == "no correction waits for a decision\n"
    rivals.carry("office", "tablet")
    assert rivals.on("tablet", "rivals").out == "no correction waits for a decision\n"
    assert "settled by" in rivals.on("tablet", "rivals", "--settled").out
    assert rivals.told("office") == rivals.told("tablet")
    assert "rivals" not in rivals.on("tablet", "verify").out


def test_a_dry_run_tells_what_would_become_and_writes_nothing(rivals: Devices) -> None:
    before = rivals.on("office", "heads").out
    dry = rivals.carry("tablet", "office", "--dry-run", "--json")
    assert (dry.code, dry.json["dry_run"]) == (SET_ASIDE, True)
    assert rivals.on("office", "heads").out == before
    real = rivals.carry("tablet", "office", "--json")
    assert {**real.json, "dry_run": True} == dry.json
    assert real.json["counts"] == {"entered": 1, "already there": 0, "kept aside": 1, "refused": 0}


def test_a_dry_run_for_a_new_folder_makes_none(devices: Devices, tmp_path: Path) -> None:
    assert devices.on("phone", "receive", "whole.jsonl", "--dry-run").code == 0
    assert not (tmp_path / "phone").exists()


def test_a_line_changed_on_the_way_is_told_and_what_hangs_on_it_waits(devices: Devices, tmp_path: Path) -> None:
    lines = (tmp_path / "whole.jsonl").read_text().splitlines()
    lines[2] = lines[2].replace("Alder Carr", "Alder Car")
    lines[4] = lines[4][:-9]
    (tmp_path / "changed.jsonl").write_text("\n".join(lines))
    found = devices.on("phone", "receive", "changed.jsonl", "--json")
    assert found.code == SET_ASIDE
    assert found.json["counts"] == {"entered": 1, "already there": 0, "kept aside": 0, "refused": 3}
    assert "does not match its digest" in found.json["told"][0]["why"]
    assert "number 2 on" in found.json["told"][1]["why"] or "from 2 on" in found.json["told"][1]["why"]
    assert [bad["line"] if "line" in bad else bad["number"] for bad in found.json["bad_lines"]] == [5]
    words = devices.on("phone", "receive", "changed.jsonl").out
    assert "line 5: " in words
    assert "-> " in words
    mended = devices.on("phone", "receive", "whole.jsonl")
    assert mended.out.startswith("4 entered, 1 already there")


def test_entries_of_another_network_are_refused(devices: Devices, tmp_path: Path) -> None:
    other = ("--name", "Otter Fen", "--unit", "m", "--datum", "ODN", "--zone", "Europe/London")
    assert devices.on("office", "start", str(tmp_path / "other"), *other).code == 0
    refused = devices.on("other", "receive", "whole.jsonl")
    assert refused.code == 3
    assert "Marrow Fen" in refused.err
    assert "Otter Fen" in refused.err
    assert "NEWFOLDER" in refused.err
    with open_record(tmp_path / "other") as record:
        assert len(entries_after(record)) == 1


def test_no_record_is_made_among_other_things(devices: Devices, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "notch.png").write_bytes(PHOTO)
    refused = devices.on("photos", "receive", "whole.jsonl")
    assert refused.code == 3
    assert "NEWFOLDER" in refused.err
    assert [path.name for path in (tmp_path / "photos").iterdir()] == ["notch.png"]


def test_a_file_of_another_kind_makes_no_record(devices: Devices, tmp_path: Path) -> None:
    assert devices.on("phone", "receive", "visit.toml").code == 4
    assert devices.on("phone", "receive", "nowhere.jsonl").code == 4
    assert not (tmp_path / "phone").exists()


def test_sending_overwrites_nothing(devices: Devices, tmp_path: Path) -> None:
    before = (tmp_path / "whole.jsonl").read_bytes()
    refused = devices.on("office", "send", "whole.jsonl")
    assert refused.code == 4
    assert "nothing is overwritten" in refused.err
    assert (tmp_path / "whole.jsonl").read_bytes() == before
    assert devices.on("office", "send", "nowhere/whole.jsonl").code == 4


def test_words_from_elsewhere_do_not_steer_the_terminal(devices: Devices, tmp_path: Path) -> None:
    lines = (tmp_path / "whole.jsonl").read_text().splitlines()
    told = json.loads(lines[1])
    told["entry"]["by"] = told["entry"]["kind"] = "\x1b[2J"
    told["entry"]["id"] = "\x1b]0;x\x07"
    (tmp_path / "hostile.jsonl").write_text("\n".join([lines[0], json.dumps(told), '{"\\u001b[2J":1}']))
    assert "\x1b" not in devices.on("tablet", "receive", "hostile.jsonl").out


def carried(network: OpenNetwork, folder: Path) -> OpenNetwork:
    """A network made from what another sent."""
    lines = io.BytesIO(b"".join(sending(network).lines()))
    received = receive(str(folder), lines, "whole.jsonl")
    assert received.clean
    return open_network(folder)


def test_marrow_fen_sent_whole_tells_the_same_histories(tmp_path: Path) -> None:
    fen = build(tmp_path / "fen")
    copy = carried(fen, tmp_path / "copy")
    try:
        assert entries_after(copy.record) == entries_after(fen.record)
        assert entries(copy.record, struck=True) == entries(fen.record, struck=True)
        assert heads(copy.record) == heads(fen.record)
        assert well_codes(copy) == well_codes(fen)
        for code in well_codes(fen):
            assert history(copy, code) == history(fen, code)
        assert verify(copy.record, heads(fen.record)).sound
    finally:
        fen.record.close()
        copy.record.close()


READINGS = st.integers(0, 30_000).map(lambda hundredths: f"{hundredths / 100:.2f}")
STEPS = st.lists(st.tuples(st.sampled_from(["office", "tablet"]), READINGS, st.integers(0, 8), st.binary(max_size=9)))


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(steps=STEPS)
def test_whatever_was_entered_and_corrected_arrives_whole(
    steps: list[tuple[str, str, int, bytes]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("fen")
    clock = SteppingClock()
    facts = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    network = start_network(folder / "office", facts, Author("R. Alder", "office", clock))
    tablet = carried(network, folder / "tablet")
    records = {"office": network.record, "tablet": tablet.record}
    for device, reading, which, photo in steps:
        _enter(records[device], Author("R. Alder", device, clock), reading, which, photo)
    records["office"].close()
    records["tablet"].close()
    network, tablet = open_network(folder / "office"), open_network(folder / "tablet")
    receive(str(folder / "office"), io.BytesIO(b"".join(sending(tablet).lines())), "tablet.jsonl")
    copy = carried_with_rivals(network, folder / "copy")
    assert entries_after(copy.record) == entries_after(network.record)
    assert entries(copy.record, struck=True) == entries(network.record, struck=True)
    assert kept_aside(copy.record) == kept_aside(network.record)
    for entry in entries_after(network.record):
        if entry.kind == "document":
            assert blob(copy.record, entry.data["sha256"]) == blob(network.record, entry.data["sha256"])
    if well_codes(network):
        assert history(copy, "MF-07") == history(network, "MF-07")
    known = heads(network.record)
    for open_one in (network, tablet, copy):
        assert verify(open_one.record, known if open_one is not tablet else ()).sound
        open_one.record.close()


def carried_with_rivals(network: OpenNetwork, folder: Path) -> OpenNetwork:
    """The same where some may be kept aside; nothing may be refused."""
    received = receive(str(folder), io.BytesIO(b"".join(sending(network).lines())), "whole.jsonl")
    assert {receipt.outcome for receipt in received.receipts} <= {"entered", "kept aside"}
    assert not received.bad
    return open_network(folder)


def _enter(record: Record, author: Author, reading: str, which: int, photo: bytes) -> None:
    """A photo, a reading, or a correction of one that stands: whatever the numbers come to."""
    read = {"method": "weighted tape", "visit": "", "read": {"readings": [reading], "weight_interval": "1.20"}}
    standing = entries(record, kinds=["readings"])
    draft: Draft
    if photo and which < 3:
        sha256 = add_blob(record, photo, "image/png")
        told = {"sha256": sha256, "media_type": "image/png", "name": "notch.png", "caption": ""}
        draft = author.draft("document", "well/MF-07", told)
    elif which < len(standing):
        target = standing[which].entry.id
        draft = author.draft("readings", "well/MF-07", read, measured_at="2026-05-14", strikes=target, reason="misread")
    else:
        draft = author.draft("readings", "well/MF-07", read, measured_at="2026-05-14")
    append(record, author.device, [draft])


def test_two_who_corrected_the_same_all_see_one_value(tmp_path: Path) -> None:
    clock = SteppingClock()
    facts = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    office = start_network(tmp_path / "office", facts, Author("R. Alder", "office", clock))
    _enter(office.record, Author("R. Alder", "office", clock), "84.30", 8, b"")
    others = [carried(office, tmp_path / name) for name in ("tablet", "phone")]
    for network, device in zip([office, *others], ["office", "tablet", "phone"]):
        _enter(network.record, Author("M. Teasel", device, clock), "88.30", 0, b"")
    tablet, phone = others
    for giver, taker in ((phone, tablet), (tablet, office), (office, phone), (office, tablet)):
        add(taker.record, entries_after(giver.record, heads(taker.record)))
    told = [history(network, "MF-07").rows for network in (office, tablet, phone)]
    assert told[0] == told[1] == told[2]
    assert len([row for row in told[0] if row.struck_by is None]) == 1
    for network in (office, tablet, phone):
        network.record.close()


def test_an_empty_record_can_take_a_network_in(tmp_path: Path) -> None:
    create_record(tmp_path / "record.db").close()
    office = build_small(tmp_path / "office")
    copy = carried(office, tmp_path)
    assert entries_after(copy.record) == entries_after(office.record)
    office.record.close()
    copy.record.close()


def build_small(folder: Path) -> OpenNetwork:
    facts = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    return start_network(folder, facts, Author("R. Alder", "office", SteppingClock()))
