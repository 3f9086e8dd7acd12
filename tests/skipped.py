"""What was not tried in a run, in one line a kind, with how to have it tried."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable

KINDS = (
    (r"Chromium", "no Chromium", "apt-get install chromium"),
    (r"PostgreSQL|postgres", "no PostgreSQL", "apt-get install postgresql"),
    (r"not installed: extra (\w+)", "packages for checks by others are missing", "make test brings them"),
    (r" is not at |beside the repository|open data|shared|TAPEDOWN_\w+", "no open data beside the repository",
     "put them there, or name their folder as the test says (pytest -rs)"),
)  # fmt: skip
"""What a reason holds, what the kind is called, and the mend."""


def lines(reasons: Iterable[str]) -> list[str]:
    """One line for each kind of skip; a reason of no kind stands for itself.

    Example
    -------
    >>> lines(["no Chromium at x", "no Chromium at x", "only on Sundays"])
    ['no Chromium: 2 not tried; apt-get install chromium', 'only on Sundays: 1 not tried']
    """
    counted = Counter(_kind(reason) for reason in reasons)
    return [f"{name}: {n} not tried{'; ' * bool(mend)}{mend}" for (name, mend), n in counted.most_common()]


def _kind(reason: str) -> tuple[str, str]:
    reason = reason.removeprefix("Skipped: ")
    return next(((name, mend) for words, name, mend in KINDS if re.search(words, reason)), (reason, ""))
