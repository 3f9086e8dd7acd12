"""Heads of the devices' chains as lines of text, to be kept away from the record."""

from __future__ import annotations

from collections.abc import Iterable

from tapedown.exchange.sheets import UnreadableSheet


def heads_text(heads: Iterable[tuple[str, int, str]]) -> str:
    """One line a device: sequence, digest, device.

    Example
    -------
    >>> heads_text([("desk", 3, "ab")])
    '3 ab desk\\n'
    """
    return "".join(f"{sequence} {digest} {device}\n" for device, sequence, digest in heads)


def heads_from_text(data: bytes, name: str) -> list[tuple[str, int, str]]:
    """The heads in such lines. Raises UnreadableSheet with the line number.

    Example
    -------
    >>> heads_from_text(b"3 ab desk\\n", "heads.txt")
    [('desk', 3, 'ab')]
    """
    heads = []
    for number, line in enumerate(data.decode("utf-8", errors="replace").splitlines(), 1):
        parts = line.split(" ", 2)
        if len(parts) != 3 or not parts[0].isdigit():
            raise UnreadableSheet(
                f"{name}, line {number}: {line[:60]!r} is not a head", hint="use what `tapedown heads` printed"
            )
        heads.append((parts[2], int(parts[0]), parts[1]))
    return heads
