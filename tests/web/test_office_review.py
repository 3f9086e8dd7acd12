"""Review, blind repeats and sign-off in the office: what a person sees, presses, and takes away as a proof."""

from __future__ import annotations

import re

import pytest

from tapedown.exchange.ledger.proof_file import check_proof
from tapedown.record import entries
from tapedown.values.ledger.entries import Entry
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact, strike
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.review.remeasures import ask_again
from tapedown.work.rounds.planning import make_round
from tests.web.conftest import Browser, visible
from tests.work.test_reviewing import measure


@pytest.fixture
def odd(fen: OpenNetwork, author: Author) -> Entry:
    """A reading at MF-07 by J. Sedge that lies far off."""
    return measure(fen, author, "MF-07", "2025-06-14T09:00", "19.02", "19.42", by="J. Sedge")


def waiting(office: Browser) -> list[str]:
    return [item["value"]["entry"]["id"] for item in office.json("/review.json")["items"]]


def test_the_queue_shows_the_likeliest_blunder_first_with_what_speaks_against_it(office: Browser, odd: Entry) -> None:
    assert waiting(office)[0] == odd.id
    words = visible(office.get("/review").text)
    assert re.search(r"values wait for a look", words)
    assert "repeats disagree" in words
    assert "not J. Sedge" in words


def test_several_values_are_accepted_at_once(office: Browser, odd: Entry) -> None:
    ids = waiting(office)
    sent = [("action", "accept"), *(("entry", one) for one in ids), ("by", "M. Teasel")]
    office.post("/review", sent)
    assert waiting(office) == []
    assert "Nothing waits" in visible(office.get("/review").text)


def test_a_value_is_given_a_quality_with_a_reason_or_the_form_comes_back_filled(office: Browser, odd: Entry) -> None:
    sent = {"action": "set the quality", "entry": odd.id, "quality": "poor", "why": ""}
    page = office.post("/review", sent, status=422).text
    assert "why is missing" in visible(page)
    assert f'value="{odd.id}" checked' in page
    office.post("/review", {**sent, "why": "repeats 0.4 ft apart"})
    assert odd.id not in waiting(office)
    page = visible(office.get(f"/wells/MF-07/values/{odd.id}").text)
    assert "poor, reviewed: repeats 0.4 ft apart" in page
    assert "looked at by R. Alder" in page


def test_what_somebody_read_he_does_not_accept(office: Browser, odd: Entry) -> None:
    page = office.post("/review", {"action": "accept", "entry": odd.id, "by": "J. Sedge"}, status=422).text
    assert "J. Sedge read or wrote this value" in visible(page)
    assert odd.id in waiting(office)


def test_a_value_is_struck_from_the_queue(office: Browser, odd: Entry) -> None:
    office.post("/review", {"action": "strike", "entry": odd.id, "why": "another well"})
    assert odd.id not in waiting(office)


def test_nothing_ticked_and_unknown_words_are_told(office: Browser, odd: Entry) -> None:
    assert "no value is chosen" in visible(office.post("/review", {"action": "accept"}, status=422).text)
    assert "is not one of" in visible(office.post("/review", {"action": "burn", "entry": odd.id}, status=422).text)
    office.post("/review", {"action": "accept", "entry": "nonsense"}, status=404)


def test_a_well_to_be_measured_again_is_proposed_for_the_next_round_and_goes_out_blind(
    office: Browser, odd: Entry, fen: OpenNetwork, author: Author
) -> None:
    office.post("/review", {"action": "measure again", "entry": odd.id, "why": "repeats apart"})
    page = office.get("/rounds").text
    assert "to be measured again, blind" in visible(page)
    assert re.search(r'value="MF-07" checked', page)
    planned = make_round(fen, {"name": "June", "day": "2026-06-01", "wells": ["MF-07"]}, author)
    (well,) = office.json(f"/rounds/{planned.id}/pack.json")["wells"]
    assert well["again"] == {"why": "repeats apart"}
    assert (well["last"], well["expected"]) == ([], {"level": None, "bottom": None})
    assert "to be measured again, blind" in visible(office.get(f"/rounds/{planned.id}").text)


def test_a_round_is_drawn_from_once_and_the_repeats_are_reported(
    office: Browser, fen: OpenNetwork, author: Author
) -> None:
    planned = make_round(fen, {"name": "June", "day": "2026-01-01", "wells": ["MF-07"]}, author)
    page = office.post(f"/rounds/{planned.id}/draw", {}, status=422).text
    assert "no well of June was read yet" in visible(page)
    measure(fen, author, "MF-07", "2026-01-01T06:00", "15.02", "15.02")
    office.post(f"/rounds/{planned.id}/draw", {})
    assert "June 2026-01-01" in visible(office.get(f"/rounds/{planned.id}").text)
    assert office.json("/repeats.json")["waiting"][0]["well"] == "MF-07"
    office.post(f"/rounds/{planned.id}/draw", {}, status=422)
    measure(fen, author, "MF-07", "2026-01-02T06:00", "15.05", "15.05")
    told = office.json("/repeats.json")
    assert told["pairs"][0]["difference_m"] == pytest.approx(0.03 * 0.3048, abs=1e-6)
    words = visible(office.get("/repeats").text)
    assert "+0.030" in words
    assert "too few to judge" in words


def sign(office: Browser, status: int = 303, **more: str) -> str:
    sent = {"name": "2025", "statement": "complete", "by": "M. Teasel", **more}
    return visible(office.post("/signed", sent, status=status).text)


def test_signing_is_refused_with_each_value_that_lacks_a_look_and_what_was_typed_stays(
    office: Browser, odd: Entry
) -> None:
    page = office.post("/signed", {"name": "2025", "statement": "complete"}, status=422).text
    words = visible(page)
    assert "MF-07 2025-06-14T09:00 electric tape" in words
    assert f"tapedown accept MF-07 {odd.id[-8:]}" in words
    assert 'value="complete"' in page
    assert office.json("/signed.json") == []
    assert "no well 'MF-99'" in sign(office, 422, wells="MF-99")
    assert "is not a date" in sign(office, 422, as_of="tomorrow")
    assert "statement is missing" in sign(office, 422, statement="", unreviewed="small")


def test_a_signed_set_shows_its_values_as_they_stood_and_what_was_struck_since(
    office: Browser, odd: Entry, fen: OpenNetwork, author: Author
) -> None:
    sign(office, unreviewed="a trial")
    (signed,) = office.json("/signed.json")
    assert waiting(office) == []
    strike(fen, odd.id, "another well", author)
    found = office.json(f"/signed/{signed['entry']['id']}.json")
    assert found["struck_since"][odd.id]["reason"] == "another well"
    assert odd.id in [row["entry"]["id"] for row in found["values"]["MF-07"]]
    assert "Sound." not in visible(office.get(f"/signed/{signed['entry']['id']}").text)
    words = visible(office.get(f"/signed/{signed['entry']['id']}?prove=true").text)
    assert "struck by R. Alder : another well" in words
    assert "Sound." in words
    assert signed["tree_head"] in words
    assert signed["tree_head"] in visible(office.get("/signed").text)
    assert "signed in 2025" in visible(office.get(f"/wells/MF-07/values/{odd.id}").text)


def test_a_proof_is_taken_away_and_checked_without_the_record(office: Browser, odd: Entry) -> None:
    sign(office, unreviewed="a trial")
    (signed,) = office.json("/signed.json")
    proof = office.get(f"/signed/{signed['entry']['id']}/proofs/{odd.id}.json")
    assert "attachment" in proof.headers["content-disposition"]
    assert check_proof(proof.content, "proof.json", signed["tree_head"]).holds
    office.get(f"/signed/{signed['entry']['id']}/proofs/nonsense.json", status=404)
    office.get("/signed/nonsense", status=404)


def test_a_comparison_is_shown_with_its_limits_and_one_press_makes_it_the_calibration(
    office: Browser, fen: OpenNetwork, author: Author
) -> None:
    for serial in ("ET-006", "ST-014"):
        if not entries(fen.record, kinds=["gear"], about=f"gear/{serial}"):
            enter_fact(fen, "gear", serial, {"type": "electric tape"}, author)
    pairs = [("20.00", "20.02"), ("60.00", "60.05"), ("120.00", "120.10")]
    sent = {"reference": "ST-014", "since": "2026-01-10"}
    for number, (reference, shown) in enumerate(pairs, 1):
        sent |= {f"pairs[{number}].reference": reference, f"pairs[{number}].shown": shown}
    office.post("/gear/ET-006/facts/side%20by%20side", sent)
    page = office.get("/gear/ET-006").text
    words = visible(page)
    assert "Side by side with ST-014, 10 Jan 2026" in words
    assert "Not within 0.02 ft (USGS TM 1-A1 GWPD 4)" in words
    assert "dotted: allowed" in page
    (told,) = office.json("/gear/ET-006/compared.json")
    assert told["apply"] == "straight line"
    assert gear_shelf(fen).calibrations.get("ET-006") is None
    where = f"/gear/ET-006/compared/{told['entry']['id']}/calibrate"
    office.post(where, {"by": ""}, status=422)
    office.post(where, {"apply": "straight line"})
    assert gear_shelf(fen).calibrations["ET-006"][0].calibration.comparison == told["entry"]["id"]
    assert "Entered as a calibration" in visible(office.get("/gear/ET-006").text)
    office.post(where, {}, status=409)


def test_a_request_is_shown_on_the_queue(office: Browser, odd: Entry, fen: OpenNetwork, author: Author) -> None:
    ask_again(fen, "MF-07", odd.id, "repeats apart", author)
    item = office.json("/review.json")["items"][0]
    assert item["again"]["why"] == "repeats apart"
    assert "to be measured again" in visible(office.get("/review").text)
