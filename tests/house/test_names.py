"""One class name, one meaning, anywhere in the source."""

from __future__ import annotations

import ast
from collections import defaultdict

from tests.house.source import trees


def test_no_class_name_stands_in_two_modules() -> None:
    stands: dict[str, list[str]] = defaultdict(list)
    for name, tree in trees():
        for node in tree.body:
            if isinstance(node, ast.ClassDef):
                stands[node.name].append(name)
    twice = {name: places for name, places in stands.items() if len(places) > 1}
    assert not twice, "\n".join(f"{name}: {', '.join(places)}" for name, places in twice.items())
