"""The command line as a person meets it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

from tapedown.cli.exits import EXITS
from tapedown.main import tapedown
from tests.cli.conftest import VISIT, Run

ROOT = Path(__file__).parents[2]


def test_a_visit_from_a_file_is_entered_and_explained_step_by_step(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    assert "82.10 ft" in fen("visit", "visit.toml").out
    told = fen("explain", "MF-07", "last")
    assert told.code == 0
    for shown in (
        "84.30, 84.30 ft",
        "weight interval",
        "+1.2000",
        "-3.4000",
        "82.10 ft",
        "GWPD 11",
        "feeling the bottom",
    ):
        assert shown in told.out


def test_a_dry_run_writes_nothing(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    assert "nothing was written" in fen("visit", "visit.toml", "--dry-run").out
    assert fen("history", "MF-07", "--json").json["rows"] == []


def test_a_visit_typed_twice_is_stopped_and_can_be_meant(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    assert fen("visit", "visit.toml").code == 0
    second = fen("visit", "visit.toml")
    assert (second.code, "already" in second.err) == (3, True)
    assert len(fen("history", "MF-07", "--json").json["rows"]) == 1
    assert fen("visit", "visit.toml", "--again").code == 0


def test_a_mistake_names_its_line_and_the_mend(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT.replace('"2026-05-14 10:20"', "14 May"))
    told = fen("visit", "visit.toml")
    assert told.code == 4
    assert "line 3" in told.err
    assert "quotes" in told.err


def test_a_wrong_field_names_its_place_and_the_field_that_was_meant(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT.replace("weight_interval", "weight_intervall"))
    told = fen("visit", "visit.toml")
    assert told.code == 4
    assert "readings.weight_intervall" in told.err
    assert "weight_interval" in told.err


def test_json_of_a_reading_carries_units_in_its_names(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    fen("visit", "visit.toml")
    value = fen("explain", "MF-07", "last", "--json").json["reduction"]
    assert value["reported"] == "82.10"
    assert value["stages"][0]["steps"][0]["amount_m"] == pytest.approx(84.30 * 0.3048)


def test_every_reading_command_has_json(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    fen("visit", "visit.toml")
    for words in (["wells"], ["well", "MF-07"], ["history", "MF-07"], ["explain", "MF-07"], ["bottom", "MF-07"],
                  ["gear"], ["settings"], ["fields"], ["fields", "weighted tape"], ["verify"]):  # fmt: skip
        told = fen(*words, "--json")
        assert told.code == 0, words
        assert told.json is not None or words[0] == "bottom"


def test_strike_and_correct_are_seen_as_of_each_date(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    fen("visit", "visit.toml")
    known = fen("explain", "MF-07", "last", "--json").json["entry"]["written_at"]
    corrected = fen(
        "correct", "MF-07", "last", "readings=83.30", "readings=83.30", "--reason", "read 84 for 83", "--json"
    )
    assert corrected.code == 0
    assert "81.10 ft" in fen("history", "MF-07").out
    assert "82.10 ft" in fen("history", "MF-07", "--as-of", known).out
    assert "~~" in fen("history", "MF-07", "--struck").out
    assert fen("strike", "MF-07", "last").code == 3
    assert fen("strike", "MF-07", "last", "--reason", "wrong well").code == 0
    assert fen("explain", "MF-07", "last").out.count("STRUCK") == 1


def test_a_backup_can_be_restored_and_says_the_same(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    fen("visit", "visit.toml")
    assert fen("backup", "copy.db").code == 0
    assert fen("restore", "copy.db", "again").code == 0
    assert fen("-n", "again", "history", "MF-07", "--json").json == fen("history", "MF-07", "--json").json
    assert fen("restore", "copy.db", "again").code != 0


def test_heads_kept_elsewhere_show_a_lost_end(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    fen("backup", "early.db")
    fen("visit", "visit.toml")
    Path("heads.txt").write_text(fen("heads").out)
    assert fen("verify", "--heads", "heads.txt").code == 0
    fen("restore", "early.db", "early")
    told = fen("-n", "early", "verify", "--heads", "heads.txt")
    assert told.code == 7
    assert "NOT SOUND" in told.out


def test_an_altered_byte_makes_verify_fail(fen: Run) -> None:
    Path("visit.toml").write_text(VISIT)
    fen("visit", "visit.toml")
    import sqlite3

    with sqlite3.connect("fen/record.db") as raw:
        for (name,) in raw.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            raw.execute(f'drop trigger "{name}"')
        raw.execute("update entries set body = replace(body, '84.30', '85.30') where kind = 'readings'")
    raw.close()
    assert fen("verify").code == 7


def test_a_one_off_reduction_needs_no_record(run: Run) -> None:
    Path("once.toml").write_text(
        'length_unit = "ft"\nmethod = "chalked tape"\nreadings = [{hold = 14.99, cut = 1.28}]\n'
        '[point]\nname = "MP-1"\nheight = 0.85\nside = "above"\ndescription = "notch"\n'
    )
    # USGS TM 1-A1 GWPD 1 figure 1 (read): 14.99 - 1.28 = 13.71, less 0.85 = 12.86 ft
    assert "depth below land surface: 12.86 ft" in run("reduce", "once.toml").out


def test_questions_at_a_well_work_out_each_reading_and_keep_what_was_typed(
    fen: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(
        ["2026-05-14 10:20", "damp", "water, pump", "stands still", "at rest", "long ago", "mark clear",
         "2", "", "", "15.00", "1.x", "1.29", "16.00", "2.29", "",
         "", "wiped", ""]
    )  # fmt: skip
    monkeypatch.setattr("click.prompt", lambda *_a, **_k: next(answers))
    told = fen("visit", "MF-07")
    assert told.code == 0, told
    assert told.out.count("10.31 ft") >= 2
    assert "not known: damp" in told.out
    assert "unit 'x'" in told.out


def test_stopping_in_the_middle_loses_nothing(fen: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    answers = iter(["2026-05-14 10:20", "as usual", "", "weighted tape", "", "", "1.20", "84.30"])

    def answer(*_a: object, **_k: object) -> str:
        try:
            return next(answers)
        except StopIteration:
            raise click.Abort from None

    monkeypatch.setattr("click.prompt", answer)
    told = fen("visit", "MF-07")
    assert told.code == 3
    saved = next(tmp_path.glob("visit-MF-07-*.json"))
    assert "84.30" in saved.read_text()
    assert fen("visit", str(saved)).code == 0
    assert "82.10 ft" in fen("history", "MF-07").out


def test_not_found_refused_and_misunderstood_have_codes_of_their_own(fen: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert fen("history", "MF-70").code == 5
    assert fen("-n", "nowhere", "wells").code == 5
    assert fen("explain", "MF-07", "2001-01-01").code == 5
    assert fen("start", "fen", "--name", "x", "--unit", "ft", "--datum", "NAVD88", "--zone", "Etc/UTC").code == 3
    assert fen("histroy", "MF-07").code == 2
    assert fen("visit", "no-such.toml").code == 4
    assert fen("history", "MF-07", "--as-of", "last week").code == 4
    monkeypatch.delenv("TAPEDOWN_BY")
    assert fen("add", "well", "MF-08").code == 3
    assert {code for code, _ in EXITS} == set(range(9))


def test_every_command_says_what_it_does() -> None:
    for name, command in tapedown.all().items():
        assert command.help, name
        for option in command.params:
            assert not isinstance(option, click.Option) or option.help, (name, option.name)


def test_the_readme_alone_takes_a_newcomer_to_an_explained_value(tmp_path: Path) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = re.search(r"```sh\n(.*?)```", text, re.DOTALL)
    assert block is not None
    script = block[1].replace("$PWD/.venv/bin", str(Path(sys.executable).parent))
    env = {"PATH": os.environ["PATH"], "HOME": str(tmp_path), "TAPEDOWN_DEVICE": "newcomer"}
    ran = subprocess.run(["bash", "-euc", script], cwd=tmp_path, env=env, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    shown = re.search(r"```\n(  step .*?)```", text, re.DOTALL)
    assert shown is not None
    for line in shown[1].splitlines():
        assert line.rstrip() in ran.stdout, line


def test_the_demo_shows_the_main_job(run: Run) -> None:
    told = run("demo", "marrow-fen")
    assert told.code == 0
    for shown in ("line by line", "L cos(theta)", "no agreement", "12% buried", "sound:", "strikes", "Try next"):
        assert shown in told.out
    assert "is there already" in run("demo", "marrow-fen").out


def test_the_generated_pages_are_up_to_date() -> None:
    ran = subprocess.run(
        [sys.executable, "docs/generate.py", "--check"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.stdout == ""


def test_what_the_next_reading_should_show_is_said_for_any_day(fen: Run) -> None:
    assert "nothing was read yet, so nothing is expected" in fen("expect", "MF-07").out
    Path("visit.toml").write_text(VISIT)
    assert fen("visit", "visit.toml").code == 0
    told = fen("expect", "MF-07", "--on", "2027-05-14").out
    assert "14 May 2027" in told
    assert "one sounding, 82.10 ft on 2026-05-14" in told
    soon, late = (fen("expect", "MF-07", "--on", day, "--json").json["bottom"] for day in ("2026-06-01", "2036-06-01"))
    assert soon["low_m"] < 82.10 * 0.3048 < soon["high_m"]
    assert late["high_m"] - late["low_m"] > soon["high_m"] - soon["low_m"]


HEAVY = ("sqlalchemy", "polars", "numpy", "scipy", "PIL", "typst", "fastapi", "python_calamine", "tapedown.work")
"""What help must not load, and most of it no command that looks at wells either."""


def loaded(*arguments: str) -> set[str]:
    """Packages that the program has loaded when it has done what was asked."""
    asked = f"import sys; from tapedown.main import main; main({list(arguments)!r}); print('|'.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    return {name for name in HEAVY if name in done.stdout.splitlines()[-1].split("|")}


def test_a_command_loads_what_it_needs_and_help_nothing_else(fen: Run, tmp_path: Path) -> None:
    assert fen("wells").code == 0
    assert loaded("--help") == set()
    assert loaded("-n", str(tmp_path / "fen"), "wells") == {"sqlalchemy", "tapedown.work"}


def test_the_help_says_of_each_command_what_the_command_says_of_itself() -> None:
    for name, command in tapedown.all().items():
        assert command.help
        own = set(re.findall(r"[a-z]{4,}", command.help.lower()))
        told = [word for word in re.findall(r"[a-z]{4,}", tapedown.rows[name].help.lower()) if word not in own]
        assert len(told) <= 3, (name, told)
