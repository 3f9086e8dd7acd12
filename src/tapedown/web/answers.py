"""Answers in JSON: a route says by its return type what it tells, and mypy holds it to that.

What goes out is not validated again; tests hold every answer against its description in /openapi.json.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping, Sequence
from functools import cache, lru_cache, wraps
from inspect import cleandoc
from typing import Any, ParamSpec, TypedDict, TypeVar, Union, get_args, get_origin, get_type_hints, is_typeddict

from fastapi import APIRouter, Response
from pydantic import BaseModel, create_model
from pydantic_core import to_json

from tapedown.exchange.plain import plain
from tapedown.values.forms import Problem

Asked = ParamSpec("Asked")
Told = TypeVar("Told")
NAMES = {
    "LineReport": "ImportLineShape",
    "LoadItem": "LoadShape",
    "OutlineTold": "RoundOut",
    "Point": "SeriesPointShape",
    "ProofProblem": "TroubleShape",
    "RefusalTold": "ErrorBody",
}
"""Names in the description of values that are called otherwise inside."""


class RefusalTold(TypedDict):
    """Why a request was refused and what to do about it."""

    message: str
    hint: str
    places: Sequence[Problem]


class ErrorTold(TypedDict):
    """The one shape of every refusal."""

    error: RefusalTold


def answers(
    router: APIRouter, path: str, *, ending: str = "Shape", method: str = "GET", **more: Any
) -> Callable[[Callable[Asked, Told]], Callable[Asked, Told]]:
    """A route that sends what the function returns; `ending` closes the names of its types in the description."""

    def add(asked: Callable[Asked, Told]) -> Callable[Asked, Told]:
        hints = get_type_hints(asked)

        @wraps(asked)
        def sent(*given: Asked.args, **named: Asked.kwargs) -> Response:
            found = as_typed(plain(asked(*given, **named)), kind)
            return Response(to_json(found, inf_nan_mode="null"), media_type="application/json")

        kind, model = hints["return"], described(hints["return"], ending)
        router.add_api_route(path, sent, methods=[method], response_model=model, **{"responses": REFUSALS, **more})
        return asked

    return add


def as_typed(data: Any, kind: Any) -> Any:
    """Plain data in the order of its type, a whole number where the type says float as a float."""
    if data is None or kind is Any:
        return data
    if _has_fields(kind):
        return {name: as_typed(data[name], hint) for name, hint in _hints(kind).items()}
    inner = [one for one in get_args(kind) if one is not type(None)]
    if get_origin(kind) in (Union, types.UnionType):
        return as_typed(data, float if Any in inner else inner[0])
    if isinstance(data, dict) and inner:
        return {name: as_typed(one, inner[1]) for name, one in data.items()}
    if isinstance(data, list):
        return [as_typed(one, hint) for one, hint in zip(data, inner if _is_row(kind) else inner[:1] * len(data))]
    return float(data) if kind is float else data


def _has_fields(kind: Any) -> bool:
    return is_typeddict(kind) or hasattr(kind, "_fields")


def _is_row(kind: Any) -> bool:
    return get_origin(kind) is tuple and get_args(kind)[-1] is not Ellipsis


_hints = lru_cache(maxsize=None)(get_type_hints)


def described(kind: Any, ending: str = "Shape") -> Any:
    """A type as pydantic describes it: named tuples and typed dictionaries as objects, all that is in them too."""
    if _has_fields(kind):
        return _model(kind, ending)
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return float if Any in inner else Union[tuple(described(one, ending) for one in inner)]  # noqa: UP007 - made of many
    if _is_row(kind):
        return tuple.__class_getitem__(tuple(described(one, ending) for one in inner))
    if origin in (list, tuple, Sequence):
        return list[described(inner[0], ending)]  # type: ignore[misc]
    return dict[str, described(inner[1], ending)] if origin in (dict, Mapping) else kind  # type: ignore[misc]


@cache
def _model(kind: Any, ending: str) -> type[BaseModel]:
    name = NAMES.get(kind.__name__) or kind.__name__.removesuffix("Told") + ending
    hints = _hints(kind)
    fields: dict[str, Any] = {field: _field(field, hints[field], kind, name, ending) for field in hints}
    return create_model(name, __doc__=cleandoc(kind.__doc__ or ""), **fields)


def _field(field: str, hint: Any, kind: Any, name: str, ending: str) -> Any:
    if get_args(hint) == (kind,):
        return list[name]  # type: ignore[valid-type]
    counted = hasattr(kind, "_fields") and field == "dof"
    return described(hint, ending) | None if counted else described(hint, ending)


REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": described(ErrorTold), "description": text}
    for status, text in {
        400: "the request cannot be understood",
        401: "the office asks for its key",
        403: "not from a page of this office",
        404: "nothing there by that name",
        422: "something asked cannot be read",
        503: "the record cannot be used now",
    }.items()
}
