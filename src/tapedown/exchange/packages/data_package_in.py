"""A Data Package from others -> its tables. Our own are known by their columns; another's needs a mapping file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from tapedown.exchange.formats.csv_package import ESCAPING, plain_text
from tapedown.exchange.packages.delivered_in import Numbered, delivered_tables
from tapedown.exchange.packages.incoming import Found, Incoming, NotTaken
from tapedown.exchange.packages.manifest import is_inside
from tapedown.exchange.strict_json import NotJson, strict_json
from tapedown.exchange.tables.errors import NotATable
from tapedown.exchange.tables.mapping import TableMapping
from tapedown.exchange.tables.reading import Table, TableRow, read_table

DESCRIPTOR = "datapackage.json"
LARGEST_DESCRIPTOR = 20_000_000
Read = Callable[[str], bytes]
"""The bytes of a file of the package, by its path."""


class Resource(NamedTuple):
    """A table of a package: its name, its file, how it is written."""

    name: str
    path: str
    delimiter: str
    blanks: tuple[str, ...]


class Descriptor(NamedTuple):
    """What a descriptor says: tables, things that are not tables, and whether it is one of ours."""

    tables: tuple[Resource, ...]
    not_taken: tuple[NotTaken, ...]
    ours: bool


def read_descriptor(data: bytes) -> Descriptor:
    """Read a descriptor, v1 or v2.

    Raises
    ------
    NotATable
    """
    try:
        descriptor = strict_json(data, largest=LARGEST_DESCRIPTOR)
    except NotJson as error:
        raise NotATable(f"{DESCRIPTOR}: {error}", hint="ask for the package again") from None
    resources = descriptor.get("resources") if isinstance(descriptor, dict) else None
    if not isinstance(resources, list) or not resources or not all(isinstance(r, dict) for r in resources):
        raise NotATable(f"{DESCRIPTOR} lists no resources", hint="is this a Data Package?")
    read = [_resource(resource, number) for number, resource in enumerate(resources, 1)]
    tables = tuple(one for one in read if isinstance(one, Resource))
    return Descriptor(tables, tuple(o for o in read if isinstance(o, NotTaken)), descriptor.get("escaping") == ESCAPING)


def _resource(fields: Mapping[str, Any], number: int) -> Resource | NotTaken:
    name = str(fields.get("name") or f"resource {number}")
    path = fields.get("path")
    if isinstance(path, list) and len(path) == 1:
        path = path[0]
    if not isinstance(path, str):
        return NotTaken(name, 0, "it is not one file of the package", "ask for each table as one CSV file")
    if not is_inside(path):
        return NotTaken(name, 0, f"its file {path[:80]!r} does not lie in the package", "fetch it and put it there")
    if not path.lower().endswith((".csv", ".txt", ".tsv", ".xlsx")):
        return NotTaken(name, 0, f"{path[:80]} is not a table we read", "ask for it as CSV")
    dialect, schema = fields.get("dialect"), fields.get("schema")
    delimiter = dialect.get("delimiter", "") if isinstance(dialect, dict) else ""
    missing = schema.get("missingValues", ()) if isinstance(schema, dict) else ()
    blanks = [m.get("value") if isinstance(m, dict) else m for m in missing] if isinstance(missing, list) else []
    texts = tuple(b for b in blanks if isinstance(b, str))
    return Resource(name, path, delimiter if isinstance(delimiter, str) and len(delimiter) == 1 else "", texts)


def read_data_package(descriptor: Descriptor, read: Read, mappings: Mapping[str, TableMapping]) -> Found:
    """The tables of a package, each with what its columns mean.

    Parameters
    ----------
    read : gives the bytes of a file of the package
    mappings : name of a table -> its mapping, for tables that are not ours

    Raises
    ------
    NotATable, TableTooLarge
    """
    tables: list[Incoming] = []
    aside = list(descriptor.not_taken)
    delivered: dict[str, tuple[Sequence[str], Numbered]] = {}
    for resource in descriptor.tables:
        if resource.name in mappings:
            mapping = mappings[resource.name]
            blanks = mapping.blanks | set(resource.blanks)
            table = read_table(read(resource.path), header_row=mapping.header_row, sheet=mapping.sheet,
                               delimiter=mapping.delimiter or resource.delimiter)  # fmt: skip
            tables.append(Incoming(resource.name, table, mapping._replace(blanks=blanks)))
            continue
        table = read_table(read(resource.path), delimiter=resource.delimiter)
        if descriptor.ours:
            delivered[resource.name] = (table.header, _rows(table))
        else:
            aside.append(_unknown(resource.name, table))
    whole = delivered_tables(delivered) if delivered else Found((), ())
    return Found((*whole.tables, *tables), (*aside, *whole.not_taken))


def _rows(table: Table) -> list[tuple[TableRow, dict[str, str]]]:
    """Rows with their cells by column name, escapes taken away."""
    return [(row, {name: plain_text(cell) for name, cell in zip(table.header, row.cells)}) for row in table.rows]


def _unknown(name: str, table: Table) -> NotTaken:
    columns = ", ".join(table.header[:12])
    mend = (
        f"write a mapping for its columns ({columns}) and name the table with it: "
        f"on the command line --table {name} --mapping FILE"
    )
    return NotTaken(name, len(table.rows), "what its columns mean is not known", mend)
