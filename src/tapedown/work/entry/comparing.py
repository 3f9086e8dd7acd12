"""Tapes compared side by side, and what becomes of a comparison: a calibration entry."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.engine.context import ReadingContext
from tapedown.engine.tape.side_by_side import ComparedMark, Comparison, compare
from tapedown.engine.uncertainty.digits import rounded
from tapedown.record import Held, entries
from tapedown.values.errors import TapedownError
from tapedown.values.gear import SideBySide
from tapedown.values.kinds import KINDS, about_gear
from tapedown.values.ledger.entries import Entry
from tapedown.values.units import from_si
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf


class NoComparison(TapedownError):
    """The gear has no such comparison."""

    def __init__(self, serial: str, which: str) -> None:
        super().__init__(
            f"{serial} has no standing comparison {which!r}",
            hint=f"enter one: tapedown add 'side by side' {serial} --file FILE --from DATE",
        )


class UsedAlready(TapedownError):
    """The comparison is a calibration already."""

    def __init__(self, entry: Entry) -> None:
        super().__init__(
            f"this comparison was entered as a calibration by {entry.by} (id ends {entry.id[-8:]})",
            hint="strike that calibration first if it should be applied in another way",
        )


class ComparisonEntered(NamedTuple):
    """A comparison in the record. used_by: the calibration that was made of it, None while there is none."""

    entry: Entry
    value: SideBySide
    found: Comparison
    used_by: Entry | None


def comparisons(network: OpenNetwork, serial: str, shelf: GearShelf | None = None) -> list[ComparisonEntered]:
    """The standing comparisons of a tape, oldest first."""
    held = entries(network.record, about=about_gear(serial), as_of=network.as_of)
    shelf = shelf or gear_shelf(network)
    read = [(h, KINDS["side by side"].read(h.entry.data, network.unit)[0]) for h in held if _kind(h, "side by side")]
    used = [h.entry for h in held if _kind(h, "calibration")]
    entered = [
        ComparisonEntered(h.entry, value, compare(value, _dated(value, h.entry, network, shelf)), _used(h.entry, used))
        for h, value in read
        if value is not None
    ]
    return sorted(entered, key=lambda one: one.entry.measured_at)


def _kind(held: Held, kind: str) -> bool:
    return held.entry.kind == kind


def _dated(value: SideBySide, entry: Entry, network: OpenNetwork, shelf: GearShelf) -> ReadingContext:
    """The context on the day of the comparison; the reference is taken as it was calibrated then."""
    return ReadingContext(
        settings=network.settings,
        when=entry.measured_at,
        gear=shelf.gear,
        calibrations={s: c for s, c in shelf.calibrated(entry.measured_at).items() if s == value.reference},
    )


def _used(entry: Entry, calibrations: list[Entry]) -> Entry | None:
    return next((one for one in calibrations if one.data.get("comparison") == entry.id), None)


def find_comparison(network: OpenNetwork, serial: str, which: str) -> ComparisonEntered:
    """The comparison with this id or the end of it, or "last".

    Raises
    ------
    NoComparison
    """
    entered = comparisons(network, serial)
    named = entered[-1:] if which == "last" else [one for one in entered if which and one.entry.id.endswith(which)]
    if len(named) != 1:
        raise NoComparison(serial, which)
    return named[0]


def calibrate_by(network: OpenNetwork, compared: ComparisonEntered, author: Author, apply: str = "") -> Entry:
    """Enter a comparison as the tape's calibration, from the day of the comparison on.

    Parameters
    ----------
    apply : "checked", "straight line" or "between marks"; as the comparison suggests without one

    Raises
    ------
    UsedAlready
    WrittenWrong
        It cannot be applied in that way.
    """
    if compared.used_by is not None:
        raise UsedAlready(compared.used_by)
    value, unit = compared.value, network.unit
    given = {
        "against": f"{value.reference}, side by side at {len(value.pairs)} depths",
        "marks": [_mark_given(mark, unit) for mark in compared.found.marks],
        "apply": apply or compared.found.apply,
        "comparison": compared.entry.id,
    }
    when = compared.entry.measured_at
    return enter_fact(network, "calibration", value.serial, given, author, measured_at=when).entry


def _mark_given(mark: ComparedMark, unit: str) -> dict[str, str]:
    """A mark as written, finer than anything read."""
    lengths = {"shown": mark.shown_m, "true": mark.true_m, "u": mark.u_m}
    return {name: f"{rounded(from_si(length_m, unit, 'length'), 0.001)} {unit}" for name, length_m in lengths.items()}
