"""The tables as queries see them. What makes them, with their guards, is in `schema`."""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, LargeBinary, MetaData, Table, Text

from tapedown.values.entries import Entry

METADATA = MetaData()

ENTRIES = Table(
    "entries",
    METADATA,
    Column("id", Text, primary_key=True),
    *(Column(name, BigInteger if name == "sequence" else Text) for name in Entry._fields if name != "id"),
    Column("content_digest", Text),
    Column("received_at", Text),
)
"""An entry's own fields, the digest of what it says, and when this record took it in (UTC; filled by the database)."""

BLOBS = Table(
    "blobs",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("media_type", Text),
    Column("size", BigInteger),
    Column("bytes", LargeBinary),
)

SCHEMA_HISTORY = Table(
    "schema_history",
    METADATA,
    Column("number", BigInteger, primary_key=True),
    Column("name", Text),
    Column("ran_at", Text),
)

ENTRY_COLUMNS = tuple(ENTRIES.c[name] for name in Entry._fields)
