"""Values as text for a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from tabulate import tabulate

from tapedown.engine.budget import combine, merged
from tapedown.engine.digits import own_step, rounded
from tapedown.engine.fill import WellCondition
from tapedown.values.results import BELOW_LAND, ELEVATION, MANY, Digits, Finding, Reduction, Result, Stage, Step
from tapedown.values.units import from_si
from tapedown.work.history import History, Row

WIDEST = 44
"""Columns of words wrap at this width."""
MARKS = {"stop": "STOP", "look": "look", "note": "note"}


def spread(length_m: float, unit: str, step: float = 0.0) -> str:
    """An expanded uncertainty: two significant digits, never finer than a tenth of the reporting step, rounded up."""
    size = from_si(length_m, unit, "length")
    if size <= 0:
        return "0"
    place = max(math.floor(math.log10(size)) - 1, math.floor(math.log10(step)) - 1 if step else -9)
    whole = math.ceil(size / 10.0**place - 1e-9)
    return f"{whole * 10.0**place:.{max(0, -place)}f}"


def value_text(result: Result, digits: Digits) -> str:
    """A value with its uncertainty: "82.10 ft ± 0.05"."""
    step = own_step(result, digits)
    number = rounded(from_si(result.value_m, digits.unit, "length"), step)
    return f"{number} {digits.unit} ± {spread(result.expanded_m, digits.unit, step)}"


def headline(value: Reduction) -> str:
    """The value of a reduction in one line, a bound as a bound."""
    if value.main is None:
        return "no value"
    if value.use in {"deeper than", "no value"}:
        number = rounded(from_si(value.main.value_m, value.digits.unit, "length"), value.digits.step)
        bound = f"{number} {value.digits.unit}"
        return f"deeper than {bound}" if value.use == "deeper than" else f"no value (tape reached {bound})"
    return value_text(value.main, value.digits)


def month_text(day: str) -> str:
    """A day far ahead, for people: "Aug 2026"."""
    return f"{datetime.fromisoformat(day):%b %Y}"


def day_text(measured_at: str) -> str:
    """A written time for people, when a day alone says enough: "14 May 2026"."""
    return when_text(measured_at).removesuffix(", time not known")


def when_text(measured_at: str) -> str:
    """A written time for people: "14 May 2026 10:20 +01:00"; "time not known" when there is a date alone."""
    if not measured_at:
        return "undated"
    if "T" not in measured_at:
        return f"{datetime.fromisoformat(measured_at):%-d %b %Y}, time not known"
    moment = datetime.fromisoformat(measured_at.replace("Z", "+00:00"))
    return f"{moment:%-d %b %Y %H:%M} {moment:%z}"


def reduction_lines(value: Reduction) -> list[str]:
    """Every step of a reduction, with subtotals, uncertainty, findings."""
    unit = value.digits.unit
    lines = [f"{value.method}: {value.use}, quality {value.quality}", f"  {value.agreement}", ""]
    for stage in value.stages:
        lines += _stage_lines(stage, value, unit)
    lines += [f"  {value.digits.reason}"]
    lines += [f"  one-sided: {effect.what}: {_one_sided(effect.low_m, effect.high_m, unit)} ({effect.source})"
              for effect in value.one_sided]  # fmt: skip
    lines += ["", *_budget_lines(value, unit)]
    return lines + (["", *finding_lines(value.findings)] if value.findings else [])


def _stage_lines(stage: Stage, value: Reduction, unit: str) -> list[str]:
    rows = [
        [step.what, f"{from_si(step.amount_m, unit, 'length') + 0.0:+.4f}", _step_u(step, unit), step.note, step.source]
        for step in stage.steps
    ]
    result = stage.result
    datum = f" ({value.datum})" if result.name == ELEVATION and value.datum else ""
    total = f"= {result.name}{datum}: {value_text(result, value.digits)}"
    covered = f"u {from_si(result.u_m, unit, 'length'):.4f}, k {result.k:.2f}, degrees of freedom {_dof(result.dof)}"
    header = ["step", f"add, {unit}", f"u, {unit}", "as read or worked out", "source"]
    return [*_table(rows, header, ("left", "right", "right", "left", "left")), f"  {total}   [{covered}]", ""]


def _step_u(step: Step, unit: str) -> str:
    u_m, _ = combine(step.parts)
    return f"{from_si(u_m, unit, 'length'):.4f}" if step.parts else ""


def _table(rows: Sequence[Sequence[str]], header: Sequence[str], align: Sequence[str]) -> list[str]:
    widths = [None if side == "right" else WIDEST for side in align]
    text = tabulate(rows, header, tablefmt="plain", colalign=align, disable_numparse=True, maxcolwidths=widths)
    return [f"  {line}".rstrip() for line in text.split("\n")]


def _dof(dof: float) -> str:
    return "many" if dof > min(MANY, 1000) else f"{dof:.0f}"


def _one_sided(low_m: float, high_m: float, unit: str) -> str:
    parts = [f"up to {spread(-low_m, unit)} {unit} less" if low_m else "", f"up to {spread(high_m, unit)} {unit} more"]
    return " or ".join(part for part in (parts if high_m else parts[:1]) if part)


def _budget_lines(value: Reduction, unit: str) -> list[str]:
    """The parts of uncertainty behind the main value, the largest first."""
    parts = sorted(merged(value.parts), key=lambda part: -abs(part.u_m))
    rows = [
        [part.what, f"{abs(from_si(part.u_m, unit, 'length')):.4f}", _dof(part.dof), part.source]
        for part in parts
        if abs(part.u_m) > 0
    ]
    header = ["uncertainty from", f"u, {unit}", "dof", "source"]
    return _table(rows, header, ("left", "right", "right", "left")) if rows else []


def finding_lines(findings: Sequence[Finding]) -> list[str]:
    """Findings with what to do, weightiest first."""
    lines = []
    for found in findings:
        lines += [f"  {MARKS[found.weight]}: {found.message}", f"        -> {found.hint}"]
    return lines


def history_table(told: History, *, struck: bool) -> str:
    """The rows of a history as a table, newest last."""
    rows = [_history_row(row) for row in told.rows if struck or row.struck_by is None]
    header = ["when", "what", "below land surface", "quality", "noted", "findings", "id ends"]
    return tabulate(rows, header, tablefmt="simple", disable_numparse=True)


def _history_row(row: Row) -> list[str]:
    value = row.value
    counted = [f.check for f in value.findings if f.weight != "note"] if value else []
    main = value.main if value else None
    text = headline(value) if value else "no reading"
    if main is not None and main.name != BELOW_LAND:
        text += f" ({main.name.removeprefix('depth ')})"
    use = f"{row.what}: {value.use}" if value and row.what == "reported" else row.what
    cells = [when_text(row.entry.measured_at), use, text, row.quality, ", ".join(row.conditions), ", ".join(counted)]
    if row.struck_by is not None:
        cells = [f"~~{cell}~~" if cell else "" for cell in cells]
    return [*cells, row.entry.id[-8:]]


def bottom_lines(condition: WellCondition, unit: str) -> list[str]:
    """State of a well's bottom in words."""
    lines = [f"  {_fill_text(condition, unit)}"]
    for buried in condition.screens:
        lines.append(f"  screen {buried.screen.top} to {buried.screen.bottom}: {buried.share:.0%} buried")
    if condition.rate is not None:
        rate = from_si(condition.rate.value_m, unit, "length")
        lines.append(
            f"  rate: {rate:+.3f} {unit} a year ± {spread(condition.rate.expanded_m, unit, 0.01)} (+ is filling)"
        )
    if condition.projection is not None:
        p = condition.projection
        latest = month_text(p.latest) if p.latest else "beyond foresight"
        dates = f"about {month_text(p.on)} (from {month_text(p.earliest)} to {latest})"
        lines.append(f"  {p.share:.0%} of the lowest screen buried {dates}")
    return lines + finding_lines(condition.findings)


def _fill_text(condition: WellCondition, unit: str) -> str:
    fill = condition.fill
    if fill is None:
        return f"one sounding, {condition.since}, and no depth at completion: fill cannot be said yet"
    amount = rounded(from_si(fill.value_m, unit, "length"), 0.01)
    size = f"{amount} {unit} ± {spread(fill.expanded_m, unit, 0.01)}"
    verdict = "larger than its uncertainty" if condition.real else "within its uncertainty"
    return f"fill since {condition.since}: {size}, {verdict}"
