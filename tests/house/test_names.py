"""One class name, one meaning, anywhere in the source."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

import tapedown

SOURCE = Path(tapedown.__file__).parent


def test_no_class_name_stands_in_two_modules() -> None:
    stands: dict[str, list[str]] = defaultdict(list)
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef):
                stands[node.name].append(path.relative_to(SOURCE).as_posix())
    twice = {name: places for name, places in stands.items() if len(places) > 1}
    assert not twice, "\n".join(f"{name}: {', '.join(places)}" for name, places in twice.items())
