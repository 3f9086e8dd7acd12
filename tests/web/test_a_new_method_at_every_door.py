"""What CONTRIBUTING tells to do for a new method is all there is to do: a made-up one walks through every door."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.web.made_up_method import EDITS, FIELD_EDITS, FORMAT_EDITS, copy_with_method

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow


def walked(folder: Path, walk: str) -> None:
    """Run a walk with the copy of the source that knows the method."""
    env = {**os.environ, "PYTHONPATH": f"{copy_with_method(folder)}{os.pathsep}{ROOT}"}
    env.pop("PYTEST_XDIST_WORKER", None)
    asked = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-o", "addopts=", walk]
    ran = subprocess.run(asked, cwd=ROOT, env=env, capture_output=True, text=True, encoding="utf-8", check=False)
    assert ran.returncode == 0, ran.stdout[-4000:] + ran.stderr[-2000:]
    if " skipped" in ran.stdout:
        pytest.skip("no Chromium: the made-up method was not tried on the sheet")


def test_a_made_up_method_goes_through_file_questions_form_upload_and_a_delivery_and_back(tmp_path: Path) -> None:
    walked(tmp_path, "tests/web/walk_a_new_method.py")


def test_a_made_up_method_is_read_on_the_sheet_and_arrives(tmp_path: Path) -> None:
    walked(tmp_path, "tests/web/browser/walk_a_new_method.py")


@pytest.mark.parametrize(
    ("what", "edits", "files"),
    [("A new method", EDITS, 4), ("A field of a visit", FIELD_EDITS, 2), ("A new format", FORMAT_EDITS, 2)],
)
def test_contributing_names_the_files_that_something_new_touches_and_no_other(
    what: str, edits: dict[str, tuple[tuple[str, str], ...]], files: int
) -> None:
    told = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
    paragraph = re.search(rf"\*\*{what}\*\*(.*?)\n\n", told, re.DOTALL)
    assert paragraph is not None
    named = set(re.findall(r"`((?:values|engine|exchange)/[\w/]+(?:\.py|/))`", paragraph[1]))
    new = {name for name, changes in edits.items() if changes[0][0] == ""}
    assert named == {name if name not in new else f"{Path(name).parent.as_posix()}/" for name in edits}
    assert len(edits) == files
