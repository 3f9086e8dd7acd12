"""Values as plain data: what JSON can say of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tapedown.values.results import MANY


def plain(value: Any) -> Any:
    """A value with all that is in it as objects, arrays and single values; degrees of freedom beyond counting are null.

    Example
    -------
    >>> from tapedown.values.results import Part
    >>> plain({"parts": (Part("", "feel", 0.01, source="ours"),)})
    {'parts': [{'key': '', 'what': 'feel', 'u_m': 0.01, 'dof': None, 'source': 'ours'}]}
    """
    if isinstance(value, Mapping):
        return {name: plain(inner) for name, inner in value.items()}
    if not isinstance(value, (tuple, list)):
        return value
    names = getattr(value, "_fields", None)
    if names is None:
        return [plain(inner) for inner in value]
    return {name: counted(inner) if name == "dof" else plain(inner) for name, inner in zip(names, value)}


def counted(dof: float) -> float | None:
    """Degrees of freedom as they are told: null beyond counting."""
    return None if dof >= MANY else dof
