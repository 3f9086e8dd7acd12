"""Staged uploads: files sent in and looked at, not entered yet. In memory only, few, the oldest goes first."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from threading import Lock
from typing import Generic, NamedTuple, TypeVar

from tapedown.exchange.loggers.diagnostics import Account
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.work.imports.package_report import PackageAccount
from tapedown.work.imports.tables import ImportReport

MOST = 4
"""Papers of a kind kept at a time: with the largest upload of 34 MB, some 140 MB."""


class NotInTheTray(TapedownError):
    """A table that is no longer kept: entered long ago, pushed out by newer ones, or the office was started anew."""

    def __init__(self) -> None:
        super().__init__("that file is not kept any more", hint="send it in again; nothing was written")


class Paper(NamedTuple):
    """A table as sent in, its mapping, and what it comes to, or why it comes to nothing."""

    name: str
    data: bytes
    mapping_name: str
    mapping: bytes
    report: ImportReport | None = None
    problems: tuple[Problem, ...] = ()


class LoggerPaper(NamedTuple):
    """A file of a logger as sent in, the series it is for, its profile as text, what would become of its lines."""

    well: str
    series: str
    logger: str
    remarks: str
    file: str
    data: bytes
    profile: str
    questions: tuple[str, ...] = ()
    account: Account | None = None
    problems: tuple[Problem, ...] = ()


class PackagePaper(NamedTuple):
    """A package as sent in, what was said about it, and what it comes to, or why it comes to nothing.

    quantity, datum, layer, table  as said, "" for nothing
    mapping                        what the columns of `table`, or of the layer, mean (TOML)
    """

    name: str
    data: bytes
    quantity: str = ""
    datum: str = ""
    layer: str = ""
    table: str = ""
    mapping: str = ""
    account: PackageAccount | None = None
    problems: tuple[Problem, ...] = ()


Kept = TypeVar("Kept")


class Staged(Generic[Kept]):
    """Papers by a name nobody can guess."""

    def __init__(self) -> None:
        self._papers: OrderedDict[str, Kept] = OrderedDict()
        self._lock = Lock()

    def put(self, paper: Kept, token: str = "") -> str:
        """Keep a paper, in place of the one of this name; gives its name."""
        token = token or secrets.token_urlsafe(16)
        with self._lock:
            self._papers.pop(token, None)
            self._papers[token] = paper
            while len(self._papers) > MOST:
                self._papers.popitem(last=False)
        return token

    def find(self, token: str) -> Kept | None:
        """The paper of a name, None where there is none any more."""
        with self._lock:
            return self._papers.get(token)

    def get(self, token: str) -> Kept:
        """The paper of a name. Raises NotInTheTray."""
        found = self.find(token)
        if found is None:
            raise NotInTheTray
        return found
