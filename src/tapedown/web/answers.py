"""Answers in JSON: a route says by its return type what it tells, and mypy holds it to that.

What goes out is not validated again; tests hold every answer against its description in /openapi.json.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping, Sequence
from functools import cache, wraps
from inspect import cleandoc
from typing import Any, ParamSpec, TypedDict, TypeVar, Union, get_args, get_origin, get_type_hints, is_typeddict

from fastapi import APIRouter, Response
from pydantic import BaseModel, create_model
from pydantic_core import to_json

from tapedown.exchange.plain import counted, plain
from tapedown.values.forms import Problem

Asked = ParamSpec("Asked")
Told = TypeVar("Told")
Way = Callable[[Any], Any]
_UNIONS, _LISTS, _MAPPINGS = (Union, types.UnionType), (list, tuple, Sequence), (dict, Mapping)
_WAYS: dict[Any, Way] = {}
NAMES = {
    "LineReport": "ImportLineShape",
    "LoadItem": "LoadShape",
    "MeasuringPointJson": "PointShape",
    "OpenRoundsJson": "RoundsOut",
    "OutlineJson": "RoundOut",
    "Point": "SeriesPointShape",
    "ProofProblem": "TroubleShape",
    "RefusalJson": "ErrorBody",
}
"""Names in the description of values that are called otherwise inside."""


class RefusalJson(TypedDict):
    """Why a request was refused and what to do about it."""

    message: str
    hint: str
    places: Sequence[Problem]


class ErrorJson(TypedDict):
    """The one shape of every refusal."""

    error: RefusalJson


def answers(
    router: APIRouter, path: str, *, ending: str = "Shape", method: str = "GET", **more: Any
) -> Callable[[Callable[Asked, Told]], Callable[Asked, Told]]:
    """A route that sends what the function returns; `ending` closes the names of its types in the description."""

    def add(asked: Callable[Asked, Told]) -> Callable[Asked, Told]:
        kind = get_type_hints(asked)["return"]
        way = told_as(kind)

        @wraps(asked)
        def sent(*given: Asked.args, **named: Asked.kwargs) -> Response:
            return Response(to_json(way(asked(*given, **named)), inf_nan_mode="null"), media_type="application/json")

        model = described(kind, ending)
        router.add_api_route(path, sent, methods=[method], response_model=model, **{"responses": REFUSALS, **more})
        return asked

    return add


def told_as(kind: Any) -> Way:
    """How a value of a type becomes plain data: in the order of the type, with a float wherever it says float."""
    found = _WAYS.get(kind)
    if found is None:
        found = _by_fields(kind) if _has_fields(kind) else _WAYS.setdefault(kind, _simply(kind))
    return found


def _by_fields(kind: Any) -> Way:
    fields: list[tuple[str, Way]] = []

    def from_tuple(value: Any) -> Any:
        return {name: way(one) for (name, way), one in zip(fields, value)}

    def from_dictionary(value: Any) -> Any:
        return {name: way(value[name]) for name, way in fields}

    _WAYS[kind] = found = from_dictionary if is_typeddict(kind) else from_tuple  # first: a field may be of this type
    fields += [(name, _dof if _is_dof(kind, name) else told_as(hint)) for name, hint in get_type_hints(kind).items()]
    return found


def _simply(kind: Any) -> Way:
    if kind is Any or kind is float:
        return plain if kind is Any else float
    origin, inner = get_origin(kind), get_args(kind)
    if origin in _UNIONS:
        way = float if Any in inner else told_as(next(one for one in inner if one is not type(None)))
        return lambda value: None if value is None else way(value)
    if _is_row(kind):
        ways = [told_as(one) for one in inner]
        return lambda value: [way(one) for way, one in zip(ways, value)]
    if origin in _LISTS:
        each = told_as(inner[0])
        return lambda value: [each(one) for one in value]
    if origin in _MAPPINGS:
        each = told_as(inner[1])
        return lambda value: {name: each(one) for name, one in value.items()}
    return lambda value: value


def _dof(dof: float) -> float | None:
    told = counted(dof)
    return None if told is None else float(told)


def _has_fields(kind: Any) -> bool:
    return is_typeddict(kind) or hasattr(kind, "_fields")


def _is_dof(kind: Any, name: str) -> bool:
    """Whether a field holds degrees of freedom that are null beyond counting, as `plain` has it."""
    return name == "dof" and not is_typeddict(kind)


def _is_row(kind: Any) -> bool:
    return get_origin(kind) is tuple and get_args(kind)[-1] is not Ellipsis


def described(kind: Any, ending: str = "Shape") -> Any:
    """A type as pydantic describes it: named tuples and typed dictionaries as objects, all that is in them too."""
    if _has_fields(kind):
        return _model(kind, ending)
    origin, inner = get_origin(kind), get_args(kind)
    if origin in _UNIONS:
        return float if Any in inner else Union[tuple(described(one, ending) for one in inner)]  # noqa: UP007 - made of many
    if _is_row(kind):
        return tuple.__class_getitem__(tuple(described(one, ending) for one in inner))
    if origin in _LISTS:
        return list[described(inner[0], ending)]  # type: ignore[misc]
    return dict[str, described(inner[1], ending)] if origin in _MAPPINGS else kind  # type: ignore[misc]


@cache
def _model(kind: Any, ending: str) -> type[BaseModel]:
    name = NAMES.get(kind.__name__) or kind.__name__.removesuffix("Json") + ending
    hints = get_type_hints(kind)
    fields: dict[str, Any] = {field: _field(field, hints[field], kind, name, ending) for field in hints}
    return create_model(name, __doc__=cleandoc(kind.__doc__ or ""), **fields)


def _field(field: str, hint: Any, kind: Any, name: str, ending: str) -> Any:
    if get_args(hint) == (kind,):
        return list[name]  # type: ignore[valid-type]
    return described(hint, ending) | None if _is_dof(kind, field) else described(hint, ending)


REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": described(ErrorJson), "description": text}
    for status, text in {
        400: "the request cannot be understood",
        401: "the office asks for its key",
        403: "not from a page of this office",
        404: "nothing there by that name",
        422: "something asked cannot be read",
        503: "the record cannot be used now",
    }.items()
}
