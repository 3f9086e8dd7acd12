"""The source as the tests of the house read it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import tapedown

SOURCE = Path(tapedown.__file__).parent


def trees(*rooms: str) -> Iterator[tuple[str, ast.Module]]:
    """The modules of some rooms, of all when none is named, each by its place in the package."""
    for folder in [SOURCE / room for room in rooms] or [SOURCE]:
        for path in sorted(folder.rglob("*.py")):
            yield path.relative_to(SOURCE).as_posix(), _tree(path)


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))
