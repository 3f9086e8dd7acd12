"""A run of the tests ends with what it did not try, and how to have it tried."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

from tests.skipped import KINDS, lines

TESTS = Path(__file__).parent


def test_reasons_of_one_kind_are_one_line_the_most_frequent_first() -> None:
    told = lines(
        [
            "Skipped: no PostgreSQL server could be started: pg_ctl: no such file",
            "Skipped: no Chromium at a: apt-get install chromium",
            "Skipped: no Chromium: the made-up method was not tried on the sheet",
        ]
    )
    assert [line.partition(";")[0] for line in told] == ["no Chromium: 2 not tried", "no PostgreSQL: 1 not tried"]
    assert "apt-get install chromium" in told[0]


def test_a_reason_of_no_kind_is_told_as_it_is() -> None:
    assert lines(["Skipped: the tide is out", "Skipped: the tide is out"]) == ["the tide is out: 2 not tried"]


def test_nothing_skipped_is_nothing_told() -> None:
    assert lines([]) == []


def test_every_reason_in_the_tests_is_of_a_kind() -> None:
    reasons = [reason for path in TESTS.rglob("*.py") for reason in _reasons(path) if path.name != Path(__file__).name]
    assert len(reasons) > 20
    assert [reason for reason in reasons if not any(re.search(kind.words, reason) for kind in KINDS)] == []


def _reasons(path: Path) -> list[str]:
    """What the file says where it skips, with what is filled in left out."""
    told = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and ast.unparse(node.func) in {"pytest.skip", "pytest.importorskip"}:
            named = [one.value for one in node.keywords if one.arg == "reason"]
            text = (named or node.args)[0]
            parts = text.values if isinstance(text, ast.JoinedStr) else [text]
            told.append("".join(str(part.value) if isinstance(part, ast.Constant) else "..." for part in parts))
    return told


def test_a_run_ends_with_the_kinds_also_when_it_is_spread_over_processes(tmp_path: Path) -> None:
    (tmp_path / "test_tide.py").write_text(
        "import pytest\n\n\n@pytest.mark.parametrize('n', range(3))\ndef test_tide(n):\n"
        "    pytest.skip('no Chromium here')\n",
        encoding="utf-8",
    )
    (tmp_path / "pytest.ini").write_text("[pytest]\n", encoding="utf-8")
    env = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    asked = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "tests.conftest", "-n", "2",
             "-c", str(tmp_path / "pytest.ini"), str(tmp_path / "test_tide.py")]  # fmt: skip
    ran = subprocess.run(asked, cwd=TESTS.parent, env=env, capture_output=True, encoding="utf-8", check=False)
    assert "\nno Chromium: 3 not tried; apt-get install chromium" in ran.stdout, ran.stdout + ran.stderr
