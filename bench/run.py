"""Run every benchmark, each beside its peer in the same run; print a table and write bench/results.json and results.md.

`python -m bench.run [SCALE]`: SCALE 0.01 for a quick look, 1 (default) for the figures of the page.
"""

from __future__ import annotations

import importlib
import json
import platform
import sys
from pathlib import Path
from typing import Any

from tabulate import tabulate

HERE = Path(__file__).parent


def modules() -> list[str]:
    """Names of the benchmarks: every module here with a `run`."""
    return sorted(path.stem for path in HERE.glob("*.py") if path.stem not in {"run", "__init__"})


def rows(scale: float) -> list[dict[str, Any]]:
    """The rows of all benchmarks: name, ours_s, peer, peer_s, ratio, aim, n."""
    found: list[dict[str, Any]] = []
    for name in modules():
        found += importlib.import_module(f"bench.{name}").run(scale)
    return found


def page(found: list[dict[str, Any]], scale: float) -> str:
    """The figures as one Markdown page."""
    header = ["what", "n", "ours, s", "peer", "peer, s", "ratio", "aim"]
    table = tabulate(
        [[r["name"], r["n"], _figure(r["ours_s"]), r["peer"], _figure(r["peer_s"]), _figure(r["ratio"]), r["aim"]]
         for r in found],
        header, tablefmt="github",
    )  # fmt: skip
    machine = f"Python {platform.python_version()}, {platform.machine()}, scale {scale:g}"
    return f"# Benchmarks\n\n`make bench`; each beside its peer in the same run. {machine}.\n\n{table}\n"


def _figure(value: float | None) -> str:
    return "" if value is None else f"{value:.3g}"


def main(arguments: list[str]) -> None:
    """Run, print, write."""
    scale = float(arguments[0]) if arguments else 1.0
    found = rows(scale)
    print(page(found, scale))
    if scale == 1.0:
        (HERE / "results.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
        (HERE / "results.md").write_text(page(found, scale), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
