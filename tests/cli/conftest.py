"""Run the command line in this process and look at what it printed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from tapedown.main import main


class Ran(NamedTuple):
    """What a command printed and how it ended."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Run = Callable[..., Ran]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command in a folder of its own, as R. Alder on the desk machine."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TAPEDOWN_NETWORK", str(tmp_path / "fen"))
    monkeypatch.setenv("TAPEDOWN_BY", "R. Alder")
    monkeypatch.setenv("TAPEDOWN_DEVICE", "desk")

    def ran(*arguments: str) -> Ran:
        code = main(list(arguments))
        return Ran(code, *capsys.readouterr())

    return ran


@pytest.fixture
def fen(run: Run) -> Run:
    """The same with a network and one well in it."""
    start = ("start", "fen", "--name", "Marrow Fen", "--unit", "ft", "--datum", "NAVD88", "--zone", "America/New_York")
    assert run(*start).code == 0
    assert run("add", "well", "MF-07", "name=Alder Carr").code == 0
    point = ("name=MP-1", "height=3.40 ft", "side=above", "description=notch")
    assert run("add", "measuring point", "MF-07", *point, "--from", "2015-05-01").code == 0
    return run


VISIT = """
well = "MF-07"
when = "2026-05-14 10:20"
seen = { quiet = true }
[[readings]]
method = "weighted tape"
weight_interval = 1.20
readings = [84.30, 84.30]
"""
