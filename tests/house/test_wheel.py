"""What is handed to a desk without make: a wheel, put into an empty environment, runs the demo."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow


def ran(*asked: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A program with nothing of this environment about it."""
    env = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "TAPEDOWN", "VIRTUAL"))}
    env["PYTHONUTF8"] = "1"
    return subprocess.run(asked, cwd=folder, env=env, capture_output=True, text=True, encoding="utf-8", check=False)


def test_a_wheel_in_an_empty_environment_runs_the_demo(tmp_path: Path) -> None:
    """The pinned requirements of those who run it and no other are put beside the wheel."""
    wheel = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(tmp_path)]
    built = ran(*wheel, str(ROOT), folder=tmp_path)
    assert built.returncode == 0, built.stderr[-2000:]
    venv.create(tmp_path / "empty", with_pip=True)
    programs = tmp_path / "empty" / ("Scripts" if os.name == "nt" else "bin")
    pip = [str(programs / "python"), "-m", "pip", "install", "-q", "--disable-pip-version-check"]
    got = ran(*pip, "--require-hashes", "-r", str(ROOT / "requirements" / "run.txt"), folder=tmp_path)
    if got.returncode and "No matching distribution" in got.stderr + got.stdout:
        pytest.skip("packages cannot be reached: the wheel was not tried in an empty environment")
    assert got.returncode == 0, got.stderr[-2000:]
    installed = ran(*pip, "--no-deps", str(next(tmp_path.glob("tapedown-*.whl"))), folder=tmp_path)
    assert installed.returncode == 0, installed.stderr[-2000:]
    desk = tmp_path / "desk"
    desk.mkdir()
    demo = ran(str(programs / "tapedown"), "demo", folder=desk)
    assert demo.returncode == 0, demo.stderr[-2000:]
    assert f"{programs / 'tapedown'} -n marrow-fen wells" in demo.stdout
    assert (desk / "marrow-fen").is_dir()
