"""The tables as queries see them. What makes them, with their guards, is in `schema`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any

from sqlalchemy import BigInteger, Column, Connection, LargeBinary, MetaData, Table, Text, select

from tapedown.values.ledger.entries import Entry

METADATA = MetaData()

CHUNK = 500
"""Values looked up in one query; databases limit how many they take."""


def _links(name: str) -> Table:
    return Table(
        name,
        METADATA,
        Column("id", Text, primary_key=True),
        *(Column(field, BigInteger if field == "sequence" else Text) for field in Entry._fields if field != "id"),
        Column("content_digest", Text),
        Column("received_at", Text),
    )


ENTRIES = _links("entries")
"""An entry's own fields, the digest of what it says, and when this record took it in (UTC; filled by the database)."""

RIVALS = _links("rivals")
"""Entries that strike what was struck already when they came, and what strikes them; see `rivals`."""

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

LINKS = (ENTRIES, RIVALS)
"""Every link of every chain stands in one of these."""


def entry_columns(table: Table) -> tuple[Column[Any], ...]:
    """The columns that make an `Entry`, in its order."""
    return tuple(table.c[name] for name in Entry._fields)


def links_where(connection: Connection, table: Table, column: str, values: Iterable[str]) -> Iterator[Entry]:
    """The entries of a table whose column holds one of these values."""
    for chunk in chunks(values):
        for row in connection.execute(select(*entry_columns(table)).where(table.c[column].in_(chunk))):
            yield Entry._make(row)


def chunks(values: Iterable[str]) -> Iterator[list[str]]:
    """The values in lists short enough for one query."""
    rest = iter(values)
    while chunk := list(islice(rest, CHUNK)):
        yield chunk
