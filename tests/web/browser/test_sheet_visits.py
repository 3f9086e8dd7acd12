"""The field sheet at work: with no signal, killed in the middle, twice pressed; every visit arrives once, and whole."""

from __future__ import annotations

import hashlib
import json
import struct
import zlib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tapedown.record import blob, verify
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.work.field.pairing import devices, revoke
from tapedown.work.networks import open_network
from tapedown.work.wells.history import Row, find_row, history
from tests.web.browser import conftest
from tests.web.browser.sheet_server import PEN, FenOffice
from tests.web.browser.sheet_steps import (
    all_sent,
    arrive,
    finish,
    kept,
    pair,
    paired_with_round,
    read_chalk,
    send,
)

pytestmark = pytest.mark.slow


def kinds(office: FenOffice) -> Counter[str]:
    """How many entries of each kind phones have handed in."""
    return Counter(entry.kind for entry in office.from_phones())


def sound(office: FenOffice) -> bool:
    """Whether every entry is as it was written and where it was written."""
    with office.record() as record:
        return verify(record).sound


def test_two_visits_without_signal_with_a_reload_and_a_killed_page_arrive_once(phone: Any, office: FenOffice) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01", "MF-02"])
    context.set_offline(True)
    office.stop()

    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.5")])
    page.reload()  # in the middle of typing a reading
    cut = page.locator("#set-1-repeat-1-cut")
    assert cut.input_value() == "2.5"
    assert cut.evaluate("one => one === document.activeElement")
    cut.press("End")
    cut.type("2")
    page.close()  # killed: nothing is told to the page that it could act on

    page = context.new_page()
    page.goto(office.address)  # opens where the person was
    assert page.locator("#set-1-repeat-1-cut").input_value() == "2.52"
    finish(page)
    arrive(page, "MF-02")
    read_chalk(page, [("15.00", "1.20"), ("16.00", "2.21")])
    finish(page)
    assert page.locator("#out").inner_text() == "4 to send"

    office.start()
    context.set_offline(False)
    all_sent(page)
    assert kinds(office) == {"visit": 2, "readings": 2}
    assert sound(office)
    network = open_network(office.folder)
    with network.record:
        row = find_row(history(network, "MF-01"), "last chalked tape")
        assert row.entry.data["read"] == {
            "readings": [{"hold": "22.00 ft", "cut": "1.52 ft"}, {"hold": "23.00 ft", "cut": "2.52 ft"}],
            "tape": "ST-014", "weight": "W-03",
        }  # fmt: skip
        assert row.value is not None
        assert row.value.main is not None
        assert row.value.main.value_m / 0.3048 == pytest.approx(20.48 - 2.10, abs=1e-3)
        assert row.entry.by == "R. Alder"
        assert row.noted == ["as usual, nothing going on"]
        visits = [f.entry for f in history(network, "MF-02").file.of_kind("visit")]
        assert visits[-1].data["point_checked"] == "as described"
        assert visits[-1].data["cleaning"] == "wiped"
    send(page)
    assert kinds(office) == {"visit": 2, "readings": 2}
    assert kept(page, "drafts") == []


def test_a_browser_killed_outright_loses_no_keystroke(chromium: Any, office: FenOffice, tmp_path: Path) -> None:
    flags = {"executable_path": conftest.CHROMIUM, "args": conftest.FLAGS, **conftest.PHONE}
    context = chromium.launch_persistent_context(tmp_path / "phone", **flags)
    page = paired_with_round(context, office, ["MF-01"])
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.5")])
    page.locator("#set-1-repeat-0-cut").press("End")
    page.locator("#set-1-repeat-0-cut").type("2")
    page.wait_for_timeout(50)
    with pytest.raises(Exception, match="closed"):
        context.new_cdp_session(page).send("Browser.crash")
    context = chromium.launch_persistent_context(tmp_path / "phone", **flags)
    page = context.new_page()
    page.goto(office.address)
    assert page.locator("#set-1-repeat-0-cut").input_value() == "1.52"
    finish(page)
    send(page)
    assert kinds(office) == {"visit": 1, "readings": 1}
    context.close()


def test_an_answer_lost_on_the_way_doubles_nothing(phone: Any, office: FenOffice) -> None:
    context = phone(service_workers="block")
    office.plan("May round", ["MF-01"])
    page = context.new_page()
    pair(page, office)
    page.get_by_role("button", name="Take this round").click()
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    lost = []

    def lose(route: Any) -> None:
        lost.append(route.fetch().status)  # the office has the entries, the phone does not know
        route.abort()

    page.route("**/sheet/entries", lose)
    finish(page)
    page.evaluate("location.hash = '#phone'")
    page.get_by_text("the office cannot be reached").wait_for()
    assert lost == [200]
    assert page.locator("#out").inner_text() == "2 to send"
    page.unroute("**/sheet/entries")
    send(page)
    assert kinds(office) == {"visit": 1, "readings": 1}
    assert {row["state"] for row in kept(page, "outbox")} == {"sent"}
    assert sound(office)


def test_closing_twice_makes_one_visit(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    page.wait_for_timeout(100)
    made = page.evaluate("""async () => {
      const { close } = await import('/sheet/outbox.js');
      const { all } = await import('/sheet/store.js');
      const [draft] = await all('drafts');
      const fact = { kind: 'visit', about: 'well/MF-01', measured_at: '2026-05-14T10:20-04:00', by: 'R. Alder',
        body: { people: ['R. Alder'] } };
      return Promise.all([close(draft, [fact]), close(draft, [fact]), close(draft, [fact])]);
    }""")
    assert sorted(made) == [0, 0, 1]
    assert len(kept(page, "outbox")) == 1


def test_a_phone_paired_anew_hands_in_what_waited(phone: Any, office: FenOffice) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01"])
    network = open_network(office.folder)
    with network.record:
        old = devices(network)[0].device.name
        revoke(network, old, "phone lent out", PEN)
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    finish(page)
    page.evaluate("location.hash = '#phone'")
    page.get_by_text("its key was revoked").wait_for()
    page.evaluate(f"location.hash = '#pair={office.code()}'")
    page.get_by_label("What this phone is called").fill("the same phone")
    page.get_by_role("button", name="Pair", exact=True).click()
    page.get_by_role("heading", name="Marrow Fen").wait_for()
    send(page)
    arrived = office.from_phones()
    assert [entry.kind for entry in arrived] == ["visit", "readings"]
    assert {entry.device for entry in arrived} - {old} == {entry.device for entry in arrived}
    assert sound(office)


def test_what_the_office_refuses_is_told_and_holds_up_nothing_else(phone: Any, office: FenOffice) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01", "MF-02"])
    context.set_offline(True)
    for code in ("MF-01", "MF-02"):
        arrive(page, code)
        read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
        finish(page)
    page.evaluate("""async () => {
      const { all, put } = await import('/sheet/store.js');
      const rows = await all('outbox');
      const row = rows.find((one) => one.entry.sequence === 2);
      await put('outbox', { ...row, entry: { ...row.entry, body: row.entry.body.replace('1.52', '1.25') } });
    }""")
    context.set_offline(False)
    send(page)
    assert kinds(office) == {"visit": 2, "readings": 1}
    assert sound(office)
    assert page.get_by_text("it does not match its digest").is_visible()
    assert Counter(row["state"] for row in kept(page, "outbox")) == {"sent": 3, "refused": 1}


def test_a_record_put_back_from_a_backup_gets_the_lost_entries_again(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01", "MF-02"])
    office.stop()
    before = {path.name: path.read_bytes() for path in office.folder.iterdir() if path.is_file()}
    office.start()
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    finish(page)
    all_sent(page)
    office.stop()
    for path in office.folder.iterdir():
        if path.is_file():
            path.unlink()
    for name, data in before.items():
        (office.folder / name).write_bytes(data)
    office.start()
    assert kinds(office) == {}
    arrive(page, "MF-02")
    read_chalk(page, [("15.00", "1.20"), ("16.00", "2.20")])
    finish(page)
    send(page)
    page.wait_for_timeout(300)
    assert kinds(office) == {"visit": 2, "readings": 2}
    assert sound(office)


def png(width: int, height: int) -> bytes:
    """A picture of a plain colour."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = zlib.compress((b"\0" + b"\x20\x60\x80" * width) * height)
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def test_a_photo_taken_without_signal_arrives_made_smaller(phone: Any, office: FenOffice) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01"])
    context.set_offline(True)
    arrive(page, "MF-01")
    page.locator("#section-7 summary").click()
    files = page.locator("#section-7 input[type=file]")
    files.first.set_input_files({"name": "cap.png", "mimeType": "image/png", "buffer": png(3000, 1500)})
    page.get_by_label("What it shows").fill("the cap, cracked")
    files.last.set_input_files({"name": "note.txt", "mimeType": "text/plain", "buffer": b"no picture"})
    page.get_by_text("note.txt is no picture").wait_for()
    page.reload()
    assert page.get_by_label("What it shows").input_value() == "the cap, cracked"
    page.locator("#section-8 summary").click()
    page.get_by_label("or write the name").fill("R. Alder")
    page.get_by_role("button", name="Close visit").click()
    page.get_by_text("is closed:").wait_for()
    context.set_offline(False)
    all_sent(page)
    document = next(entry for entry in office.from_phones() if entry.kind == "document")
    with office.record() as record:
        photo = blob(record, document.data["sha256"])
    assert document.data["caption"] == "the cap, cracked"
    assert photo.media_type == "image/jpeg"
    assert hashlib.sha256(photo.bytes).hexdigest() == document.data["sha256"]
    assert jpeg_size(photo.bytes) == (2000, 1000)
    assert kept(page, "photos") == []


def jpeg_size(data: bytes) -> tuple[int, int]:
    """Width and height in a JPEG's frame header."""
    place = 2
    while data[place + 1] not in (0xC0, 0xC1, 0xC2):
        place += 2 + int.from_bytes(data[place + 2 : place + 4])
    return int.from_bytes(data[place + 7 : place + 9]), int.from_bytes(data[place + 5 : place + 7])


def test_the_history_of_the_well_stays_hidden_until_the_first_reading_stands(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    page.get_by_role("button", name="+ chalked tape").click()
    page.locator("#set-1-repeat-0-hold").fill("22.00")
    page.locator("#set-1-repeat-0-cut").type("1.5")
    assert page.get_by_text("Last readings", exact=True).count() == 0
    assert page.get_by_text("expected range").count() == 0
    page.locator("#set-1-repeat-0-cut").type("2")
    page.locator("#set-1-another").click()
    page.get_by_text("Last readings", exact=True).wait_for()
    page.get_by_text("he expected range").wait_for()


def test_a_well_read_before_in_the_round_sharpens_what_its_neighbour_should_show(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-02", "MF-07"])
    arrive(page, "MF-02")
    read_chalk(page, [("22.00", "8.00"), ("23.00", "9.00")])
    page.get_by_text("expected range").wait_for()
    finish(page)
    arrive(page, "MF-07")
    page.get_by_role("button", name="+ chalked tape").click()
    page.locator("#set-1-repeat-0-hold").fill("22.00")
    page.locator("#set-1-repeat-0-cut").fill("5.00")
    page.locator("#set-1-another").click()
    page.get_by_text("MF-02, read that day, lies").wait_for()


OLD_PACK = """async () => {
  const { all, put } = await import('/sheet/store.js');
  const [row] = await all('packs');
  row.pack.pack_version = 1;
  const level = { low_m: 3, high_m: 30, how: 'readings between 9.84 ft and 98.43 ft' };
  row.pack.wells[0].expected = { level, bottom: null };
  await put('packs', row);
}"""


def test_a_round_taken_before_the_sheet_was_renewed_keeps_its_own_range(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    page.evaluate(OLD_PACK)
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    page.get_by_text("Within the expected range, 19 readings in 20: 9.84 ft to 98.43 ft").wait_for()
    page.get_by_text("readings between 9.84 ft and 98.43 ft").wait_for()


def last_chalked(office: FenOffice, code: str) -> Row:
    """The last chalked level of a well, as the office works it out."""
    network = open_network(office.folder)
    with network.record:
        return find_row(history(network, code), "last chalked tape")


def in_feet(row: Row) -> str:
    """The value as the sheet shows it."""
    assert row.value is not None
    assert row.value.main is not None
    return f"{row.value.main.value_m / 0.3048:.2f} ft"


PACK_3 = """async () => {
  const { all, put } = await import('/sheet/store.js');
  const [row] = await all('packs');
  row.pack.pack_version = 3;
  for (const { fields } of Object.values(row.pack.forms.methods))
    for (const field of fields) { delete field.asked; delete field.gear; }
  await put('packs', row);
}"""


def test_a_round_taken_before_fields_told_their_gear_still_works_with_the_tape_in_hand(
    phone: Any, office: FenOffice
) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    page.evaluate(PACK_3)
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    assert page.locator("#set-1-tape").input_value() == "ST-014"
    page.get_by_text("readings 1 and 2 used").wait_for()
    shown = page.locator(".value .figure").inner_text()
    finish(page)
    send(page)
    row = last_chalked(office, "MF-01")
    assert shown == in_feet(row)
    assert row.entry.data["read"]["tape"] == "ST-014"


def test_the_value_of_the_sheet_is_the_value_of_the_office(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    page.get_by_text("readings 1 and 2 used").wait_for()
    shown = page.locator(".value .figure").inner_text()
    finish(page)
    send(page)
    assert shown == in_feet(last_chalked(office, "MF-01"))


def test_without_its_engine_the_sheet_still_keeps_and_sends(phone: Any, office: FenOffice) -> None:
    context = phone(service_workers="block")
    context.route("**/sheet/engine/**", lambda route: route.abort())
    office.plan("May round", ["MF-01"])
    page = context.new_page()
    pair(page, office)
    page.get_by_role("button", name="Take this round").click()
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.52")])
    page.get_by_text("The engine is not on this phone").wait_for()
    finish(page)
    send(page)
    assert kinds(office) == {"visit": 1, "readings": 1}


def test_a_reading_crossed_out_stays_readable_and_counts_no_more(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "9.52"), ("22.00", "1.52"), ("23.00", "2.52")])
    page.get_by_role("button", name="cross out or put back reading 1").click()
    finish(page)
    send(page)
    read = next(entry for entry in office.from_phones() if entry.kind == "readings").data["read"]
    assert [pair["cut"] for pair in read["readings"]] == ["1.52 ft", "2.52 ft"]
    assert read["remarks"] == "crossed out: hold 22.00 ft, cut 9.52 ft"


def test_a_gauge_below_the_point_and_minutes_shut_in_are_kept_as_meant(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-06"])
    arrive(page, "MF-06")
    page.get_by_role("button", name="+ flowing gauge").click()
    page.locator("#set-1-gauge_above_point").fill("0.45")
    page.get_by_role("button", name="below", exact=True).click()
    page.locator("#set-1-shut_in").fill("30")
    page.locator("#set-1-shut_in-unit").select_option("min")
    page.locator("#set-1-repeat-0-value").fill("3,1")
    page.locator("#set-1-repeat-0-value").press("Enter")
    page.locator("#set-1-repeat-1-value").fill(".9")
    page.reload()
    assert page.locator("#set-1-gauge_above_point").input_value() == "0.45"
    assert page.locator("#set-1-repeat-0-value").input_value() == "3,1"  # as typed
    finish(page)
    send(page)
    body = next(entry for entry in office.from_phones() if entry.kind == "readings").data
    assert body["read"] == {
        "gauge": "PG-011",
        "gauge_above_point": "-0.45 ft",
        "readings": ["3.1 psi", "0.9 psi"],
        "shut_in": "30 min",
    }
    assert readings_body(readings_from_body(body, "ft")[0]) == body  # type: ignore[arg-type]


COUNT_PRESSES = "addEventListener('click', () => (window.presses = (window.presses ?? 0) + 1), true)"


def test_a_quiet_well_takes_one_press_and_no_more_than_before(phone: Any, office: FenOffice) -> None:
    """Well, right well, next, what goes on, next, point as described, next: seven presses to the readings, as ever."""
    page = paired_with_round(phone(), office, ["MF-01"])
    page.evaluate(COUNT_PRESSES)
    arrive(page, "MF-01")
    assert page.evaluate("window.presses") == 7
    assert kept(page, "drafts")[0]["seen"] == {"quiet": True}


def test_something_that_goes_on_is_told_at_once_and_takes_the_quiet_back(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    page.locator("#section-3-top").click()
    page.get_by_text("Something goes on").click()
    page.get_by_role("group", name="a pump in this well").get_by_role("button", name="at rest").click()
    for word in ("rises", "drawing", "water falling in"):
        page.get_by_role("button", name=word, exact=True).click()
    page.get_by_role("textbox", name="pump since").fill("40 min")
    page.get_by_label("which").fill("mill")
    page.get_by_text("the pump stopped lately").wait_for()
    usual = page.get_by_role("button", name="As usual: nothing going on")
    assert usual.get_attribute("aria-pressed") == "false"
    read_chalk(page, [("22.00", "1.52"), ("23.00", "2.55"), ("24.00", "3.58")])
    page.get_by_role("textbox", name="apart").fill("5")
    page.get_by_text("of water that moves").wait_for()
    page.get_by_text("a level by chalked tape is in doubt").wait_for()
    page.locator("#section-6-top").click()
    page.get_by_role("button", name="wiped").click()
    page.locator("#section-8-top").click()
    page.get_by_label("or write the name").fill("J. Sedge")
    page.get_by_role("button", name="Close visit").click()
    page.get_by_text("is closed:").wait_for()
    send(page)
    network = open_network(office.folder)
    with network.record:
        visit = history(network, "MF-01").file.of_kind("visit")[-1].entry
    assert visit.data["seen"] == {
        "water": ["rises"], "pump": "at rest", "pump_since": "40 min", "in_the_hole": ["water falling in"],
        "near_by": [{"what": "drawing", "which": "mill"}],
    }  # fmt: skip


def test_a_draft_of_an_earlier_sheet_keeps_what_was_noted_in_its_remarks(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    page.get_by_role("link", name="back").click()
    page.get_by_role("link", name="MF-01").wait_for()
    page.evaluate("""async () => {
      const { all, put } = await import('/sheet/store.js');
      const [{ seen, ...draft }] = await all('drafts');
      await put('drafts', { ...draft, conditions: ['pumping', 'dry'], depth_reached: '61.2', remarks: 'windy' });
    }""")
    page.get_by_role("link", name="MF-01").click()
    page.locator("#section-7-top").click()
    text = page.get_by_label("Remarks", exact=True).input_value()
    assert text == "windy; noted before the sheet was renewed: pumping, dry; tape reached 61.2"


def test_a_dry_well_is_closed_with_the_depth_the_tape_reached(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-07"])
    page.get_by_role("link", name="MF-07").click()
    page.get_by_role("button", name="This is the well").click()
    page.get_by_role("button", name="Next: What goes on").click()
    page.get_by_text("Something goes on").click()
    page.get_by_role("button", name="not reached", exact=True).click()
    page.get_by_text("water was not reached, and how far the tape went is not written").wait_for()
    page.get_by_label("depth reached").fill("18.25")
    page.locator("#section-8-top").click()
    page.get_by_role("button", name="who writes").wait_for()
    page.get_by_role("button", name="no reading").wait_for(state="hidden")
    page.get_by_label("or write the name").fill("J. Sedge")
    page.get_by_role("button", name="Close visit").click()
    page.get_by_text("is closed:").wait_for()
    send(page)
    network = open_network(office.folder)
    with network.record:
        row = history(network, "MF-07").rows[-1]
    assert row.entry.by == "J. Sedge"
    assert row.entry.data["seen"] == {"water": ["not reached"], "depth_reached": "18.25 ft"}
    assert row.value is not None
    assert row.value.use == "deeper than"


def test_a_visit_only_looked_at_is_not_begun_and_one_begun_by_mistake_can_be_dropped(
    phone: Any, office: FenOffice
) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    page.get_by_role("link", name="MF-01").click()
    page.get_by_role("button", name="This is the well").wait_for()
    page.get_by_role("link", name="back").click()
    page.get_by_role("link", name="MF-01 Sluice House not begun").click()
    page.get_by_role("button", name="This is the well").click()
    page.locator("#section-8-top").click()
    drop = page.get_by_role("button", name="Begun by mistake")
    drop.click()
    page.get_by_text("Press again").wait_for()
    drop.click()
    page.get_by_role("link", name="MF-01 Sluice House not begun").wait_for()
    assert kept(page, "drafts") == []


def test_hostile_words_come_back_as_words(phone: Any, office: FenOffice) -> None:
    hostile = "<img src=x onerror=document.title='owned'> </script> \u202e‮ 💧 \"quoted\" 'single' \\ & é"
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    page.locator("#section-7 summary").click()
    page.get_by_label("Remarks").fill(hostile + "\nsecond line")
    page.reload()
    assert page.get_by_label("Remarks").input_value() == hostile + "\nsecond line"
    page.locator("#section-8 summary").click()
    page.get_by_label("or write the name").fill("<b>R. Alder</b>")
    page.get_by_role("button", name="Close visit").click()
    page.get_by_text("is closed:").wait_for()
    all_sent(page)
    visit = office.from_phones()[0]
    assert visit.data["remarks"] == hostile + "\nsecond line"
    assert visit.by == "<b>R. Alder</b>"
    assert page.locator("img").count() == 0
    assert page.title() == "Field sheet"


def test_what_cannot_be_read_is_told_and_not_closed_over(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52"), ("23.00", "")])
    page.locator("#set-1-repeat-0-cut").fill("1.5x2")
    page.locator("#section-8 summary").click()
    page.get_by_label("or write the name").fill("R. Alder")
    page.get_by_role("button", name="Close visit").click()
    assert page.get_by_role("button", name="5: chalked tape: reading 2 has no cut").is_visible()
    assert page.get_by_role("button", name="write the number alone").is_visible()
    assert len(kept(page, "drafts")) == 1
    page.locator("#set-1-repeat-0-cut").fill("1.52")
    page.locator("#set-1-repeat-1-cut").fill("2,52")
    page.get_by_role("button", name="Close visit").click()
    page.get_by_text("is closed:").wait_for()
    send(page)
    read = next(entry for entry in office.from_phones() if entry.kind == "readings").data["read"]
    assert [pair["cut"] for pair in read["readings"]] == ["1.52 ft", "2.52 ft"]


def test_a_sheet_open_twice_writes_in_one_place_only(phone: Any, office: FenOffice) -> None:
    context = phone()
    first = paired_with_round(context, office, ["MF-01"])
    arrive(first, "MF-01")
    second = context.new_page()
    second.goto(office.address)
    second.get_by_text("open in another tab").wait_for()
    second.get_by_role("button", name="Go on here").click()
    second.locator("#section-5[open]").wait_for()
    first.get_by_text("open in another tab").wait_for()


def test_a_copy_for_emergencies_holds_what_was_written_and_no_key(phone: Any, office: FenOffice) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01", "MF-02"])
    context.set_offline(True)
    arrive(page, "MF-01")
    read_chalk(page, [("22.00", "1.52")])
    finish(page)
    arrive(page, "MF-02")
    page.evaluate("location.hash = '#phone'")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save a copy").click()
    text = Path(download.value.path()).read_text(encoding="utf-8")
    copy = json.loads(text)
    assert [row["entry"]["kind"] for row in copy["outbox"]] == ["visit", "readings"]
    assert [draft["code"] for draft in copy["drafts"]] == ["MF-02"]
    key = page.evaluate("async () => (await (await import('/sheet/store.js')).get('facts', 'device')).key")
    assert key
    assert key not in text


def test_a_well_to_be_measured_again_is_opened_without_what_was_read_there(phone: Any, office: FenOffice) -> None:
    """MF-10 was drawn for a blind repeat in September 2025 and waits."""
    page = paired_with_round(phone(), office, ["MF-01", "MF-10"])
    page.get_by_role("link", name="MF-10").click()
    page.get_by_text("To be measured again, blind:").wait_for()
    assert "drawn for a blind repeat. What was read here before is not shown." in page.inner_text("body")
    page.go_back()
    page.get_by_role("link", name="MF-01").click()
    page.get_by_role("button", name="This is the well").wait_for()
    assert page.get_by_text("To be measured again, blind:").count() == 0
