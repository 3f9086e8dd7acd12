"""What goes to the field sheet: our source as it stands, and nothing from the standard library but what is meant."""

from __future__ import annotations

import ast

from tapedown.web.sheet.engine.bundle import STAND_INS, STANDARD, engine_files, our_modules

ALLOWED = {*STAND_INS, *STANDARD, "typing", "tapedown"}


def test_the_browser_gets_every_engine_module_as_it_stands() -> None:
    modules = our_modules()
    assert {
        "tapedown.engine.methods.total_depth",
        "tapedown.engine.one_off.reading",
        "tapedown.values.readings",
    } <= modules.keys()
    text = engine_files()["engine.js"].decode()
    assert "def sounding_steps(" in text


def test_no_module_asks_the_browser_for_more_of_the_standard_library_than_it_has() -> None:
    asked = set()
    for name, module in our_modules().items():
        for node in ast.walk(ast.parse(str(module[1]))):
            if isinstance(node, ast.Import):
                asked |= {(name, alias.name) for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                asked.add((name, node.module))
    beyond = {(name, other) for name, other in asked if other.split(".")[0] not in ALLOWED and other not in ALLOWED}
    assert beyond == set()


def test_what_is_imported_by_name_exists_in_the_stand_ins() -> None:
    for name, module in our_modules().items():
        for node in ast.walk(ast.parse(str(module[1]))):
            if isinstance(node, ast.ImportFrom) and node.module in STAND_INS:
                scope: dict[str, object] = {}
                exec(STAND_INS[node.module], scope)  # noqa: S102 - our own few lines
                assert all(alias.name in scope for alias in node.names), (name, node.module)
