"""Addresses of pages. Codes and serial numbers are what people write, so they may hold anything."""

from __future__ import annotations

from urllib.parse import quote, unquote


def part(words: str) -> str:
    """A code as one part of a path.

    What would be taken apart on the way (a slash, a percent sign, dots that mean a folder, an end that asks for JSON)
    is wrapped twice; `words_of` unwraps it.

    Example
    -------
    >>> part("MF-07"), part("A/7"), words_of("A%2F7")
    ('MF-07', 'A%252F7', 'A/7')
    """
    if words == "new":  # where a form for a new one stands
        return quote("%6Eew")
    fragile = "/" in words or "%" in words or "\\" in words or words in {".", ".."} or words.endswith(".json")
    once = quote(words, safe="").replace(".", "%2E") if fragile else words
    return quote(once, safe="")


def words_of(given: str) -> str:
    """The code that a part of a path, unquoted once by the server, stands for."""
    return unquote(given) if "%" in given else given


def well_path(code: str) -> str:
    """The page of a well."""
    return f"/wells/{part(code)}"


def value_path(code: str, entry_id: str) -> str:
    """The page of a value."""
    return f"{well_path(code)}/values/{part(entry_id)}"


def series_path(code: str, name: str) -> str:
    """The page of a logger series."""
    return f"{well_path(code)}/series/{part(name)}"


def about_path(about: str) -> str:
    """The page of what an entry is about: "well/MF-07", "gear/ST-014", "network"."""
    kind, _, words = about.partition("/")
    return {"well": well_path(words), "gear": f"/gear/{part(words)}", "round": "/rounds"}.get(kind, "/settings")
