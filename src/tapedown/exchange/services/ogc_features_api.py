"""The features service told in OpenAPI 3.0, made from the same tables as its answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tapedown.exchange.delivery.columns import Column
from tapedown.exchange.services.map_systems import CRS84
from tapedown.exchange.services.ogc_features import DEFAULT_LIMIT, GEOJSON, MOST_LIMIT, OPENAPI, FeatureStore

_SCHEMA_TYPES = {"text": "string", "number": "number", "whole": "integer", "flag": "boolean", "time": "string"}


def openapi(store: FeatureStore, base: str, version: str) -> dict[str, Any]:
    """The service told in OpenAPI 3.0."""
    return {
        "openapi": "3.0.3",
        "info": {"title": store.delivery.network.name, "version": version, "description": store.delivery.title},
        "servers": [{"url": base}],
        "paths": {
            "/": {"get": _operation("landing", "the first page")},
            "/conformance": {"get": _operation("conformance", "what the service conforms to")},
            "/api": {"get": _operation("api", "this document", kind=OPENAPI)},
            "/collections": {"get": _operation("collections", "the collections")},
            **{path: operations for name in ("wells", "readings") for path, operations in _paths(store, name).items()},
        },
        "components": {
            "schemas": {
                "refusal": {"type": "object", "required": ["error"], "properties": {"error": {"type": "object"}}},
                **{name: _schema(store.collection(name).table.columns) for name in ("wells", "readings")},
            }
        },
    }


def _paths(store: FeatureStore, name: str) -> dict[str, Any]:
    here = f"/collections/{name}"
    one = {"name": "featureId", "in": "path", "required": True, "schema": {"type": "string"}}
    feature_of = {
        "type": "object", "required": ["type", "id", "geometry", "properties"],
        "properties": {"type": {"type": "string", "enum": ["Feature"]}, "id": {"type": "string"},
                       "geometry": {"type": "object", "nullable": True},
                       "properties": {"$ref": f"#/components/schemas/{name}"}},
    }  # fmt: skip
    page = {"type": "object", "required": ["type", "features"],
            "properties": {"type": {"type": "string", "enum": ["FeatureCollection"]},
                           "features": {"type": "array", "items": feature_of},
                           "numberMatched": {"type": "integer"}, "numberReturned": {"type": "integer"},
                           "timeStamp": {"type": "string", "format": "date-time"}}}  # fmt: skip
    title = store.collection(name).title
    return {
        here: {"get": _operation(f"{name}.collection", title)},
        f"{here}/items": {"get": _operation(f"{name}.items", f"a page of {name}", _parameters(store), GEOJSON, page)},
        f"{here}/items/{{featureId}}": {
            "get": _operation(f"{name}.item", "one feature", [one, _system("crs", store)], GEOJSON, feature_of)
        },
    }


def _query(name: str, schema: dict[str, Any], *, listed: bool = False) -> dict[str, Any]:
    style = {"style": "form", "explode": False} if listed else {}
    return {"name": name, "in": "query", "required": False, "schema": schema, **style}


_NUMBERS = {"type": "array", "minItems": 4, "maxItems": 6, "items": {"type": "number"}}


def _system(name: str, store: FeatureStore) -> dict[str, Any]:
    listed = list(store.systems.offered)
    return _query(name, {"type": "string", "format": "uri", "enum": listed, "default": CRS84})


def _parameters(store: FeatureStore) -> list[dict[str, Any]]:
    return [
        _query("limit", {"type": "integer", "minimum": 1, "maximum": MOST_LIMIT, "default": DEFAULT_LIMIT}),
        _query("offset", {"type": "integer", "minimum": 0, "default": 0}),
        _query("bbox", _NUMBERS, listed=True),
        _system("bbox-crs", store),
        _query("datetime", {"type": "string"}),
        _system("crs", store),
    ]


def _operation(
    identity: str,
    summary: str,
    parameters: Sequence[Mapping[str, Any]] = (),
    kind: str = "application/json",
    schema: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    refusal = {"application/json": {"schema": {"$ref": "#/components/schemas/refusal"}}}
    content = {kind: {"schema": dict(schema or {"type": "object"})}}
    statuses = {"400": "it cannot be understood", "403": "not published", "404": "nothing there", "429": "too often"}
    responses = {"200": {"description": summary, "content": content}}
    responses |= {status: {"description": meaning, "content": refusal} for status, meaning in statuses.items()}
    operation: dict[str, Any] = {"operationId": identity, "summary": summary, "responses": responses}
    return operation | ({"parameters": list(parameters)} if parameters else {})


def _schema(columns: Sequence[Column]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {
            column.name: {
                "type": _SCHEMA_TYPES[column.kind],
                "nullable": True,
                "description": column.meaning + (f", {column.unit}" if column.unit else ""),
                **({"format": "date-time"} if column.kind == "time" else {}),
            }
            for column in columns
        },
    }
