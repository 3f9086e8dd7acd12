"""Refusals of the use cases: one class a cause, each with the mend."""

from __future__ import annotations

from collections.abc import Sequence

from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem


class NoNetwork(TapedownError):
    """There is no network where one was looked for."""

    def __init__(self, where: str) -> None:
        super().__init__(
            f"no network at {where}", hint="start one with `tapedown start FOLDER`, or name it with --network"
        )


class NoSuchWell(TapedownError):
    """The network has no such well."""

    def __init__(self, code: str, near: Sequence[str]) -> None:
        hint = f"did you mean {' or '.join(near)}?" if near else "list them with `tapedown wells`"
        super().__init__(f"no well {code!r} in this network", hint=hint)


class WellThere(TapedownError):
    """A well of that code is in the network already."""

    def __init__(self, code: str, entry_id: str) -> None:
        super().__init__(
            f"{code} is in the network already",
            hint=f"to change what is said of it: tapedown correct {code} {entry_id[-8:]} FIELD=VALUE --reason '...'",
        )


class NotKnownYet(TapedownError):
    """The well was not in the network on that date."""

    def __init__(self, code: str, as_of: str) -> None:
        super().__init__(f"{code} was not in the network at {as_of}", hint="take a later date, or none")


class NotADate(TapedownError):
    """A date or time that cannot be read."""

    def __init__(self, written: str, why: str) -> None:
        super().__init__(f"{written!r} is not a date or a time{why}", hint="write 2026-05-14 or 2026-05-14T10:20")


class NoSuchGear(TapedownError):
    """No entry is about gear of this serial number."""

    def __init__(self, serial: str) -> None:
        super().__init__(f"no gear {serial!r} in this network", hint="check the serial number, or enter the gear")


class NoSuchReading(TapedownError):
    """The well has no such reading set."""

    def __init__(self, code: str, which: str) -> None:
        super().__init__(
            f"no reading {which!r} at {code}",
            hint=f"see `tapedown history {code}`; name one by date, by the end of its id, or 'last'",
        )


class SeveralReadings(TapedownError):
    """The words name several reading sets."""

    def __init__(self, code: str, which: str, found: Sequence[tuple[str, str]]) -> None:
        ends = ", ".join(f"{identity[-8:]} ({what})" for identity, what in found[:8])
        hint = f"add the method ('{which} {found[0][1]}') or name one by the end of its id: {ends}"
        super().__init__(f"{which!r} names {len(found)} readings at {code}", hint=hint)


class WrittenWrong(TapedownError):
    """What was written cannot be entered; every problem with its place and mend. Nothing was written."""

    def __init__(self, what: str, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        lines = [f"  {p.place or 'top'}: {p.message}\n      mend: {p.mend}" for p in problems]
        super().__init__(
            f"{what} was not entered: {len(problems)} place{'s' if len(problems) != 1 else ''} to mend\n"
            + "\n".join(lines),
            hint="nothing was written; mend the places above and enter it again",
        )


class NobodyNamed(TapedownError):
    """An entry needs a name."""

    def __init__(self) -> None:
        super().__init__("nobody is named as the writer", hint="give --by 'R. Alder', or set TAPEDOWN_BY once")


class ReasonMissing(TapedownError):
    """A strike needs a reason."""

    def __init__(self) -> None:
        super().__init__("a strike needs a reason", hint="say what was wrong: --reason 'read 47 for 41'")


class UnreadableFile(TapedownError):
    """A file that a person wrote cannot be read."""

    def __init__(self, name: str, why: str, hint: str) -> None:
        super().__init__(f"{name}: {why}", hint=hint)


class NoSuchSeries(TapedownError):
    """The well has no such series."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        hint = f"there are: {', '.join(known)}" if known else "take a file in first: tapedown logger read"
        super().__init__(f"no series {name!r}", hint=hint)


class SeriesInACircle(TapedownError):
    """A series that is corrected by itself through others."""
