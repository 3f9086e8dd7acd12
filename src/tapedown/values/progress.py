"""How far long work has come, told to whoever waits for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple, TypeVar

Item = TypeVar("Item")
EVERY = 1000
"""Items between two words about them."""


class Progress(NamedTuple):
    """A step of long work: what is done now, how many of how many; of = 0 while that is not known."""

    what: str
    done: int = 0
    of: int = 0

    def __str__(self) -> str:
        """In words.

        Returns
        -------
        str
            Without counts while the whole is not known.

        Example
        -------
        >>> print(Progress("entries checked", 3000, 21532))
        entries checked: 3,000 of 21,532
        """
        return f"{self.what}: {self.done:,} of {self.of:,}" if self.of else self.what


Watch = Callable[[Progress], None]
"""Takes each step as it is reached."""


def unwatched(_step: Progress) -> None:
    """Nobody waits."""


def counted(items: Sequence[Item], what: str, watch: Watch, every: int = EVERY) -> Iterator[Item]:
    """The items one by one, with a word every so many.

    Parameters
    ----------
    items
        What is worked through.
    what
        What is done with them, in words.
    watch
        Is told how many were handed out, of how many; first before the first.
    every
        Items between two words.

    Yields
    ------
    Item
        Each item, in order.

    Example
    -------
    >>> list(counted("abc", "letters read", print, every=2))
    letters read: 0 of 3
    letters read: 2 of 3
    ['a', 'b', 'c']
    """
    for number, item in enumerate(items):
        if number % every == 0:
            watch(Progress(what, number, len(items)))
        yield item
