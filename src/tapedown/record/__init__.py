"""The record: entries written once and never changed, in a SQLite file or a shared PostgreSQL database.

This is the only room with SQL in it. Everything it hands out is a frozen value.
"""

from tapedown.record.copying import backup, restore
from tapedown.record.held import (
    Blob,
    Head,
    Held,
    add_blob,
    blob,
    blobs_present,
    entries,
    entries_after,
    entry,
    heads,
    present,
)
from tapedown.record.merge import Receipt, add, append
from tapedown.record.opening import Record, create_record, open_record
from tapedown.record.proof import Proof, ProofProblem, verify
from tapedown.record.rivals import Aside, kept_aside
from tapedown.record.roles import grant_writer

__all__ = [
    "Aside",
    "Blob",
    "Head",
    "Held",
    "Proof",
    "ProofProblem",
    "Receipt",
    "Record",
    "add",
    "add_blob",
    "append",
    "backup",
    "blob",
    "blobs_present",
    "create_record",
    "entries",
    "entries_after",
    "entry",
    "grant_writer",
    "heads",
    "kept_aside",
    "open_record",
    "present",
    "restore",
    "verify",
]
