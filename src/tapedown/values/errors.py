"""Refusals: a request that cannot be carried out, with the mend.

Field data that is wrong is not refused; it becomes a `Finding` and the work goes on. A programmer's mistake is a
`ValueError`. What is left is a request that must be turned down, and each cause has a class of its own.
"""

from __future__ import annotations


class TapedownError(Exception):
    """A refused request.

    Parameters
    ----------
    message
        What cannot be done and why, for a person.
    hint
        What the person can do about it.

    Example
    -------
    >>> str(TapedownError("no well MF-99 in this network", hint="list the wells: tapedown wells"))
    'no well MF-99 in this network'
    """

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint
