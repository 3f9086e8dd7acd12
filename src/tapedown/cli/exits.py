"""Exit codes, in one table. Light: the help of the program shows them."""

from __future__ import annotations

EXITS: tuple[tuple[int, str], ...] = (
    (0, "done"),
    (1, "a fault of the program itself; please report it"),
    (2, "the command was not understood"),
    (3, "refused: the message says why and what to do"),
    (4, "something written cannot be read; the places and mends are listed; nothing was written"),
    (5, "not found: no such network, well, reading or entry"),
    (6, "the record cannot be used now: busy, full, read-only, unreadable or newer than this program"),
    (7, "the record or the delivery is not sound: verify found problems"),
    (8, "done, but some lines were set aside; the report lists them"),
)
"""code -> meaning, as the guide prints it."""

UNSOUND, SET_ASIDE = 7, 8
