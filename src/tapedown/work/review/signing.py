"""Sign-off: somebody stands for a set of entries, and one digest stands for the set.

The set is every entry, struck or in force, written up to a time: about the wells covered (readings, visits and what is
said of them only when measured in the period), about gear, and the network's own. The values follow from them alone. In
the tree they stand as in the earlier sign-off this one goes on from, then what came since in the order written; the
list of ids and leaves is kept as a stored file, so that an entry that arrives late changes nothing that was signed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from tapedown.engine.methods.registry import ENGINE_VERSION
from tapedown.record import Held, add_blob, append, blob, blobs_present, entries
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.kinds import ABOUT_NETWORK, KINDS
from tapedown.values.ledger.entries import Entry, entry_bytes
from tapedown.values.ledger.merkle import leaf, tree_head
from tapedown.values.ledger.reviews import SignOff
from tapedown.values.times import written_form
from tapedown.work.authorship import Author, now
from tapedown.work.networks import GEAR_KINDS, OpenNetwork, as_of_text, network_of, shelf_of
from tapedown.work.refusals import NoSuchWell, WrittenWrong
from tapedown.work.review.remeasures import open_remeasures
from tapedown.work.review.reviewing import Reviewed, looks_of, reviewed
from tapedown.work.rounds.planning import planned_round
from tapedown.work.wells.files import file_of
from tapedown.work.wells.history import SHORTEST_END, Row, history_of

LIST_TYPE = "text/plain"
DATED_KINDS = ("readings", "visit", "review", "acceptance", "re-measure", "document")
"""Kinds that a period leaves out when they were measured outside it; every other fact bears on the values."""


class NoSuchSignOff(TapedownError):
    """There is no such sign-off."""

    def __init__(self, which: str) -> None:
        super().__init__(f"no sign-off {which!r}, or several", hint="see `tapedown signed`, or the page of sign-offs")


class NothingToSign(TapedownError):
    """The scope holds no value."""

    def __init__(self) -> None:
        super().__init__("no value to sign in this scope", hint="check the wells, the period and the as-of time")


class Unreviewed(NamedTuple):
    """A value that keeps a set from being signed: what it lacks and the mend."""

    code: str
    row: Row
    lacks: str
    mend: str

    @property
    def place(self) -> str:
        """Which value it is, in words."""
        return f"{self.code} {self.row.entry.measured_at[:16]} {self.row.what}"


class ReviewsMissing(TapedownError):
    """Values in the set lack reviews. `problems` lists each with its mend."""

    def __init__(self, lacking: Sequence[Unreviewed]) -> None:
        self.problems = tuple(Problem(one.place, one.lacks, one.mend) for one in lacking)
        lines = [f"  {p.place}: {p.message}\n      mend: {p.mend}" for p in self.problems[:MOST_TOLD]]
        more = [f"  and {len(lacking) - MOST_TOLD} more"] if len(lacking) > MOST_TOLD else []
        count = f"{len(lacking)} value{'s' if len(lacking) != 1 else ''}"
        super().__init__(
            f"{count} still lack{'s' if len(lacking) == 1 else ''} a look\n" + "\n".join([*lines, *more]),
            hint="see the queue (`tapedown queue`), or say in words why it is signed all the same (--unreviewed WHY)",
        )


MOST_TOLD = 20


class Scope(NamedTuple):
    """What a sign-off is to cover. wells: none for all; round: id of the round the scope comes from, "" for none."""

    wells: tuple[str, ...] = ()
    since: str = ""
    until: str = ""
    round: str = ""


class Signed(NamedTuple):
    """A sign-off as it stands in the record. struck_by: id of the entry that withdrew it."""

    entry: Entry
    value: SignOff
    struck_by: str | None

    @property
    def scope(self) -> Scope:
        """What it covers."""
        return Scope(self.value.wells, self.value.since, self.value.until, self.value.round)

    @property
    def words(self) -> str:
        """What goes with a delivery: who signed what, as of when, and the head that proves it."""
        v, on = self.value, self.entry.written_at[:10]
        signed = f"{v.name}: {v.entries.text} entries as of {v.as_of}, signed by {self.entry.by} on {on}"
        return f"{signed}; tree head {v.tree_head} (RFC 6962, SHA-256)"


class SignedExport(NamedTuple):
    """What an export prints beside its data."""

    tree_head: str
    entries: int
    words: str


class SignedLeaf(NamedTuple):
    """One entry's place in a signed set: its id and the digest of its leaf."""

    id: str
    digest: bytes


class SetAsSigned(NamedTuple):
    """A signed set with its values as they stood then.

    rows       per well, in order of time
    struck     entries of the set that were struck since -> what struck them
    """

    signed: Signed
    rows: Mapping[str, Sequence[Row]]
    struck: Mapping[str, Entry]


def scope_of_round(network: OpenNetwork, round_id: str) -> Scope:
    """The scope of a round: its wells, from its day to the last day somebody was at one of them for it.

    Raises
    ------
    NoSuchRound
    """
    entry, planned = planned_round(network, round_id)
    days: dict[str, str] = {}
    for held in entries(network.record, kinds=["visit", "readings"], as_of=network.as_of):
        code, day = held.entry.subject, held.entry.measured_at[:10]
        if code in planned.wells and day >= planned.day:
            days[code] = min(day, days.get(code, day))
    return Scope(planned.wells, planned.day, max(days.values(), default=planned.day), entry.id)


def sign_off(
    network: OpenNetwork,
    name: str,
    statement: str,
    scope: Scope,
    author: Author,
    *,
    as_of: str = "",
    unreviewed: str = "",
) -> Signed:
    """Sign a set of entries as of a time (now without one).

    Parameters
    ----------
    as_of : a day or a time as written; what was written later is not in the set
    unreviewed : why it is signed although values lack reviews

    Raises
    ------
    WrittenWrong, NotADate
        A field is missing or wrong.
    NoSuchWell, NothingToSign
    ReviewsMissing
        Values lack reviews, and nobody said why it is signed all the same.
    """
    then = network_of(network.record, as_of=_as_of(network, as_of, author.clock))
    held = _in_scope(then, scope)
    rows = _rows(held, then, scope)
    if not any(row.value is not None for _, row, _ in rows):
        raise NothingToSign
    lacking = _lacking(rows, then)
    if lacking and not unreviewed.strip():
        raise ReviewsMissing(lacking)
    earlier = next((s for s in sign_offs(network) if s.struck_by is None and _goes_on(s.scope, scope)), None)
    listed = _in_order([one.entry for one in held], signed_list(network, earlier) if earlier else [])
    given = {
        "name": name, "statement": statement, "wells": list(scope.wells), "round": scope.round,
        "since": scope.since, "until": scope.until, "as_of": then.as_of, "entries": str(len(listed)),
        "tree_head": tree_head([one.digest for one in listed]).hex(), "leaves": "-", "engine_version": ENGINE_VERSION,
        "follows": earlier.entry.id if earlier else "", "unreviewed": str(len(lacking)),
        "why_unreviewed": unreviewed.strip() if lacking else "",
    }  # fmt: skip
    value, problems = KINDS["sign-off"].read(given, network.unit)
    if value is None:
        raise WrittenWrong("the sign-off", problems)
    value = value._replace(leaves=add_blob(network.record, list_bytes(listed), LIST_TYPE))
    draft = author.draft("sign-off", ABOUT_NETWORK, KINDS["sign-off"].body(value))
    return Signed(append(network.record, author.device, [draft])[0], value, None)


def unreviewed_in(network: OpenNetwork, scope: Scope) -> list[Unreviewed]:
    """The values of a scope that would keep it from being signed now. Raises NoSuchWell."""
    return _lacking(_rows(_in_scope(network, scope), network, scope), network)


def _as_of(network: OpenNetwork, written: str, clock: Callable[[], datetime] = now) -> str:
    return as_of_text(written, network.facts.zone) if written.strip() else written_form(clock())


def _in_scope(network: OpenNetwork, scope: Scope) -> list[Held]:
    """The entries of a scope in the order written. Raises NoSuchWell."""
    held = entries(network.record, as_of=network.as_of, struck=True)
    there = {h.entry.about for h in held}
    for code in scope.wells:
        if f"well/{code}" not in there:
            raise NoSuchWell(code, [])
    return [one for one in held if _covers(scope, one.entry)]


def _covers(scope: Scope, entry: Entry) -> bool:
    about, _, code = entry.about.partition("/")
    if about == "well":
        return (not scope.wells or code in scope.wells) and _in_period(scope, entry)
    return about == "gear" or entry.kind == "network"


def _in_period(scope: Scope, entry: Entry) -> bool:
    if entry.kind not in (*DATED_KINDS, "strike"):
        return True
    day = entry.measured_at[:10]
    return (not scope.since or day >= scope.since[:10]) and (not scope.until or day <= scope.until[:10])


Told = tuple[str, Row, Reviewed]


def _rows(held: Iterable[Held], network: OpenNetwork, scope: Scope) -> list[Told]:
    """Every standing row that these entries tell, with how far its review has come."""
    rows = []
    for code, about in sorted(_by_well(held).items()):
        file = file_of(code, about, network)
        looks, well_history = looks_of(file), history_of(file, network, shelf_of(_standing_gear(held), network.unit))
        rows += [(code, row, reviewed(row, file, looks, network)) for row in well_history.rows if row.struck_by is None]
    return [one for one in rows if _in_period(scope, one[1].entry)]


def _by_well(held: Iterable[Held]) -> dict[str, list[Held]]:
    by_well: dict[str, list[Held]] = defaultdict(list)
    for one in held:
        about, _, code = one.entry.about.partition("/")
        if about == "well":
            by_well[code].append(one)
    return by_well


def _standing_gear(held: Iterable[Held]) -> list[Held]:
    return [one for one in held if one.entry.kind in GEAR_KINDS and one.struck_by is None]


def _lacking(rows: Iterable[Told], network: OpenNetwork) -> list[Unreviewed]:
    asked = open_remeasures(network)
    lacking = []
    for code, row, state in rows:
        if row.value is None or row.what == "visit":
            continue
        end = row.entry.id[-8:]
        if state.missing:
            mend = f"tapedown accept {code} {end}, or set a quality: tapedown review {code} {end} QUALITY --why ..."
            lacking.append(Unreviewed(code, row, state.words, mend))
        for again in asked.get(code, ()):
            if again.original is not None and again.original.id == row.entry.id:
                mend = f"measure it on the next round, or strike the request (id ends {again.entry.id[-8:]})"
                lacking.append(Unreviewed(code, row, f"to be measured again: {again.request.why}", mend))
    return lacking


def _goes_on(before: Scope, now_asked: Scope) -> bool:
    """Whether a scope is an earlier one with more time behind it."""
    same = set(before.wells) == set(now_asked.wells) and before.since == now_asked.since
    longer = not now_asked.until or ("" < before.until <= now_asked.until)
    return same and longer and before.round == now_asked.round


def _in_order(covered: Sequence[Entry], earlier: Sequence[SignedLeaf]) -> list[SignedLeaf]:
    known = {one.id for one in earlier}
    return [*earlier, *(page_of(entry) for entry in covered if entry.id not in known)]


def page_of(entry: Entry) -> SignedLeaf:
    """An entry's place in a tree."""
    return SignedLeaf(entry.id, leaf(entry_bytes(entry)))


def list_bytes(listed: Iterable[SignedLeaf]) -> bytes:
    """A list of leaves as it is stored: a line for each, its id and its digest."""
    return "".join(f"{one.id} {one.digest.hex()}\n" for one in listed).encode()


def signed_list(network: OpenNetwork, signed: Signed) -> list[SignedLeaf]:
    """The entries of a signed set in the tree's order.

    Raises
    ------
    NoSuchBlob
        The list did not come with the entries.
    """
    lines = blob(network.record, signed.value.leaves).bytes.decode().splitlines()
    rows = (line.partition(" ") for line in lines)
    return [SignedLeaf(identity, bytes.fromhex(digest)) for identity, _, digest in rows]


def sign_offs(network: OpenNetwork) -> list[Signed]:
    """Every sign-off, withdrawn ones too, newest first."""
    held = entries(network.record, kinds=["sign-off"], as_of=network.as_of, struck=True)
    read = [(one, KINDS["sign-off"].read(one.entry.data, network.unit)[0]) for one in held]
    return [Signed(one.entry, value, one.struck_by) for one, value in reversed(read) if value is not None]


def find_signed(network: OpenNetwork, which: str) -> Signed:
    """The sign-off with this id, the end of it, or of this name (the newest); "last" for the newest of all.

    Raises
    ------
    NoSuchSignOff
    """
    sets = sign_offs(network)
    standing = [one for one in sets if one.struck_by is None]
    if which == "last":
        named = standing[:1]
    else:
        named = [s for s in standing if s.value.name == which][:1]
        named = named or [s for s in sets if len(which) >= SHORTEST_END and s.entry.id.endswith(which.lower())]
    if len(named) != 1:
        raise NoSuchSignOff(which)
    return named[0]


def signed_ids(network: OpenNetwork) -> set[str]:
    """Ids of all entries that stand in a sign-off which is not withdrawn and whose list is here."""
    return {one.id for _, listed in standing_sets(network) for one in listed}


def standing_sets(network: OpenNetwork) -> list[tuple[Signed, list[SignedLeaf]]]:
    """Every sign-off that is not withdrawn and whose list is here, with its list; newest first."""
    standing = [one for one in sign_offs(network) if one.struck_by is None]
    here = blobs_present(network.record, {one.value.leaves for one in standing})
    return [(one, signed_list(network, one)) for one in standing if one.value.leaves in here]


def covering(network: OpenNetwork, code: str) -> list[Signed]:
    """The standing sign-offs known at the network's as-of that cover a well, newest first."""
    standing = (one for one in sign_offs(network) if one.struck_by is None)
    return [one for one in standing if not one.value.wells or code in one.value.wells]


def delivery(network: OpenNetwork, code: str = "") -> SignedExport | None:
    """What to print with a delivery: of one well, or of the whole network when no code is given; None when unsigned."""
    signed = _newest(network, code)
    return SignedExport(signed.value.tree_head, int(signed.value.entries.si), signed.words) if signed else None


def _newest(network: OpenNetwork, code: str) -> Signed | None:
    """The newest standing sign-off of a well, or of all wells."""
    standing = covering(network, code) if code else [one for one in sign_offs(network) if one.struck_by is None]
    return next((one for one in standing if code or not one.value.wells), None)


def signed_words(network: OpenNetwork, code: str = "") -> str:
    """What to print at the foot of a sheet about what was signed last, "" when nothing was."""
    signed = _newest(network, code)
    if signed is None:
        return ""
    v = signed.value
    return f"{v.name}, {v.entries.text} entries, by {signed.entry.by} on {signed.entry.written_at[:10]}; {v.tree_head}"


def as_signed(network: OpenNetwork, signed: Signed) -> SetAsSigned:
    """A signed set with its values worked out from its own entries as they stood then, and what was struck since."""
    then = network_of(network.record, as_of=signed.value.as_of)
    ids = {one.id for one in signed_list(network, signed)}
    now_held = entries(network.record, struck=True)
    by_id = {one.entry.id: one.entry for one in now_held}
    held = [
        one._replace(struck_by=one.struck_by if one.struck_by in ids else None)
        for one in now_held
        if one.entry.id in ids
    ]
    rows: dict[str, list[Row]] = defaultdict(list)
    for code, row, _ in _rows(held, then, signed.scope):
        rows[code].append(row)
    later = [one for one in now_held if one.entry.id in ids and one.struck_by and one.struck_by not in ids]
    return SetAsSigned(signed, rows, {one.entry.id: by_id[one.struck_by or ""] for one in later})
