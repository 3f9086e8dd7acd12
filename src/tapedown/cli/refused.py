"""Which exit code a refusal has: one class a cause, in one table."""

from __future__ import annotations

from tapedown.exchange.packages.errors import DeliveryUnsound, HostileZip, NotADelivery
from tapedown.exchange.sheets import UnreadableSheet
from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.record import errors as record_errors
from tapedown.values.errors import TapedownError
from tapedown.work.entry.comparing import NoComparison
from tapedown.work.refusals import (
    NoNetwork,
    NoSuchReading,
    NoSuchSeries,
    NoSuchWell,
    NotADate,
    NotKnownYet,
    SeveralReadings,
    UnreadableFile,
    WrittenWrong,
)
from tapedown.work.review.proving import NotSigned
from tapedown.work.review.signing import NoSuchSignOff
from tapedown.work.rounds.planning import NoSuchRound

_CLASSES: dict[type[TapedownError], int] = {
    WrittenWrong: 4,
    UnreadableSheet: 4,
    UnreadableFile: 4,
    NotADate: 4,
    NotADelivery: 4,
    HostileZip: 4,
    NotATable: 4,
    TableTooLarge: 4,
    DeliveryUnsound: 7,
    NoNetwork: 5,
    NoSuchWell: 5,
    NotKnownYet: 5,
    NoSuchReading: 5,
    NoSuchSeries: 5,
    SeveralReadings: 5,
    NoSuchRound: 5,
    NoSuchSignOff: 5,
    NotSigned: 5,
    NoComparison: 5,
    record_errors.RecordMissing: 5,
    record_errors.NoSuchEntry: 5,
    record_errors.RecordBusy: 6,
    record_errors.RecordFull: 6,
    record_errors.RecordReadOnly: 6,
    record_errors.RecordUnreadable: 6,
    record_errors.RecordNewer: 6,
    record_errors.NotARecord: 6,
    record_errors.RecordUnsound: 7,
}


def exit_code(error: TapedownError) -> int:
    """The exit code of a refusal."""
    return next((code for kind, code in _CLASSES.items() if isinstance(error, kind)), 3)
