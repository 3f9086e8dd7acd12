"""What the record refuses, one class per cause, and how a database's own errors become one of them."""

from __future__ import annotations

import errno
import sqlite3

from sqlalchemy.exc import DBAPIError

from tapedown.values.errors import TapedownError
from tapedown.values.ledger.entries import Entry


class RecordMissing(TapedownError):
    """There is no record at this place."""


class RecordExists(TapedownError):
    """Something stands already where a new record, a backup or a restored record should go."""


class RecordNewer(TapedownError):
    """The record was written by a later version of the program."""


class NotARecord(TapedownError):
    """The place holds something else than a record."""


class RecordBusy(TapedownError):
    """Another program has been writing for longer than we wait."""


class RecordFull(TapedownError):
    """There is no room left on the disk; nothing of the refused request was written."""


class RecordReadOnly(TapedownError):
    """The record may not be written with these rights."""


class RecordUnreadable(TapedownError):
    """The record cannot be reached or is damaged."""


class RecordUnsound(TapedownError):
    """A copy did not pass `verify`, so it was not put in place."""


class NotShared(TapedownError):
    """The request makes sense only for a record shared on a server."""


class RoleUnfit(TapedownError):
    """The database role does not exist or could switch the guards off."""


class NoSuchEntry(TapedownError):
    """No entry has this id."""


class NoSuchBlob(TapedownError):
    """No stored file has this digest."""


class IdTaken(TapedownError):
    """The id belongs to an entry that says something else."""

    def __init__(self, stored: Entry) -> None:
        super().__init__(
            f"id {stored.id} already belongs to another entry: {told(stored)}",
            hint="give the new fact an id of its own",
        )
        self.stored = stored


class AlreadyStruck(TapedownError):
    """Somebody else corrected or withdrew the entry first."""

    def __init__(self, target: str, striker: Entry) -> None:
        super().__init__(
            f"entry {target} is already struck by {told(striker)}: {striker.reason}",
            hint=f"look at that correction; if it is wrong, strike it instead: {striker.id}",
        )
        self.striker = striker


class NothingToStrike(TapedownError):
    """The entry to be struck is not in this record."""

    def __init__(self, target: str) -> None:
        super().__init__(
            f"entry {target} is not in this record, so it cannot be struck",
            hint="check the id, or take in the entries of the device that wrote it first",
        )


class MayNotStrike(TapedownError):
    """The entry may not strike the one it names."""

    def __init__(self, target: str, why: str) -> None:
        super().__init__(f"entry {target} cannot be struck so: {why}", hint="correct the entry by one of its own kind")


class ClockBehind(TapedownError):
    """The device's clock stands before the last entry the device wrote."""

    def __init__(self, device: str, written_at: str, last_written_at: str) -> None:
        super().__init__(
            f"the clock says {written_at}, but {device} last wrote at {last_written_at}",
            hint="put the clock right; if the earlier time was the wrong one, go on under a new device name",
        )


def told(entry: Entry) -> str:
    """An entry in a sentence: what it is, by whom, when, where."""
    return f"{entry.kind} {entry.id}, written by {entry.by} at {entry.written_at} on {entry.device}"


_BUSY = RecordBusy("the record is busy: another program is writing", hint="wait a moment and try again")
_FULL = RecordFull("the disk is full; nothing of this request was written", hint="make room and try again")
_READ_ONLY = RecordReadOnly(
    "the record may not be written here",
    hint="check the rights on the file and its folder, or the role you log in with",
)
_NOT_SQLITE = NotARecord("the file is not a record", hint="check the path")

_SQLITE_CAUSES: dict[int, TapedownError] = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_IOERR_SHMSIZE: _FULL,  # no room for the shared index of the write-ahead log
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_PERM: _READ_ONLY,
    sqlite3.SQLITE_NOTADB: _NOT_SQLITE,
}
_POSTGRESQL_CAUSES: dict[str, TapedownError] = {
    "55P03": _BUSY,  # lock not available
    "40P01": _BUSY,  # deadlock
    "40001": _BUSY,  # serialisation failure
    "23505": _BUSY,  # a program that does not queue as we do has just written the same
    "53100": _FULL,  # disk full
    "42501": _READ_ONLY,  # insufficient privilege
    "25006": _READ_ONLY,  # read-only transaction
}


def refusal(error: DBAPIError | sqlite3.Error | OSError) -> TapedownError | None:
    """The refusal that a database's or a disk's error amounts to; None when it is a mistake in the program."""
    cause: object = error.orig if isinstance(error, DBAPIError) else error
    known = _cause(cause)
    if known is not None:
        return type(known)(known.args[0], hint=known.hint)
    if isinstance(cause, OSError) or type(cause).__name__ in ("OperationalError", "DatabaseError"):
        first_line = str(cause).strip().partition("\n")[0]
        return RecordUnreadable(
            f"the record cannot be read: {first_line}",
            hint="check that the file or server can be reached; if the record is damaged, restore a backup",
        )
    return None


def _cause(cause: object) -> TapedownError | None:
    if isinstance(cause, OSError):
        return _FULL if cause.errno in (errno.ENOSPC, errno.EDQUOT) else None
    if isinstance(cause, sqlite3.Error):
        code = getattr(cause, "sqlite_errorcode", 0)
        return _SQLITE_CAUSES.get(code) or _SQLITE_CAUSES.get(code & 0xFF)
    return _POSTGRESQL_CAUSES.get(getattr(cause, "sqlstate", None) or "")
