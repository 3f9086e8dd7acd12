"""The files of the field sheet: a closed list, read once from the package; no name asked for reaches a disk."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import NamedTuple, TypedDict

from tapedown.web.sheet.engine.bundle import engine_files

TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
}
"""What a file's ending makes it; a file of any other kind is not served."""
START, WORKER, SERVICE_WORKER = "index.html", "engine/worker.js", "sw.js"
APART = ("engine", "__pycache__")
"""Folders whose files are not the sheet's own; the engine's come from its bundle."""
WORKER_POLICY = "default-src 'self'; script-src 'self' 'unsafe-eval'; object-src 'none'; base-uri 'none'"
"""The Python runtime compiles what it runs; only its worker may."""


class VersionJson(TypedDict):
    """A hash over all files, and the addresses to be kept."""

    version: str
    files: list[str]


class SheetFile(NamedTuple):
    """A file as it is sent."""

    data: bytes
    media_type: str
    etag: str


@lru_cache(maxsize=1)
def sheet_files() -> dict[str, SheetFile]:
    """Every file by its name under /sheet/."""
    own = dict(_walked(files("tapedown.web.sheet"), ""))
    engine = {f"engine/{name}": data for name, data in engine_files().items()}
    return {
        name: SheetFile(data, TYPES[_ending(name)], f'"{hashlib.sha256(data).hexdigest()[:32]}"')
        for name, data in sorted({**own, **engine}.items())
        if _ending(name) in TYPES
    }


def _walked(folder: Traversable, before: str) -> Iterator[tuple[str, bytes]]:
    for item in folder.iterdir():
        if item.is_file() and _ending(item.name) in TYPES:
            yield before + item.name, item.read_bytes()
        elif item.is_dir() and item.name not in APART:
            yield from _walked(item, f"{before}{item.name}/")


def _ending(name: str) -> str:
    return "." + name.rpartition(".")[2]


@lru_cache(maxsize=1)
def version() -> VersionJson:
    """A hash over all files, and the addresses that a phone keeps to work without a network.

    The service worker itself is not among them: the browser keeps it.
    """
    listed = sheet_files()
    digest = hashlib.sha256("".join(f"{name} {file.etag}\n" for name, file in listed.items()).encode()).hexdigest()
    kept = [f"/sheet/{name}" for name in listed if name not in {START, SERVICE_WORKER}]
    return {"version": digest[:16], "files": ["/sheet/", *kept]}


def headers_of(name: str, file: SheetFile) -> dict[str, str]:
    """Headers of a file: asked for anew each time, so that a phone never mixes two versions."""
    headers = {"cache-control": "no-cache", "etag": file.etag}
    if name == SERVICE_WORKER:
        headers["service-worker-allowed"] = "/sheet/"
    if name == WORKER:
        headers["content-security-policy"] = WORKER_POLICY
    return headers
