"""A profile as a small TOML file that a person can read, change and keep."""

from __future__ import annotations

import json
from typing import Any

from tapedown.exchange.sheets import read_sheet
from tapedown.exchange.tables.clock import zone_problem
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.series.logger_files import PROFILE, Profile


class ProfileWrong(TapedownError):
    """A profile that does not say what is needed. `problems` names each place with its mend."""

    def __init__(self, name: str, problems: list[Problem]) -> None:
        complaints = "; ".join(f"{p.place}: {p.message}" for p in problems)
        super().__init__(f"{name} does not hold: {complaints}", hint="; ".join(dict.fromkeys(p.mend for p in problems)))
        self.problems = tuple(problems)


def read_profile(data: bytes, name: str = "the profile") -> Profile:
    """Read a profile file.

    Raises
    ------
    UnreadableSheet
        No TOML.
    ProfileWrong
        Something is missing or unknown; every problem with its place.
    """
    return profile_from(read_sheet(data, name), name)


def profile_from(given: dict[str, Any], name: str = "the profile") -> Profile:
    """The profile in a mapping, as an entry's body or a TOML file holds it. Raises ProfileWrong."""
    profile, problems = PROFILE.read(given, "m")
    if profile is None:
        raise ProfileWrong(name, problems)
    wrong = zone_problem(profile.clock.zone)
    if wrong:
        raise ProfileWrong(name, [Problem("clock.zone", wrong, 'name it: "Europe/London", "+01:00", "UTC", "written"')])
    checked: Profile = profile
    return checked


def profile_text(profile: Profile, notes: tuple[str, ...] = ()) -> str:
    """The profile as TOML, with notes as comments at its top.

    Example
    -------
    >>> text = 'delimiter = "tab"\\nheader_row = 1\\n[clock]\\ndate = "when"\\nformats = ["%Y-%m-%d %H:%M"]\\n'
    >>> text += 'zone = "UTC"\\n[[columns]]\\nname = "p"\\nholds = "absolute pressure"\\nunit = "kPa"\\n'
    >>> read_profile(profile_text(read_profile(text.encode())).encode()) == read_profile(text.encode())
    True
    """
    body = PROFILE.body(profile)
    clock, columns = body.pop("clock"), body.pop("columns", [])
    lines = [f"# {line}" for note in notes for line in note.splitlines()] + _fields(body)
    lines += ["", "[clock]", *_fields(clock)]
    for column in columns:
        lines += ["", "[[columns]]", *_fields(column)]
    return "\n".join(lines) + "\n"


def _fields(group: dict[str, Any]) -> list[str]:
    """Lines of TOML; a JSON string, list or true is spelled alike there."""
    return [f"{name} = {json.dumps(value, ensure_ascii=False)}" for name, value in group.items()]
