"""Rounds on the command line."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import VISIT, Run


def test_wells_that_are_due_make_a_round_that_closes_when_they_were_visited(fen: Run) -> None:
    assert "never visited" in fen("due").out
    made = fen("round", "May round", "--due", "--day", "2026-05-14", "--who", "R. Alder")
    assert made.code == 0
    assert "MF-07" in made.out
    (told,) = fen("rounds", "--json").json
    assert (told["name"], told["wells"], told["who"], told["open"]) == ("May round", ["MF-07"], ["R. Alder"], True)
    assert told["visited"] == {}


def test_a_visit_closes_the_round_and_puts_off_the_next(fen: Run) -> None:
    assert fen("round", "May round", "--wells", "MF-07", "--day", "2026-05-14", "--json").code == 0
    Path("visit.toml").write_text(VISIT, encoding="utf-8")
    assert fen("visit", "visit.toml").code == 0
    assert "no round is open" in fen("rounds").out
    assert [one["open"] for one in fen("rounds", "--all", "--json").json] == [False]
    assert "no well is due" in fen("due", "--day", "2026-06-01").out
    (later,) = fen("due", "--day", "2026-08-20", "--json").json
    assert (later["code"], later["due_on"], later["overdue_d"]) == ("MF-07", "2026-08-13", 7)


def test_a_round_is_withdrawn_with_a_reason_only(fen: Run) -> None:
    fen("round", "May round", "--wells", "MF-07", "--day", "2026-05-14")
    assert fen("rounds", "--withdraw", "May round").code == 3
    assert "no round is open" in fen("rounds", "--withdraw", "May round", "--reason", "storm").out
    assert "withdrawn" in fen("rounds", "--all").out


def test_a_round_of_nothing_or_of_a_well_that_is_not_there_is_refused(fen: Run) -> None:
    assert fen("round", "May round").code == 2
    assert fen("round", "May round", "--wells", "MF-99").code == 5
    assert fen("round", "May round", "--wells", "MF-07", "--day", "soon").code == 4
    assert fen("rounds", "--withdraw", "May round", "--reason", "storm").code == 5
    assert fen("rounds", "--json").json == []
