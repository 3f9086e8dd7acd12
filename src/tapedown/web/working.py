"""Long work of the office: done beside the requests, so that a page can show how far it has come."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from threading import Lock
from typing import Any, NamedTuple

from tapedown.values.errors import TapedownError
from tapedown.values.progress import Progress, Watch

MOST = 40
"""Pieces of work remembered; the oldest that is done goes first."""
AT_ONCE = 2
PATIENCE_S = 0.8
"""How long a request waits before it hands over to the page that shows progress."""


class NotAtWork(TapedownError):
    """Work that nobody remembers: done long ago, or the office was started anew meanwhile."""

    def __init__(self) -> None:
        super().__init__(
            "nothing is known of this work any more",
            hint="go back to the page it was asked from; what was written is in the record",
        )


class PieceOfWork(NamedTuple):
    """A piece of work: what it is, where its outcome is shown once it is done, what must not run twice, how it goes."""

    title: str
    shown_at: Callable[[str], str]
    once: str
    future: Future[Any]
    steps: list[Progress]

    @property
    def step(self) -> Progress:
        """The step it has reached."""
        return self.steps[-1]


class Working:
    """Pieces of work by a name nobody can guess."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(AT_ONCE, "office-work")
        self._pieces: OrderedDict[str, PieceOfWork] = OrderedDict()
        self._lock = Lock()

    def start(self, title: str, work: Callable[[Watch], Any], shown_at: Callable[[str], str], once: str) -> str:
        """Begin; gives the name. `shown_at` makes the address of the outcome from the name.

        While work of the same `once` runs, its name is given and nothing begins.
        """
        token, steps = secrets.token_urlsafe(16), [Progress("waiting for its turn")]

        def watch(step: Progress) -> None:
            steps[:] = [step]

        with self._lock:
            for name, piece in self._pieces.items():
                if piece.once == once and not piece.future.done():
                    return name
            self._pieces[token] = PieceOfWork(title, shown_at, once, self._pool.submit(work, watch), steps)
            done = [name for name, piece in self._pieces.items() if piece.future.done()]
            for name in done[: max(0, len(self._pieces) - MOST)]:
                del self._pieces[name]
        return token

    def piece(self, token: str) -> PieceOfWork:
        """The piece of a name. Raises NotAtWork."""
        with self._lock:
            found = self._pieces.get(token)
        if found is None:
            raise NotAtWork
        return found

    def soon(self, token: str) -> bool:
        """Whether the piece is done within a moment; waits that long."""
        try:
            self.piece(token).future.exception(PATIENCE_S)
        except TimeoutError:
            return False
        return True

    def outcome(self, token: str) -> Any:
        """What the piece came to; raises what it raised. Raises NotAtWork while it is not done."""
        future = self.piece(token).future
        if not future.done():
            raise NotAtWork
        return future.result()

    def close(self) -> None:
        """Let what runs come to its end; nothing new begins."""
        self._pool.shutdown(cancel_futures=True)
