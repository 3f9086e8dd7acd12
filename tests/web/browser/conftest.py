"""Phones and an office for the field sheet's tests."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tapedown.work.marrow_fen import build
from tests.web.browser.sheet_server import FenOffice

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "timezone_id": "America/New_York",
}


@pytest.fixture(scope="session")
def fen(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Marrow Fen, built once; offices work on copies."""
    folder = tmp_path_factory.mktemp("marrow") / "fen"
    build(folder).record.close()
    return folder


@pytest.fixture
def office(fen: Path, tmp_path: Path) -> Iterator[FenOffice]:
    """An office that is open."""
    opened = FenOffice(fen, tmp_path)
    yield opened
    opened.stop()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Playwright's handle on the browser, and a browser."""
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no Chromium at {CHROMIUM}: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright.chromium


@pytest.fixture(scope="session")
def browser(chromium: Any) -> Iterator[Any]:
    """A browser."""
    opened = chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield opened
    opened.close()


@pytest.fixture
def phone(browser: Any) -> Iterator[Callable[..., Any]]:
    """Makes phones: browser contexts with nothing on them."""
    made = []

    def make(**more: Any) -> Any:
        made.append(browser.new_context(**{**PHONE, **more}))
        made[-1].set_default_timeout(15_000)
        return made[-1]

    yield make
    for context in made:
        context.close()
