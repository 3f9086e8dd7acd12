"""The engine for the field sheet: Brython from its package, our own source, and a few small stand-ins.

The browser runs values/, engine/ and three modules of exchange/ unchanged but for their docstrings, which nobody reads
on a phone. Of the standard library it gets two that are script already (math, _json) and stand-ins of a few lines for
what the engine asks of typing, collections.abc, functools and itertools: the real ones cost more than the engine itself
(docs/decisions, "Values and engine that also run in a browser"; measured again in bench/sheet_engine.py).
Three builtins are put in place of the runtime's own (quick).

Messages to the worker are {id, given}, given being the mapping of `engine.one_off.reading.reduce_once`, with that of
`engine.one_off.expected.expected_once` under "expecting"; it says {ready}, then {id, value, problems,
expected} or {id, fault}. A set with "explaining" (`tapedown.engine.one_off.explained`) is answered {id, explained}.
"""

from __future__ import annotations

import ast
import json
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable

ROOMS = ("values", "engine")
ALONE = ("exchange/__init__.py", "exchange/plain.py", "exchange/to_json.py", "exchange/explained_to_json.py")
NOT_NEEDED = (
    "values/ledger/entries.py",
    "values/kinds.py",
    "values/series/logger_files.py",
    "values/ledger/merkle.py",
    "values/ledger/reviews.py",
    "values/rounds.py",
    "values/series/series.py",
    "values/series/treatments.py",
    "values/times.py",
)
STANDARD = ("math", "_json")
STAND_INS = {
    "__future__": "annotations = None\n",
    "collections": "",
    "collections.abc": "Callable = Collection = Iterable = Iterator = Sequence = object\nMapping = dict\n",
    "functools": (
        "def lru_cache(maxsize=128):\n"
        "    def kept(function):\n"
        "        known = {}\n"
        "        def asked(*key):\n"
        "            if key not in known:\n"
        "                known[key] = function(*key)\n"
        "            return known[key]\n"
        "        return asked\n"
        "    return kept\n"
    ),
    "itertools": "def pairwise(values):\n    values = list(values)\n    return zip(values, values[1:])\n",
}


@lru_cache(maxsize=1)
def engine_files() -> dict[str, bytes]:
    """The files under /sheet/engine/: the runtime, the engine's source as one script, the worker.

    Example
    -------
    >>> sorted(engine_files())
    ['brython.js', 'engine.js', 'worker.js']
    """
    runtime = files("brython") / "data"
    here = files("tapedown.web.sheet.engine")
    return {
        "brython.js": (runtime / "brython.js").read_bytes(),
        "engine.js": _source_script(_standard(runtime / "brython_stdlib.js")),
        "worker.js": (here / "worker.js").read_bytes(),
    }


def _standard(stdlib: Traversable) -> dict[str, list[object]]:
    """The modules of the runtime's standard library that the engine keeps."""
    text = stdlib.read_text(encoding="utf-8")
    modules, _ = json.JSONDecoder().raw_decode(text[text.index("{", text.index("var scripts")) :])
    return {name: modules[name] for name in STANDARD}


def _source_script(standard: dict[str, list[object]]) -> bytes:
    """A script that hands every module to the runtime as source."""
    here = files("tapedown.web.sheet.engine")
    modules = {**standard, **{name: _module(name, text) for name, text in STAND_INS.items()}}
    for name in ("quick", "typing", "sheet_engine", "sheet_explaining"):
        modules[name] = _module(name, (here / f"{name}.txt").read_text(encoding="utf-8"))
    modules |= our_modules()
    text = json.dumps({"$timestamp": 1, **modules}, ensure_ascii=False).replace("\u2028", "\\u2028")
    return f"__BRYTHON__.use_VFS = true;\n__BRYTHON__.update_VFS({text});\n".encode()


def our_modules() -> dict[str, list[object]]:
    """Our own modules by name: their source without docstrings."""
    package = files("tapedown")
    found = {"tapedown": _module("tapedown", "", package=True)}
    paths = [path for room in ROOMS for path in _sources(package / room, f"{room}/")]
    for path in sorted([*paths, *ALONE]):
        if path not in NOT_NEEDED:
            name = "tapedown." + path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
            text = (package / path).read_text(encoding="utf-8")
            found[name] = _module(name, without_docstrings(text), package=path.endswith("/__init__.py"))
    return found


def without_docstrings(text: str) -> str:
    """Source without its docstrings, every line left where it was, so that a fault names the line of the file.

    Example
    -------
    >>> without_docstrings("def depth_m(a):\\n    'Depth, m.'\\n    return a")
    'def depth_m(a):\\n\\n    return a'
    """
    lines = text.split("\n")
    for holder in ast.walk(ast.parse(text)):
        body = holder.body if isinstance(holder, (ast.Module, ast.ClassDef, ast.FunctionDef)) else []
        for said in filter(_is_docstring, body):
            kept = f"{' ' * said.col_offset}''" if len(body) == 1 else ""
            first, last = said.lineno - 1, said.end_lineno or said.lineno
            lines[first:last] = [kept] + [""] * (last - first - 1)
    return "\n".join(lines)


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)


def _sources(folder: Traversable, before: str) -> list[str]:
    """Paths of the source files in a folder and in those inside it."""
    found = [f"{before}{path.name}" for path in folder.iterdir() if path.name.endswith(".py")]
    inner = [path for path in folder.iterdir() if path.is_dir() and path.name != "__pycache__"]
    return found + [path for one in inner for path in _sources(one, f"{before}{one.name}/")]


def _module(name: str, text: str, *, package: bool = False) -> list[object]:
    inside: list[object] = [".py", text, []]
    return [*inside, 1] if package or name == "collections" else inside
