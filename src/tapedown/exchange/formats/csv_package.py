"""A delivery as CSV files in one folder, told by a Data Package descriptor (v2) and by CSVW metadata.

Text that a spreadsheet would take for a formula gets an apostrophe before it, and so does text that begins with an
apostrophe: `plain_text` takes it away again. Numbers are numbers and are left alone.

References
----------
Data Package v2.0, Table Schema v2.0 (datapackage.org); Metadata Vocabulary for Tabular Data (W3C, 17 December 2015);
OWASP ASVS 5.0 1.2.10 for the apostrophe.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any

from tapedown.exchange.delivery.columns import Column, Flat, LongTable, Rounded
from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.delivery.words_of_standards import UCUM_URI

_STEERS = ("=", "+", "-", "@", "\t", "\r", "\n", "'", "\0")
ESCAPING = "text beginning with = + - @ ' or a control character has one apostrophe put before it"
_TABLE_SCHEMA = {"text": "string", "number": "number", "whole": "integer", "flag": "boolean", "time": "datetime"}
_CSVW = {"text": "string", "number": "double", "whole": "integer", "flag": "boolean", "time": "dateTime"}


def safe_text(text: str) -> str:
    """Text that no spreadsheet takes for a formula.

    Example
    -------
    >>> safe_text("=1+1"), safe_text("MF-07"), safe_text("'t Zand")
    ("'=1+1", 'MF-07', "''t Zand")
    """
    return f"'{text}" if text.startswith(_STEERS) else text


def plain_text(text: str) -> str:
    """The text as it was before `safe_text`.

    Example
    -------
    >>> plain_text("'=1+1"), plain_text("''t Zand"), plain_text("'quoted'")
    ('=1+1', "'t Zand", "'quoted'")
    """
    return text[1:] if text.startswith("'") and text[1:].startswith(_STEERS) else text


def csv_files(made: Tables) -> Iterator[tuple[str, bytes]]:
    """The files of the folder: name and bytes."""
    delivery = made.delivery
    tables: list[Flat | LongTable] = [*made.all, *made.recorded]
    for table in made.all:
        yield f"{table.name}.csv", csv_bytes(table)
    for long in made.recorded:
        yield f"{long.name}.csv", long_csv_bytes(long)
    yield "datapackage.json", _json(_data_package(delivery, tables))
    yield "csv-metadata.json", _json(_csvw(delivery, tables))


def csv_bytes(table: Flat) -> bytes:
    """A table as CSV (RFC 4180, UTF-8 without a mark)."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.name for column in table.columns])
    writers = [_CELLS[column.kind] for column in table.columns]
    for row in table.rows:
        writer.writerow(["" if cell is None else write(cell) for write, cell in zip(writers, row)])
    return out.getvalue().encode("utf-8", "replace")


def long_csv_bytes(table: LongTable) -> bytes:
    """A table of what loggers recorded as CSV."""
    texts = [column.name for column in table.columns if column.kind == "text" and not column.choices]
    out = io.BytesIO()
    out.write(f"{','.join(column.name for column in table.columns)}\r\n".encode())
    for rows in table.batches():
        safe = [rows[name].map_elements(safe_text, rows[name].dtype) for name in texts]
        rows.with_columns(safe).write_csv(out, include_header=False, line_terminator="\r\n")
    return out.getvalue()


def _number(cell: float | Rounded) -> str:
    return cell.text if isinstance(cell, Rounded) else repr(float(cell))


_CELLS: dict[str, Any] = {
    "text": safe_text,
    "number": _number,
    "whole": str,
    "flag": lambda cell: "true" if cell else "false",
    "time": lambda cell: cell,
}


def _json(data: dict[str, Any]) -> bytes:
    return (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode("utf-8", "replace")


def _data_package(delivery: Delivery, tables: Iterable[Flat | LongTable]) -> dict[str, Any]:
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "groundwater-readings",
        "title": delivery.title,
        "description": delivery.network.remarks or f"Wells and readings of {delivery.network.name}.",
        "created": delivery.made_at,
        "resources": [_resource(table) for table in tables],
        "network": network_to_json(delivery),
        "escaping": ESCAPING,
    }


def network_to_json(delivery: Delivery) -> dict[str, Any]:
    """Facts of the network and of the delivery that no table holds."""
    network = delivery.network
    return {
        "name": network.name,
        "length_unit": network.length_unit,
        "vertical_datum": network.vertical_datum,
        "zone": network.zone,
        "changed_settings": {row.name: row.value for row in network.settings},
        "as_known_at": delivery.as_of or None,
        "made_by": delivery.program,
        "engine": delivery.engine,
        "depths": "positive down",
        "elevations": "positive up",
        "units": UCUM_URI,
    }


def _resource(table: Flat | LongTable) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
        "fields": [_field(column, required=column.name in table.key) for column in table.columns],
        "primaryKey": list(table.key),
        "missingValues": [""],
    }
    if table.belongs:
        schema["foreignKeys"] = [
            {"fields": [column], "reference": {"resource": other, "fields": [theirs]}}
            for column, (other, theirs) in table.belongs.items()
        ]
    return {
        "$schema": "https://datapackage.org/profiles/2.0/dataresource.json",
        "name": table.name.replace("_", "-"),
        "type": "table",
        "title": table.meaning,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"$schema": "https://datapackage.org/profiles/2.0/tabledialect.json", "delimiter": ","},
        "schema": schema,
    }


def _field(column: Column, *, required: bool) -> dict[str, Any]:
    limits: dict[str, Any] = {"required": True} if required else {}
    if column.choices:
        limits["enum"] = list(column.choices)
    return {
        "name": column.name,
        "type": _TABLE_SCHEMA[column.kind],
        "title": column.name.replace("_", " "),
        "description": column.meaning,
        **({"format": "any"} if column.kind == "time" else {}),
        **({"unit": column.unit} if column.unit else {}),
        **({"constraints": limits} if limits else {}),
    }


def _csvw(delivery: Delivery, tables: Iterable[Flat | LongTable]) -> dict[str, Any]:
    return {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "dc:title": delivery.title,
        "dc:created": delivery.made_at,
        "dc:creator": delivery.program,
        "rdfs:comment": ESCAPING,
        "tables": [_csvw_table(table) for table in tables],
    }


def _csvw_table(table: Flat | LongTable) -> dict[str, Any]:
    key: list[str] | str = list(table.key) if len(table.key) > 1 else table.key[0]
    schema: dict[str, Any] = {
        "columns": [_csvw_column(column, required=column.name in table.key) for column in table.columns],
        "primaryKey": key,
    }
    if table.belongs:
        schema["foreignKeys"] = [
            {"columnReference": column, "reference": {"resource": f"{other}.csv", "columnReference": theirs}}
            for column, (other, theirs) in table.belongs.items()
        ]
    return {"url": f"{table.name}.csv", "dc:title": table.meaning, "tableSchema": schema}


def _csvw_column(column: Column, *, required: bool) -> dict[str, Any]:
    return {
        "name": column.name,
        "titles": column.name,
        "dc:description": column.meaning,
        "datatype": _CSVW[column.kind],
        **({"required": True} if required else {}),
        **({"qudt:ucumCode": column.unit} if column.unit else {}),
    }
