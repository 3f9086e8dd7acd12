"""What was not tried, one line a kind, with how to have it tried."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple


class Kind(NamedTuple):
    """A kind of reason for not trying, told by words in the reason."""

    words: str
    name: str
    mend: str


KINDS = (
    Kind(r"Chromium", "no Chromium", "apt-get install chromium, or its path in CHROMIUM"),
    Kind(r"PostgreSQL server", "no PostgreSQL", "apt-get install postgresql, or its programs on the PATH"),
    Kind(r"beside the repository|hostile strings|TAPEDOWN_WATERML", "no open data",
         "TAPEDOWN_SHARED names the folder with data and standards, TAPEDOWN_WATERML one of documents"),
    Kind(r"not installed|could not import", "packages left out",
         "make tests, or pip install -e '.[shared,formats,notebook,validators,dev]'"),
    Kind(r"packages cannot be reached", "no package index", "run with a network, or pip's find-links set"),
    Kind(r"only root|no rights", "no rights to mount", "run as root, where a file system can be mounted"),
    Kind(r"^a file has no|^SQLite has no", "nothing to try on SQLite", "nothing to do"),
)  # fmt: skip


def lines(reasons: Iterable[str]) -> list[str]:
    """One line a kind, the most frequent first; a reason of no kind is a kind of its own.

    Example
    -------
    >>> lines(["a file has no roles", "the tide is out", "SQLite has no TRUNCATE"])
    ['nothing to try on SQLite: 2 not tried; nothing to do', 'the tide is out: 1 not tried']
    """
    counted = Counter(_told(reason) for reason in reasons)
    return [f"{name}: {number} not tried{mend}" for (name, mend), number in counted.most_common()]


def _told(reason: str) -> tuple[str, str]:
    plain = reason.removeprefix("Skipped: ")
    kind = next((kind for kind in KINDS if re.search(kind.words, plain)), None)
    return (plain, "") if kind is None else (kind.name, f"; {kind.mend}")
