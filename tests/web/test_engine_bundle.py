"""What goes to the field sheet: our source as it stands, and nothing from the standard library but what is meant."""

from __future__ import annotations

import ast
from pathlib import Path

import tapedown
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


class Silent(ast.NodeTransformer):
    """Takes out every sentence that stands by itself."""

    def visit_Expr(self, node: ast.Expr) -> ast.Expr | None:
        return None if isinstance(node.value, ast.Constant) and isinstance(node.value.value, str) else node


def test_nothing_but_docstrings_is_taken_out_and_every_line_stays_where_it_was() -> None:
    folder = Path(tapedown.__file__).parent
    for name, module in our_modules().items():
        if name == "tapedown":
            continue
        place = folder / name.removeprefix("tapedown.").replace(".", "/")
        path = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
        text, sent = path.read_text(encoding="utf-8"), str(module[1])
        trees = [Silent().visit(ast.parse(one)) for one in (text, sent)]
        assert ast.dump(trees[0]) == ast.dump(trees[1]), name
        assert text.count("\n") == sent.count("\n"), name
        code = [node for node in ast.walk(trees[1]) if isinstance(node, ast.FunctionDef)]
        assert [node.lineno for node in code] == [
            node.lineno for node in ast.walk(trees[0]) if isinstance(node, ast.FunctionDef)
        ], name
