"""Reviews, blind repeats, sign-offs and proofs on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import VISIT, Run


@pytest.fixture
def read(fen: Run) -> Run:
    """A network with one total depth, read by R. Alder."""
    Path("visit.toml").write_text(VISIT, encoding="utf-8")
    assert fen("visit", "visit.toml").code == 0
    return fen


def test_the_queue_empties_when_somebody_else_accepts(read: Run) -> None:
    (item,) = read("queue", "--json").json["items"]
    assert item["well"] == "MF-07"
    assert "not R. Alder" in read("queue").out
    refused = read("accept", "MF-07", "last")
    assert refused.code == 3
    assert "let somebody else look at it" in refused.err
    assert read("--by", "M. Teasel", "accept", "MF-07", "last").code == 0
    assert "0 values wait" in read("queue").out
    assert "looked at by M. Teasel" in read("explain", "MF-07").out


def test_two_people_where_the_network_asks_for_two(read: Run) -> None:
    assert read("settings", "review_people=2").code == 0
    assert read("settings", "review_people=3").code == 4
    read("--by", "M. Teasel", "review", "MF-07", "last", "good", "--why", "sheet seen")
    assert "1 more needed, not R. Alder nor M. Teasel" in read("queue").out
    read("--by", "J. Sedge", "accept", "MF-07", "last")
    assert "0 values wait" in read("queue").out


def test_a_well_to_be_measured_again_goes_into_the_next_round(read: Run) -> None:
    assert read("remeasure", "MF-07", "last", "--why", "bottom felt soft").code == 0
    assert "measure again" in read("due", "--day", "2026-06-01").out
    assert read("round", "June", "--due", "--day", "2026-06-01").code == 0
    assert read("rounds", "--json").json[0]["wells"] == ["MF-07"]


def test_a_round_is_drawn_from_and_the_repeat_is_reported(fen: Run) -> None:
    fen("round", "May round", "--wells", "MF-07", "--day", "2026-05-14")
    assert "no well of May round was read yet" in fen("draw", "May round").err
    Path("visit.toml").write_text(VISIT, encoding="utf-8")
    fen("visit", "visit.toml")
    assert "KEY May round 2026-05-14, share 0.06" in fen("draw", "May round").out
    assert fen("draw", "May round").code == 3
    assert "still to be measured again: MF-07" in fen("repeats").out
    Path("again.toml").write_text(VISIT.replace("2026-05-14", "2031-05-14").replace("84.30", "84.32"), encoding="utf-8")
    fen("visit", "again.toml")
    told = fen("repeats")
    assert "too late" in told.out
    assert "+0.020" in told.out
    assert fen("repeats", "--json").json["error"]["n"] == 0


def test_a_set_is_signed_shown_and_proved(read: Run) -> None:
    refused = read("sign", "May", "--statement", "complete")
    assert refused.code == 3
    assert "MF-07 2026-05-14T10:20 weighted tape: nobody looked" in refused.err
    assert "nothing is signed yet" in read("signed").out
    made = read("sign", "May", "--statement", "complete", "--unreviewed", "a trial", "--json").json
    assert made["tree_head"] in read("signed").out
    assert "82.10 ft" in read("signed", "May").out
    assert read("signed", "May", "--json").json["values"]["MF-07"][0]["quality"] == "good"
    assert f"signed: {made['words']}" in read("history", "MF-07").out
    assert "signed: May" not in read("history", "MF-07", "--as-of", "2026-05-20").out
    assert read("prove", "MF-07", "last", "--out", "proof.json").code == 0
    assert read("prove", "MF-07", "last", "--out", "proof.json").code == 4
    entry_id = read("explain", "MF-07", "--json").json["entry"]["id"]
    assert read("prove", entry_id, "--out", "same.json").code == 0
    assert Path("same.json").read_bytes() == Path("proof.json").read_bytes()
    held = read("verify", "--proof", "proof.json", "--tree-head", made["tree_head"])
    assert held.code == 0
    assert "the proof holds" in held.out
    assert read("verify", "--proof", "proof.json", "--tree-head", "00" * 32).code == 7
    assert read("verify", "--proof", "visit.toml").code == 4
    assert f"sound: {made['words']}" in read("verify", "--signed").out
    assert read("verify", "--signed", "--json").json["signed"][0]["sound"] is True
    assert read("signed", "2031").code == 5


def test_a_later_set_is_proved_to_begin_with_the_earlier(read: Run) -> None:
    read("sign", "May", "--statement", "complete", "--unreviewed", "a trial")
    assert read("prove", "--begins", "May", "--out", "begins.json").code == 3
    read("strike", "MF-07", "last", "--reason", "another well")
    Path("visit.toml").write_text(VISIT.replace("2026-05-14", "2026-05-15"), encoding="utf-8")
    read("visit", "visit.toml")
    read("sign", "June", "--statement", "complete", "--unreviewed", "a trial")
    assert read("prove", "--begins", "June", "--out", "begins.json").code == 0
    assert "begin the" in read("verify", "--proof", "begins.json").out
    assert "struck by R. Alder: another well" in read("signed", "May").out
    assert read("prove", "--out", "x.json").code == 2


def test_a_round_is_signed_and_says_wells_and_period_itself(read: Run) -> None:
    read("round", "May round", "--wells", "MF-07", "--day", "2026-05-14")
    asked = ("sign", "May", "--statement", "complete", "--unreviewed", "a trial", "--round", "May round")
    assert read(*asked, "--wells", "MF-07").code == 2
    made = read(*asked, "--json").json
    assert (made["wells"], made["since"], made["until"]) == (["MF-07"], "2026-05-14", "2026-05-14")


def test_a_comparison_becomes_a_calibration(fen: Run) -> None:
    fen("add", "gear", "ST-014", "type=steel tape")
    fen("add", "gear", "ET-006", "type=electric tape")
    assert fen("compared", "ET-006").code == 5
    pairs = "".join(
        f'[[pairs]]\nreference = "{reference}"\nshown = "{shown}"\n'
        for reference, shown in (("20.00", "20.02"), ("60.00", "60.05"), ("120.00", "120.10"))
    )
    Path("pairs.toml").write_text(f'reference = "ST-014"\n{pairs}', encoding="utf-8")
    assert fen("add", "side by side", "ET-006", "--file", "pairs.toml", "--from", "2026-02-04").code == 0
    told = fen("compared", "ET-006").out
    assert "NOT within 0.02 ft (USGS TM 1-A1 GWPD 4)" in told
    assert "best applied as: straight line" in told
    assert fen("compared", "ET-006", "--calibrate", "--json").json["used_by"]
    assert fen("compared", "ET-006", "--calibrate").code == 3
    assert "4 Feb 2026" in fen("gear").out
