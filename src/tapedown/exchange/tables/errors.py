"""What is refused before a table is read."""

from __future__ import annotations

from tapedown.values.errors import TapedownError


class NotATable(TapedownError):
    """The bytes are no table that can be read."""


class TableTooLarge(TapedownError):
    """The file is larger, or unpacks to more, than is sensible."""
