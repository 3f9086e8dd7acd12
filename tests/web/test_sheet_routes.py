"""The way in from the field: files of the sheet, pairing, packs, entries, photos, and the pages about them.

Entries are made here by a serializer of our own that follows the script's rules, not by the program's own.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import time
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from tapedown.exchange.shapes import EntryJson
from tapedown.record import append, entries, verify
from tapedown.values.ledger.entries import Entry, entry_digest
from tapedown.web.app import create_app
from tapedown.web.sheet_routes import EntryIn
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import OpenNetwork, start_network
from tapedown.work.rounds.planning import make_round
from tests.web.conftest import HOME, NETWORK, POINT, Browser
from tests.work.conftest import SteppingClock

BASE = HOME
SAME = {"origin": BASE}
SHARED = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[2].parent / "shared"))
HOSTILE = SHARED / "standards" / "bad-input-blns" / "blns.json"
JPEG = b"\xff\xd8\xff\xe0" + b"the gate at Alder Carr " * 9
READING = {"method": "electric tape", "read": {"readings": ["45.12 ft", "45.12 ft"]}, "seen": {"quiet": True}}
ORDER = Entry._fields[:-1]
CHAIN_JS = Path(__file__).parents[2] / "src" / "tapedown" / "web" / "sheet" / "chain.js"
SHORT = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\f": "\\f", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def quoted(text: str) -> str:
    """A string as ECMA-262 has JSON.stringify write it."""
    out = []
    for letter in text:
        small, half = ord(letter) < 0x20, 0xD800 <= ord(letter) <= 0xDFFF
        out.append(SHORT.get(letter) or (f"\\u{ord(letter):04x}" if small or half else letter))
    return f'"{"".join(out)}"'


def script_json(value: Any) -> str:
    """Canonical JSON as the sheet's script makes it."""
    if value is None:
        return "null"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, list):
        return f"[{','.join(map(script_json, value))}]"
    return "{" + ",".join(f"{quoted(key)}:{script_json(value[key])}" for key in sorted(value)) + "}"


class Client(Browser):
    """A browser that follows where it is sent, and tells what came."""

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.ask("GET", path, **{"follow_redirects": True, **more})

    def send(self, path: str, **more: Any) -> httpx.Response:
        return self.ask("POST", path, follow_redirects=True, **more)

    def put(self, path: str, **more: Any) -> httpx.Response:
        return self.ask("PUT", path, **more)


class Phone:
    """A paired phone: writes entries in its chain and hands them in."""

    def __init__(self, client: Client, device: str, key: str) -> None:
        self.client, self.device = client, device
        self.headers = {"authorization": f"Bearer {key}", **SAME}
        self.sequence, self.previous = 0, "0" * 64

    def write(self, kind: str, says: Any, **changes: Any) -> dict[str, Any]:
        self.sequence += 1
        entry: dict[str, Any] = {
            "id": uuid7(), "kind": kind, "about": "well/MF-07", "measured_at": "2026-05-14T10:20-04:00",
            "written_at": f"2026-05-14T14:20:{self.sequence:02d}.000000Z", "by": "R. Alder", "body": script_json(says),
            "strikes": None, "reason": "", "device": self.device, "sequence": self.sequence, "previous": self.previous,
            **changes,
        }  # fmt: skip
        said = script_json([entry[name] for name in ORDER])
        entry["digest"] = hashlib.sha256(said.encode()).hexdigest()
        self.previous = entry["digest"]
        return entry

    def get(self, path: str) -> Any:
        return self.client.get(path, headers=self.headers)

    def send(self, *made: dict[str, Any]) -> Any:
        return self.client.send("/sheet/entries", json={"entries": list(made)}, headers=self.headers)

    def receipts(self, *made: dict[str, Any]) -> list[tuple[str, str]]:
        answer = self.send(*made)
        assert answer.status_code == 200, answer.text
        return [(receipt["outcome"], receipt["why"]) for receipt in answer.json()["receipts"]]

    def put(self, sha256: str, data: bytes, kind: str = "image/jpeg") -> Any:
        return self.client.put(f"/sheet/blobs/{sha256}", content=data, headers={**self.headers, "content-type": kind})


def uuid7() -> str:
    digits = f"{int(time.time() * 1000):012x}7{secrets.token_hex(2)[:3]}8{secrets.token_hex(8)[:15]}"
    return f"{digits[:8]}-{digits[8:12]}-{digits[12:16]}-{digits[16:20]}-{digits[20:]}"


@pytest.fixture
def network(tmp_path: Path, author: Author, clock: SteppingClock) -> Iterator[OpenNetwork]:
    """Marrow Fen with one well that nobody has visited; it is the afternoon of 14 May."""
    found = start_network(tmp_path / "fen", NETWORK, author)
    enter_fact(found, "well", "MF-07", {"name": "Alder Carr"}, author)
    enter_fact(found, "measuring point", "MF-07", POINT, author, measured_at="2015-05-01")
    clock.moment = datetime(2026, 5, 14, 18, 0, tzinfo=UTC)
    yield found
    found.record.close()


@pytest.fixture
def client(network: OpenNetwork, clock: SteppingClock) -> Iterator[Client]:
    app = create_app(network.record.where, device="desk", clock=clock)
    yield Client(app)
    app.state.office.record.close()


def token_of(client: Client, page: str) -> str:
    found = re.search(r'name="token" value="([0-9a-f]+)"', client.get(page).text)
    assert found
    return found.group(1)


def code_of(client: Client) -> str:
    page = client.send("/pair", data={"token": token_of(client, "/pair"), "by": "M. Teasel"}, headers=SAME)
    found = re.search(r"<code>([A-Z0-9]{4}-[A-Z0-9]{4})</code>", page.text)
    assert found, page.text
    return found.group(1)


def pair(client: Client, code: str, label: str = "Pixel of R. Alder") -> Any:
    return client.send("/sheet/pair", json={"code": code, "label": label}, headers=SAME)


def paired(client: Client) -> Phone:
    told = pair(client, code_of(client)).json()
    return Phone(client, told["device"], told["key"])


@pytest.fixture
def phone(client: Client) -> Phone:
    return paired(client)


def planned(network: OpenNetwork, author: Author, name: str = "North fen") -> str:
    return make_round(network, {"name": name, "day": "2026-05-14", "wells": ["MF-07"]}, author).id


# pairing


def test_the_code_on_the_page_pairs_a_phone_once(client: Client, network: OpenNetwork) -> None:
    code = code_of(client)
    told = pair(client, code).json()
    assert told["network"] == {"name": "Marrow Fen"}
    assert len(told["key"]) == 43
    again = pair(client, code)
    assert (again.status_code, set(again.json()["error"])) == (403, {"message", "hint", "places"})
    (held,) = entries(network.record, kinds=["device"])
    assert (held.entry.by, held.entry.data["label"]) == ("M. Teasel", "Pixel of R. Alder")


def test_an_old_code_pairs_nothing(client: Client, clock: SteppingClock) -> None:
    code = code_of(client)
    clock.moment += timedelta(minutes=11)
    assert pair(client, code).status_code == 403


def test_after_five_wrong_codes_pairing_waits_a_minute(client: Client, clock: SteppingClock) -> None:
    code = code_of(client)
    assert [pair(client, "AAAA-AAAA").status_code for _ in range(5)] == [403] * 5
    assert pair(client, code).status_code == 429
    clock.moment += timedelta(minutes=1)
    assert pair(client, code).status_code == 200


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{", b'{"code": 5}', b'{"code": "A", "more": 1}', b"\xff", b"9" * 20_000]
)
def test_a_pairing_request_of_another_shape_is_refused_in_the_one_shape(client: Client, body: bytes) -> None:
    answer = client.send("/sheet/pair", content=body, headers=SAME)
    assert answer.status_code in {413, 422}
    assert answer.json()["error"]["message"]


def test_a_code_is_made_only_from_a_form_of_the_office(client: Client) -> None:
    token_of(client, "/pair")
    assert client.send("/pair", data={"by": "M. Teasel", "token": "0" * 64}, headers=SAME).status_code == 403
    assert (
        client.send("/sheet/pair", json={"code": "AAAA-AAAA"}, headers={"origin": "http://fen.example"}).status_code
        == 403
    )
    assert client.send("/sheet/pair", json={"code": "AAAA-AAAA"}).status_code == 403


def test_nobody_makes_a_code_without_a_name(client: Client) -> None:
    page = client.send("/pair", data={"token": token_of(client, "/pair"), "by": " "}, headers=SAME)
    assert page.status_code == 422
    assert "write your name" in page.text


# keys


@pytest.mark.parametrize(
    "path", ["/sheet/rounds.json", "/sheet/head.json", "/sheet/packs/x.json", "/sheet/blobs/" + "0" * 64]
)
@pytest.mark.parametrize("key", [None, "Bearer ", "Bearer wrong", "Basic eDp4", "Bearer \xff"])
def test_without_a_good_key_nothing_is_told(client: Client, path: str, key: str | None) -> None:
    headers = {} if key is None else {"authorization": key.encode("latin-1")}
    answer = client.get(path, headers=headers)
    assert (answer.status_code, set(answer.json())) == (401, {"error"})


def test_the_key_is_asked_for_before_anything_is_read(client: Client) -> None:
    for answer in (
        client.send("/sheet/entries", content=b"{", headers=SAME),
        client.put("/sheet/blobs/" + "0" * 64, content=b"", headers=SAME),
    ):
        assert answer.status_code == 401


def test_a_revoked_phone_is_shut_out_and_what_it_wrote_stays(
    client: Client, phone: Phone, network: OpenNetwork
) -> None:
    phone.receipts(phone.write("visit", {"seen": {"quiet": True}}))
    form = {"token": token_of(client, "/pair"), "by": "M. Teasel", "reason": "left in a ditch"}
    page = client.send(f"/pair/{phone.device}/revoke", data=form, headers=SAME)
    assert page.status_code == 200
    assert "revoked" in page.text
    assert phone.get("/sheet/rounds.json").status_code == 401
    assert phone.send(phone.write("visit", {})).status_code == 401
    assert len(entries(network.record, kinds=["visit"])) == 1


def test_a_phone_is_not_revoked_without_a_reason(client: Client, phone: Phone) -> None:
    form = {"token": token_of(client, "/pair"), "by": "M. Teasel", "reason": ""}
    assert client.send(f"/pair/{phone.device}/revoke", data=form, headers=SAME).status_code == 422
    assert phone.get("/sheet/head.json").status_code == 200


# rounds and packs


def test_a_phone_sees_open_rounds_and_takes_their_packs(network: OpenNetwork, author: Author, phone: Phone) -> None:
    which = planned(network, author)
    (told,) = phone.get("/sheet/rounds.json").json()["rounds"]
    assert (told["id"], told["name"], told["day"], told["wells"]) == (which, "North fen", "2026-05-14", ["MF-07"])
    pack = phone.get(f"/sheet/packs/{which}.json").json()
    assert (pack["round"]["id"], pack["wells"][0]["code"]) == (which, "MF-07")
    assert phone.get(f"/sheet/packs/{uuid7()}.json").status_code == 404


def test_a_round_is_gone_from_the_list_once_its_wells_were_visited(
    network: OpenNetwork, author: Author, phone: Phone
) -> None:
    planned(network, author)
    phone.receipts(phone.write("visit", {"seen": {"quiet": True}}))
    assert phone.get("/sheet/rounds.json").json() == {"rounds": []}


# entries


def test_a_visit_written_by_the_script_enters_as_it_was_written(phone: Phone, network: OpenNetwork) -> None:
    visit = phone.write("visit", {"people": ["R. Alder"], "seen": {"quiet": True}})
    readings = phone.write("readings", {**READING, "visit": visit["id"]})
    assert phone.get("/sheet/head.json").json() == {"device": phone.device, "sequence": 0, "digest": "0" * 64}
    answer = phone.send(visit, readings).json()
    assert [receipt["outcome"] for receipt in answer["receipts"]] == ["entered", "entered"]
    assert answer["head"] == {"device": phone.device, "sequence": 2, "digest": readings["digest"]}
    held = [h.entry for h in entries(network.record, kinds=["visit", "readings"])]
    assert [entry._asdict() for entry in held] == [visit, readings]
    assert verify(network.record).sound


def test_the_same_entries_again_change_nothing(phone: Phone, network: OpenNetwork) -> None:
    visit = phone.write("visit", {"seen": {"quiet": True}})
    assert phone.receipts(visit) == [("entered", "")]
    assert phone.receipts(visit, visit) == [("already there", ""), ("already there", "")]
    assert len(entries(network.record, kinds=["visit"])) == 1


def test_entries_of_another_phone_are_refused_whole_or_in_part(client: Client, phone: Phone) -> None:
    other = paired(client)
    foreign, own = other.write("visit", {}), phone.write("visit", {"seen": {"quiet": True}})
    (refused, why), (entered, _) = phone.receipts(foreign, own)
    assert (refused, entered) == ("refused", "entered")
    assert "its own entries" in why


@pytest.mark.parametrize(
    "kind", ["well", "network", "device", "round", "measuring point", "review", "import", "nonsense"]
)
def test_a_phone_writes_only_what_is_written_at_wells(phone: Phone, kind: str) -> None:
    ((outcome, why),) = phone.receipts(phone.write(kind, {}))
    assert outcome == "refused"
    assert "in the office" in why


@pytest.mark.parametrize(
    ("changes", "said"),
    [({"about": "network"}, "about wells"), ({"about": "device/phone-1"}, "about wells"),
     ({"about": "well/"}, "about wells"),
     ({"about": "well/" + "x" * 400}, "about wells"), ({"measured_at": "noon"}, "its time"),
     ({"measured_at": ""}, "its time"),
     ({"measured_at": "0001-01-01T00:00+23:00"}, "its time"), ({"by": ""}, "by is empty"),
     ({"written_at": "yesterday"}, "written_at"), ({"body": '{"a": 1}'}, "canonical"), ({"body": "[]"}, "canonical"),
     ({"body": "{" + '"a":[' * 300 + "]" * 300 + "}"}, "deep")],
)  # fmt: skip
def test_an_entry_that_could_not_be_kept_or_read_back_is_refused_and_says_why(
    phone: Phone, changes: dict[str, str], said: str
) -> None:
    ((outcome, why),) = phone.receipts(phone.write("visit", {}, **changes))
    assert outcome == "refused"
    assert said in why


def test_an_entry_changed_on_the_way_is_refused(phone: Phone) -> None:
    changed = {**phone.write("visit", {}), "by": "J. Sedge"}
    ((outcome, why),) = phone.receipts(changed)
    assert (outcome, "digest" in why) == ("refused", True)


UNREADABLE: list[tuple[str, Any, str]] = [
    ("readings", {**READING, "read": {"readings": ["45.x"]}}, "unit 'x'"),
    ("readings", {**READING, "read": {"readings": ["9" * 400]}}, "digits"),
    ("readings", {**READING, "read": ["45.12"]}, "not a group"),
    ("readings", {**READING, "method": "guess"}, "no method"),
    ("readings", {**READING, "conditions": 5}, "conditions"),
    ("readings", {**READING, "conditions": [["static"]]}, "conditions"),
    ("readings", {}, "no method"),
    ("visit", {"conditions": ["damp"]}, "damp"),
    ("visit", {"conditions": 5}, "conditions"),
    ("visit", {"colour": "blue"}, "colour"),
    ("visit", {"people": {"a": "b"}}, "people"),
    ("document", {"name": "gate.jpg"}, "sha256"),
]


@pytest.mark.parametrize(("kind", "body", "said"), UNREADABLE)
def test_what_cannot_be_read_is_kept_and_told_and_the_pages_still_open(
    client: Client, phone: Phone, kind: str, body: Any, said: str
) -> None:
    ((outcome, why),) = phone.receipts(phone.write(kind, body))
    assert outcome == "entered"
    assert "kept, but look at it" in why
    assert said in why
    for page in ("/", "/rounds", "/wells/MF-07", "/wells/MF-07.json", "/rounds.json"):
        assert client.get(page).status_code == 200, page


def test_a_visit_to_a_well_nobody_knows_is_kept_and_told(phone: Phone) -> None:
    ((outcome, why),) = phone.receipts(phone.write("visit", {"seen": {"quiet": True}}, about="well/MF-99"))
    assert outcome == "entered"
    assert "no well 'MF-99'" in why


def test_a_visit_on_a_day_to_come_is_kept_and_told(phone: Phone) -> None:
    ((outcome, why),) = phone.receipts(
        phone.write("visit", {"seen": {"quiet": True}}, measured_at="2062-05-14T10:20-04:00")
    )
    assert (outcome, "still to come" in why) == ("entered", True)


def test_a_phone_whose_clock_is_ahead_is_told(phone: Phone) -> None:
    visit = phone.write("visit", {"seen": {"quiet": True}}, written_at="2026-05-15T14:20:00.000000Z")
    ((outcome, why),) = phone.receipts(visit)
    assert outcome == "entered"
    assert "clock is ahead" in why


def test_a_phone_strikes_its_own_entries_and_no_others(phone: Phone, network: OpenNetwork, author: Author) -> None:
    (office,) = append(network.record, "desk", [author.draft("visit", "well/MF-07", {}, measured_at="2026-05-14")])
    mine = phone.write("visit", {"seen": {"quiet": True}})
    withdrawn = phone.write("strike", {}, strikes=mine["id"], reason="wrong well")
    assert [outcome for outcome, _ in phone.receipts(mine, withdrawn)] == ["entered", "entered"]
    foreign = phone.write("strike", {}, strikes=office.id, reason="no")
    ((outcome, why),) = phone.receipts(foreign)
    assert (outcome, "of another device" in why) == ("refused", True)
    phone.sequence, phone.previous = 2, withdrawn["digest"]
    for strikes in (None, uuid7()):
        assert phone.receipts(phone.write("strike", {}, strikes=strikes, reason="no"))[0][0] == "refused"
        phone.sequence, phone.previous = 2, withdrawn["digest"]


@pytest.mark.parametrize("kind", ["measuring point", "network"])
def test_a_phone_cannot_make_an_office_entry_its_own_by_writing_under_its_id(
    phone: Phone, network: OpenNetwork, kind: str
) -> None:
    victim = next(held.entry for held in entries(network.record, kinds=[kind]))
    dummy = phone.write("visit", {"seen": {"quiet": True}}, id=victim.id)
    phone.sequence, phone.previous = 0, "0" * 64
    withdrawn = phone.write("strike", {}, about=victim.about, strikes=victim.id, reason="no")
    assert [outcome for outcome, _ in phone.receipts(dummy, withdrawn)] == ["refused", "refused"]
    assert victim in [held.entry for held in entries(network.record, kinds=[kind])]


def test_a_correction_that_was_beaten_to_it_is_kept_aside_and_told(
    phone: Phone, network: OpenNetwork, clock: SteppingClock
) -> None:
    visit = phone.write("visit", {"seen": {"quiet": True}})
    phone.receipts(visit)
    office = Author("M. Teasel", "desk", lambda: datetime(2026, 5, 14, 14, 20, 1, 500_000, tzinfo=UTC))
    clock.moment = datetime(2026, 5, 14, 18, 0, tzinfo=UTC)
    draft = office.draft("strike", "well/MF-07", {}, strikes=visit["id"], reason="entered twice")
    append(network.record, "office laptop", [draft])
    ((outcome, why),) = phone.receipts(phone.write("strike", {}, strikes=visit["id"], reason="wrong well"))
    assert outcome == "kept aside"
    assert "M. Teasel" in why


def shapes() -> list[tuple[str, bytes]]:
    good: dict[str, Any] = {**dict.fromkeys((*ORDER, "digest"), ""), "id": uuid7(), "strikes": None, "sequence": 1}
    wrong: list[dict[str, Any]] = [
        {**good, "id": "x"}, {**good, "id": good["id"] + "\n"}, {**good, "sequence": 0}, {**good, "sequence": "1"},
        {**good, "sequence": 2**70}, {**good, "by": None}, {**good, "body": {}}, {**good, "more": ""}, {"id": uuid7()},
    ]  # fmt: skip
    found = [(str(n), json.dumps({"entries": [entry]}).encode()) for n, entry in enumerate(wrong)]
    found += [("too many", json.dumps({"entries": [good] * 501}).encode()), ("no list", b'{"entries": {}}')]
    return [
        *found,
        ("nothing", b""),
        ("half", b'{"entries": ['),
        ("deep", b"[" * 100_000),
        ("NaN", b'{"entries": NaN}'),
    ]


@pytest.mark.parametrize(("name", "body"), shapes(), ids=[name for name, _ in shapes()])
def test_a_request_of_another_shape_is_refused_with_its_places(phone: Phone, name: str, body: bytes) -> None:
    answer = phone.client.send("/sheet/entries", content=body, headers=phone.headers)
    assert answer.status_code == 422
    assert answer.json()["error"]["places"]


def test_more_than_two_megabytes_at_once_are_refused(phone: Phone) -> None:
    async def in_pieces() -> AsyncIterator[bytes]:
        for _ in range(3):
            yield b" " * 1_000_000

    for body in (b" " * 2_000_001, in_pieces()):
        assert phone.client.send("/sheet/entries", content=body, headers=phone.headers).status_code == 413


def test_every_hostile_string_comes_back_as_it_was_sent(
    client: Client, phone: Phone, network: OpenNetwork, author: Author
) -> None:
    if not HOSTILE.is_file():
        pytest.skip(f"the list of hostile strings is not at {HOSTILE}")
    strings = [text for text in json.loads(HOSTILE.read_text(encoding="utf-8")) if text]
    made = [phone.write("visit", {"seen": {"quiet": True}, "remarks": text},
                        written_at="2026-05-14T14:20:00.000000Z") for text in strings]  # fmt: skip
    for start in range(0, len(made), 400):
        assert {outcome for outcome, _ in phone.receipts(*made[start : start + 400])} == {"entered"}
    held = [h.entry for h in entries(network.record, kinds=["visit"])]
    assert [entry.data["remarks"] for entry in held] == strings
    assert [entry_digest(entry) for entry in held] == [entry["digest"] for entry in made]
    which = planned(network, author)
    for page in ("/rounds", f"/rounds/{which}", "/pair", "/wells/MF-07"):
        answer = client.get(page)
        assert answer.status_code == 200
        assert "<script>alert" not in answer.text
    assert phone.get(f"/sheet/packs/{which}.json").status_code == 200


@pytest.mark.parametrize("text", ["\x00", "a\x1f\x7f\u2028\u2029b", '\\"/\b\f\n\r\t', "Ünlü 井戸 🜄", "\ufeff\uffff"])
def test_the_scripts_digest_is_the_programs_digest(text: str) -> None:
    made = Phone(Client(FastAPI()), "phone-1", "key").write(
        "visit", {"remarks": text, "b": [text, {"z": text, "a": ""}]}
    )
    assert entry_digest(Entry(**made)) == made["digest"]


# photos


def test_a_photo_arrives_whole_and_is_handed_out_again(phone: Phone) -> None:
    sha256 = hashlib.sha256(JPEG).hexdigest()
    assert phone.get(f"/sheet/blobs/{sha256}").status_code == 404
    body = {"sha256": sha256, "media_type": "image/jpeg", "name": "gate.jpg", "caption": "the gate"}
    assert phone.receipts(phone.write("document", body)) == [("entered", "")]
    assert phone.get(f"/sheet/blobs/{sha256}").status_code == 404
    for _ in range(2):
        assert phone.put(sha256, JPEG).json() == {"sha256": sha256}
    answer = phone.get(f"/sheet/blobs/{sha256}")
    assert (answer.content, answer.headers["content-type"]) == (JPEG, "image/jpeg")
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_file_that_no_document_names_is_not_handed_out(phone: Phone) -> None:
    sha256 = phone.put(hashlib.sha256(JPEG).hexdigest(), JPEG).json()["sha256"]
    assert phone.get(f"/sheet/blobs/{sha256}").status_code == 404


@pytest.mark.parametrize(
    ("data", "named", "kind", "status"),
    [(JPEG, b"other", "image/jpeg", 422), (JPEG, JPEG, "image/png", 415), (b"<svg/>", b"<svg/>", "image/jpeg", 415),
     (b"", b"", "image/jpeg", 415), (b"%PDF-1.4", b"%PDF-1.4", "application/pdf", 415), (JPEG, JPEG, "", 415)],
)  # fmt: skip
def test_a_photo_that_is_not_what_it_says_is_refused(
    phone: Phone, data: bytes, named: bytes, kind: str, status: int
) -> None:
    assert phone.put(hashlib.sha256(named).hexdigest(), data, kind).status_code == status


@pytest.mark.parametrize("name", ["x", "A" * 64, "..%2f..%2frecord.db", "0" * 63])
def test_a_photo_is_named_by_its_digest_and_nothing_else(phone: Phone, name: str) -> None:
    assert phone.put(name, JPEG).status_code in {404, 405, 422}
    assert phone.get(f"/sheet/blobs/{name}").status_code in {404, 422}


def test_a_photo_larger_than_thirty_megabytes_is_refused(phone: Phone) -> None:
    large = JPEG + bytes(30_000_000)
    assert phone.put(hashlib.sha256(large).hexdigest(), large).status_code == 413


# the sheet's files


def test_every_file_of_the_sheet_is_served_with_its_type_and_may_not_be_mixed_with_an_older_one(
    client: Client,
) -> None:
    told = client.get("/sheet/version.json").json()
    assert told["files"][0] == "/sheet/"
    assert "/sheet/engine/worker.js" in told["files"]
    assert len(set(told["files"])) == len(told["files"])
    for path in told["files"]:
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert answer.headers["cache-control"] == "no-cache"
        assert client.get(path, headers={"if-none-match": answer.headers["etag"]}).status_code == 304
    assert client.get("/sheet/").headers["content-type"] == "text/html; charset=utf-8"
    assert client.get("/sheet", follow_redirects=False).headers["location"] == "/sheet/"


def test_only_the_engines_worker_may_compile_what_it_runs(client: Client) -> None:
    policies = {
        path: client.get(path).headers["content-security-policy"]
        for path in client.get("/sheet/version.json").json()["files"]
    }
    assert [path for path, policy in policies.items() if "unsafe-eval" in policy] == ["/sheet/engine/worker.js"]
    assert not [path for path, policy in policies.items() if "unsafe-inline" in policy]


@pytest.mark.parametrize(
    "name",
    ["__init__.py", "engine/bundle.py", "engine/sheet_engine.txt", "../app.py", "..%2fapp.py", "%2e%2e/app.py",
     "engine/", "engine/../../app.py", "..\\app.py", "/etc/passwd", "%2fetc%2fpasswd", "index.html%00.css",
     "nothing.js", "~"],
)  # fmt: skip
def test_nothing_but_the_sheets_own_files_is_served(client: Client, name: str) -> None:
    answer = client.get(f"/sheet/{name}")
    assert answer.status_code == 404
    assert "__future__" not in answer.text


# the pages of the office


def test_a_round_is_made_on_the_page_from_the_wells_ticked(
    client: Client, network: OpenNetwork, author: Author
) -> None:
    enter_fact(network, "well", "MF-08", {"dirtier": "dirty"}, author)
    form = {"token": token_of(client, "/rounds"), "wells": ["MF-08", "MF-07"], "name": "North fen", "day": "2026-05-15",
            "who": "R. Alder, J. Sedge", "by": "M. Teasel"}  # fmt: skip
    shown = client.send("/rounds", data={**form, "do": "order"}, headers=SAME)
    assert shown.text.index("MF-07 Alder Carr") < shown.text.rindex("MF-08")
    assert not entries(network.record, kinds=["round"])
    page = client.send("/rounds", data={**form, "do": "make"}, headers=SAME)
    assert page.status_code == 200
    (told,) = client.get("/rounds.json").json()["rounds"]
    assert (told["wells"], told["who"], told["made_by"], told["open"]) == (
        ["MF-07", "MF-08"], ["R. Alder", "J. Sedge"], "M. Teasel", True)  # fmt: skip
    beside = client.get(f"/rounds/{told['id']}.json").json()
    assert beside["load"]
    assert client.get(f"/rounds/{told['id']}/pack.json").json()["round"]["id"] == told["id"]


def test_a_round_form_with_mistakes_comes_back_as_it_was_typed(client: Client, network: OpenNetwork) -> None:
    form = {"token": token_of(client, "/rounds"), "wells": ["MF-07"], "name": "", "day": "2026-05-15",
            "who": "R. Alder <b>", "remarks": "boat", "by": "M. Teasel", "do": "make"}  # fmt: skip
    page = client.send("/rounds", data=form, headers=SAME)
    assert page.status_code == 422
    assert "Nothing was written" in page.text
    for typed in ('value="2026-05-15"', "R. Alder &lt;b&gt;", 'value="boat"', 'value="MF-07" checked'):
        assert typed in page.text
    nobody = client.send("/rounds", data={**form, "name": "North fen", "by": ""}, headers=SAME)
    assert (nobody.status_code, "write your name" in nobody.text) == (422, True)
    assert not entries(network.record, kinds=["round"])


def test_a_round_is_withdrawn_with_a_reason(client: Client, network: OpenNetwork, author: Author) -> None:
    which = planned(network, author)
    form = {"token": token_of(client, f"/rounds/{which}"), "by": "M. Teasel"}
    refused = client.send(f"/rounds/{which}/withdraw", data={**form, "reason": ""}, headers=SAME)
    assert refused.status_code == 422
    page = client.send(f"/rounds/{which}/withdraw", data={**form, "reason": "storm"}, headers=SAME)
    assert (page.status_code, "Withdrawn" in page.text) == (200, True)
    assert client.get("/rounds.json").json()["rounds"] == []


def test_a_round_that_is_not_there_is_said_to_be_so(client: Client) -> None:
    assert client.get("/rounds/nothing").status_code == 404
    assert client.get("/rounds/nothing.json").json()["error"]["hint"]


def test_the_list_of_phones_shows_no_key_and_no_code(client: Client, phone: Phone, network: OpenNetwork) -> None:
    code_of(client)
    phone.receipts(phone.write("visit", {"seen": {"quiet": True}}))
    (told,) = client.get("/pair.json").json()["devices"]
    assert told == {
        "name": phone.device, "label": "Pixel of R. Alder", "paired_by": "M. Teasel", "paired_at": told["paired_at"],
        "revoked_by": None, "entries": 1, "last_at": "2026-05-14T14:20:01.000000Z",
    }  # fmt: skip
    digest = entries(network.record, kinds=["device"])[0].entry.data["key_sha256"]
    page = client.get("/pair").text
    assert digest not in page
    assert not re.search(r"<code>[A-Z0-9]{4}-[A-Z0-9]{4}</code>", page)


def test_the_square_on_the_page_leads_to_the_sheet_with_the_code(client: Client) -> None:
    page = client.send("/pair", data={"token": token_of(client, "/pair"), "by": "M. Teasel"}, headers=SAME).text
    assert f"{BASE}/sheet/" in page
    assert "<svg" in page
    assert "style=" not in page


def test_every_address_of_the_sheet_stands_in_the_description(client: Client) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    assert {"/sheet/pair", "/sheet/rounds.json", "/sheet/packs/{round_id}.json", "/sheet/entries", "/sheet/head.json",
            "/sheet/blobs/{sha256}", "/sheet/version.json", "/rounds.json", "/pair.json"} <= set(paths)  # fmt: skip


def test_the_fields_of_an_entry_are_the_same_on_both_sides_of_the_wire() -> None:
    script = CHAIN_JS.read_text(encoding="utf-8")
    order = re.search(r"const ORDER = (\[.*?\]);", script, re.DOTALL)
    told = re.search(r"@typedef \{\{(.*?)\}\} Entry", script, re.DOTALL)
    assert order is not None
    assert told is not None
    assert tuple(re.findall(r'"(\w+)"', order[1])) == ORDER
    assert tuple(re.findall(r"(\w+):", told[1])) == Entry._fields
    assert tuple(EntryIn.model_fields) == Entry._fields
    assert tuple(EntryJson.__annotations__) == Entry._fields
