"""Who has looked at a value, who still must, and what a person may say of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from tapedown.values.errors import TapedownError
from tapedown.values.ledger.entries import Entry
from tapedown.values.ledger.reviews import Acceptance
from tapedown.values.readings import Readings, Review
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import OpenNetwork
from tapedown.work.wells.files import WellFile
from tapedown.work.wells.history import Row


class OwnReading(TapedownError):
    """The reader wants to accept what he read himself."""

    def __init__(self, name: str) -> None:
        super().__init__(
            f"{name} read or wrote this value, and cannot accept it as well", hint="let somebody else look at it"
        )


class Look(NamedTuple):
    """One person's word on a value: by whom, when, the quality given or kept, and why."""

    by: str
    written_at: str
    quality: str
    why: str


class Reviewed(NamedTuple):
    """How far the review of a value has come.

    looks    everybody's word, oldest first
    readers  who read or wrote it: their own word does not count
    needed   people the network asks for
    """

    looks: tuple[Look, ...]
    readers: tuple[str, ...]
    needed: int

    @property
    def people(self) -> tuple[str, ...]:
        """Different people whose look counts, in the order they looked."""
        own = {_same(name) for name in self.readers}
        return tuple({_same(look.by): look.by for look in self.looks if _same(look.by) not in own}.values())

    @property
    def missing(self) -> int:
        """How many people must still look."""
        return max(0, self.needed - len(self.people))

    @property
    def words(self) -> str:
        """Who has looked and who still must."""
        seen = f"looked at by {' and '.join(self.people)}" if self.people else "nobody looked"
        if not self.missing:
            return seen
        others = [*self.readers, *self.people]
        return f"{seen}; {self.missing} more needed, not {' nor '.join(others)}"


def _same(name: str) -> str:
    """A name as it is compared: without regard to case and spaces."""
    return "".join(name.split()).casefold()


def looks_of(file: WellFile) -> Mapping[str, Sequence[Look]]:
    """Everybody's word on each of a well's values, by the id of its entry, oldest first."""
    looks: dict[str, list[Look]] = defaultdict(list)
    for fact in sorted(file.of_kind("review", "acceptance"), key=lambda f: f.entry.written_at):
        look: Review | Acceptance = fact.value
        why = look.why if isinstance(look, Review) else look.remarks
        looks[look.entry].append(Look(fact.entry.by, fact.entry.written_at, look.quality, why))
    return looks


def readers_of(entry: Entry, file: WellFile) -> tuple[str, ...]:
    """Who read a value and who wrote it down, each once."""
    read = next((f.value for f in file.facts if f.entry.id == entry.id and isinstance(f.value, Readings)), None)
    visit = file.visit(read.visit) if read is not None else None
    names = [*(visit.people if visit else ()), entry.by]
    return tuple({_same(name): name for name in names}.values())


def own_reading(name: str, entry: Entry, file: WellFile) -> bool:
    """Whether somebody of this name read or wrote a value."""
    return _same(name) in {_same(reader) for reader in readers_of(entry, file)}


def reviewed(row: Row, file: WellFile, looks: Mapping[str, Sequence[Look]], network: OpenNetwork) -> Reviewed:
    """How far the review of a row has come."""
    needed = int(network.settings.text("review_people"))
    return Reviewed(tuple(looks.get(row.entry.id, ())), readers_of(row.entry, file), needed)


def accept(network: OpenNetwork, file: WellFile, row: Row, remarks: str, author: Author) -> Entry:
    """Say that a value was looked at and stands, with the quality it has.

    Raises
    ------
    OwnReading
    """
    if own_reading(author.by, row.entry, file):
        raise OwnReading(author.by)
    given = {"entry": row.entry.id, "quality": row.quality, "remarks": remarks}
    return enter_fact(network, "acceptance", file.code, given, author, measured_at=row.entry.measured_at).entry


def set_quality(network: OpenNetwork, code: str, entry: Entry, quality: str, why: str, author: Author) -> Entry:
    """Give a value a quality, with the reason.

    Raises
    ------
    WrittenWrong
        No reason, or no such quality.
    """
    given = {"entry": entry.id, "quality": quality, "why": why}
    return enter_fact(network, "review", code, given, author, measured_at=entry.measured_at).entry
