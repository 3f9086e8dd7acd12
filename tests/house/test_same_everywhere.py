"""What keeps numbers and files the same on every Python, in the browser and on every system, read from the source."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.house.source import SOURCE, trees


class Place(NamedTuple):
    """Where something stands, and what to write instead."""

    at: str
    mend: str

    def __str__(self) -> str:
        return f"{self.at}: {self.mend}"


def places(rule: Callable[[ast.AST], str], *rooms: str) -> list[Place]:
    """Every place where the rule has something to say."""
    return [
        Place(f"{name}:{getattr(node, 'lineno', 0)}", mend)
        for name, tree in trees(*rooms)
        for node in ast.walk(tree)
        if (mend := rule(node))
    ]


def called(node: ast.AST) -> str:
    """What a call calls, as written; "" for anything else."""
    return ast.unparse(node.func) if isinstance(node, ast.Call) else ""


COUNTS = (ast.Compare, ast.BoolOp)


def compensated_sum(node: ast.AST) -> str:
    """The language's sum of anything but ones, lengths and truths: whole numbers have no last bit to differ in."""
    if called(node) != "sum" or not isinstance(node, ast.Call):
        return ""
    given = node.args[0]
    element = given.elt if isinstance(given, (ast.GeneratorExp, ast.ListComp)) else given
    whole = isinstance(element, COUNTS) or called(element) == "len"
    whole = whole or (isinstance(element, ast.Constant) and isinstance(element.value, int))
    return "" if whole else "add with values.sums.added: sum() keeps lost digits from 3.12 on, and not before"


def root_by_power(node: ast.AST) -> str:
    """A power that takes a square root."""
    half = isinstance(node, ast.BinOp) and isinstance(node.op, ast.Pow)
    half = half and isinstance(node.right, ast.Constant) and node.right.value == 0.5  # type: ignore[attr-defined]
    return "take math.sqrt, or values.sums.root of what may be an array" if half else ""


def test_numbers_are_added_from_left_to_right_and_roots_are_roots() -> None:
    rooms = ("engine", "values", "analysis", "loggers")
    allowed = "values/sums.py"  # where the one power of an array stands
    found = [*places(compensated_sum, *rooms), *(p for p in places(root_by_power) if not p.at.startswith(allowed))]
    assert not found, "\n".join(map(str, found))


ONE_SYSTEM = {"fcntl", "msvcrt", "pwd", "grp", "resource", "termios", "tty", "pty", "winreg", "syslog", "posix", "nt"}
ONE_SYSTEM_CALLS = {
    "os.fork", "os.getuid", "os.geteuid", "os.getgid", "os.chown", "os.kill", "os.setsid", "os.uname", "os.mkfifo",
    "signal.alarm", "signal.SIGKILL", "signal.SIGHUP", "signal.SIGALRM", "signal.pthread_kill", "time.tzset",
}  # fmt: skip


def one_system(node: ast.AST) -> str:
    """Modules and calls that some systems do not have."""
    names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
    names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
    if any(name.partition(".")[0] in ONE_SYSTEM for name in names):
        return "a module of one system: find a way that all have"
    if isinstance(node, ast.Attribute) and ast.unparse(node) in ONE_SYSTEM_CALLS:
        return f"{ast.unparse(node)} is not on every system"
    return ""


def own_encoding(node: ast.AST) -> str:
    """Text read or written in the encoding of the system, which is not UTF-8 on every desk."""
    name = called(node).rpartition(".")[2]
    if not isinstance(node, ast.Call) or name not in {"read_text", "write_text", "open", "NamedTemporaryFile"}:
        return ""
    given = {keyword.arg for keyword in node.keywords}
    if name in {"read_text", "write_text"}:
        files = called(node).startswith(("files(", "resources."))
        return "" if given & {"encoding", None} or files else "say encoding="
    modes = [arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]
    text = any("b" not in mode and set(mode) <= set("rwxat+") for mode in modes)
    return "say encoding=" if text and "encoding" not in given else ""


def place_of_one_machine(node: ast.AST) -> str:
    """A path from the root of a file system."""
    if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
        return ""
    root = re.match(r"/(tmp|dev|usr|etc|var|home)(/|$)|[A-Z]:\\", node.value)
    return "no path of one machine" if root else ""


def moved_over(node: ast.AST) -> str:
    """A rename, which Windows refuses where the name is taken."""
    return "os.replace does it everywhere" if called(node) in {"os.rename", "os.renames"} else ""


@pytest.mark.parametrize("rule", [one_system, own_encoding, place_of_one_machine, moved_over], ids=lambda r: r.__name__)
def test_nothing_depends_on_one_system(rule: Callable[[ast.AST], str]) -> None:
    found = places(rule)
    assert not found, "\n".join(map(str, found))


@pytest.mark.parametrize(
    ("line", "rule"),
    [
        ("sum(part.u_m**2 for part in parts)", compensated_sum),
        ("x**0.5", root_by_power),
        ("import fcntl", one_system),
        ("os.getuid()", one_system),
        ("path.read_text()", own_encoding),
        ("open(path, 'w')", own_encoding),
        ("Path('/tmp/x')", place_of_one_machine),
        ("os.rename(a, b)", moved_over),
    ],
)
def test_the_rules_see_what_they_are_for(line: str, rule: Callable[[ast.AST], str]) -> None:
    assert any(rule(node) for node in ast.walk(ast.parse(line)))


@pytest.mark.parametrize("line", ["sum(1 for x in y)", "sum(x is None for x in y)", "sum(len(x) for x in y)"])
def test_whole_numbers_may_be_counted_by_the_language(line: str) -> None:
    assert not any(compensated_sum(node) for node in ast.walk(ast.parse(line)))


def test_a_name_in_any_script_is_printed_where_the_system_writes_in_another(tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONPATH": str(SOURCE.parent), "PYTHONUTF8": "0", "PYTHONIOENCODING": "cp1252",
           "TAPEDOWN_DEVICE": "desk", "TAPEDOWN_BY": "R. Alder", "TAPEDOWN_NETWORK": "fen"}  # fmt: skip
    for asked in (
        ["start", "fen", "--name", "Fen", "--unit", "m", "--datum", "local", "--zone", "UTC"],
        ["add", "well", "MF-01", "name=Έλος"],
        ["wells", "--json"],
    ):
        program = [sys.executable, "-c", "from tapedown.main import run; run()", *asked]
        ran = subprocess.run(program, cwd=tmp_path, env=env, capture_output=True, encoding="utf-8", check=False)
        assert ran.returncode == 0, ran.stderr
    assert "Έλος" in ran.stdout
