"""What the pages of files that are sent in do alike: look beside the request, keep it meanwhile, enter under a name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from fastapi import Request, Response

from tapedown.values.forms import Problem
from tapedown.values.progress import Watch
from tapedown.web.links import words_of
from tapedown.web.pages.common import author_for, long_work, remembered
from tapedown.web.pages.wells.entry import missing
from tapedown.web.staged import PackagePaper, Paper, Staged
from tapedown.web.uploads import Sent
from tapedown.work.authorship import Author
from tapedown.work.refusals import NobodyNamed

Kept = TypeVar("Kept")
Named = TypeVar("Named", Paper, PackagePaper)


def look_over(
    request: Request, staged: Staged[Kept], kept: str, name: str, *, looked: Callable[[Watch], Kept], at: str
) -> tuple[Kept, Response]:
    """Look at a staged paper: the paper as far as it was looked at, and the way on to where it is shown.

    `name` is what the file is called, `at` the address below which the papers are shown.
    """
    answer = long_work(
        request,
        f"looking at {name}",
        lambda watch: staged.put(looked(watch), kept),
        shown_at=lambda _work: f"{at}/{kept}",
        once=f"look {kept}",
    )
    return staged.get(kept), answer


def enter_from_tray(
    request: Request,
    sent: Sent,
    staged: Staged[Named],
    *,
    token: str,
    at: str,
    entered: Callable[[Named, Author, Watch], Named],
    again: Callable[[Sequence[Problem]], Response],
) -> Response:
    """Enter a paper that was looked at; `again` shows it once more where nobody is named who writes."""
    try:
        author = author_for(request, sent)
    except NobodyNamed as error:
        return again([missing(error)])
    name = words_of(token)
    paper = staged.get(name)
    answer = long_work(
        request,
        f"entering {paper.name}",
        lambda watch: staged.put(entered(paper, author, watch), name),
        shown_at=lambda _work: f"{at}/{token}",
        once=f"enter {name}",
    )
    return remembered(request, sent, answer)
