"""A public function of the calculating rooms says what it does; a longer one also what goes in and what comes out.

That sections match the signature is pydoclint's (`make lint`); what it cannot say is when a line alone is too little.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

from tests.house.source import trees

ROOMS = ("values", "engine", "loggers", "analysis")
FEW_LINES = 3
Function = ast.FunctionDef | ast.AsyncFunctionDef


def public_functions(tree: ast.Module) -> Iterator[Function]:
    holders: list[ast.Module | ast.ClassDef] = [tree, *(node for node in tree.body if isinstance(node, ast.ClassDef))]
    for holder in holders:
        for node in holder.body:
            if isinstance(node, Function) and not node.name.startswith("_"):
                yield node


def body_lines(function: Function) -> int:
    """Lines from the first statement after the docstring to the last."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def lacking(function: Function) -> list[str]:
    """The sections that a function of this length should have and has not."""
    sections = re.findall(r"^(\w+)\n-{3,}$", ast.get_docstring(function) or "", re.MULTILINE)
    given = [one.arg for one in (*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs)]
    asked = ["Parameters"] if set(given) - {"self", "cls"} else []
    returned = ast.unparse(function.returns) if function.returns else "None"
    gives = [] if returned == "None" or "Yields" in sections else ["Returns"]
    return [name for name in (*asked, *gives) if name not in sections]


def short_of(function: Function) -> list[str]:
    if ast.get_docstring(function) is None:
        return ["a docstring"]
    return lacking(function) if body_lines(function) > FEW_LINES else []


def test_a_public_function_says_what_it_does_and_a_longer_one_what_it_takes_and_returns() -> None:
    found = [
        f"{name}:{function.lineno}: {function.name} lacks {' and '.join(short)}"
        for name, tree in trees(*ROOMS)
        for function in public_functions(tree)
        if (short := short_of(function))
    ]
    assert not found, "\n".join(found)


def test_a_function_with_no_docstring_and_a_long_one_with_a_line_alone_would_be_seen() -> None:
    long = "def depth_m(a_m: float) -> float:\n    '''Depth.'''\n" + "    a_m += 1\n" * FEW_LINES + "    return a_m"
    short = "def depth_m(a_m: float) -> float:\n    '''Depth.'''\n    return a_m"
    bare = "def depth_m(a_m: float) -> float:\n    return a_m"
    seen = [short_of(function) for text in (long, short, bare) for function in public_functions(ast.parse(text))]
    assert seen == [["Parameters", "Returns"], [], ["a docstring"]]
