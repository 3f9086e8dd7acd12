"""Values as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from tabulate import tabulate

from tapedown.engine.uncertainty.budget import combine, merged
from tapedown.engine.well.fill import WellCondition
from tapedown.reports.words import (
    bottom_words,
    dof_text,
    headline,
    one_sided_text,
    value_text,
    when_text,
)
from tapedown.values.results import BELOW_LAND, ELEVATION, Finding, Reduction, Stage, Step
from tapedown.values.units import from_si
from tapedown.work.wells.files import WellFile
from tapedown.work.wells.history import History, Row

WIDEST = 44
"""Columns of words wrap at this width."""
MARKS = {"stop": "STOP", "look": "look", "note": "note"}


def reduction_lines(value: Reduction) -> list[str]:
    """Every step of a reduction, with subtotals, uncertainty, findings."""
    unit = value.digits.unit
    lines = [f"{value.method}: {value.use}, quality {value.quality}", f"  {value.agreement}", ""]
    for stage in value.stages:
        lines += _stage_lines(stage, value, unit)
    lines += [f"  {value.digits.reason}"]
    lines += [f"  one-sided: {effect.what}: {one_sided_text(effect, unit)} ({effect.source})"
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
    covered = (
        f"u {from_si(result.u_m, unit, 'length'):.4f}, k {result.k:.2f}, degrees of freedom {dof_text(result.dof)}"
    )
    header = ["step", f"add, {unit}", f"u, {unit}", "as read or worked out", "source"]
    return [*_table(rows, header, ("left", "right", "right", "left", "left")), f"  {total}   [{covered}]", ""]


def _step_u(step: Step, unit: str) -> str:
    u_m, _ = combine(step.parts)
    return f"{from_si(u_m, unit, 'length'):.4f}" if step.parts else ""


def _table(rows: Sequence[Sequence[str]], header: Sequence[str], align: Sequence[str]) -> list[str]:
    widths = [None if side == "right" else WIDEST for side in align]
    text = tabulate(rows, header, tablefmt="plain", colalign=align, disable_numparse=True, maxcolwidths=widths)
    return [f"  {line}".rstrip() for line in text.split("\n")]


def _budget_lines(value: Reduction, unit: str) -> list[str]:
    """The parts of uncertainty behind the main value, the largest first."""
    parts = sorted(merged(value.parts), key=lambda part: -abs(part.u_m))
    rows = [
        [part.what, f"{abs(from_si(part.u_m, unit, 'length')):.4f}", dof_text(part.dof), part.source]
        for part in parts
        if abs(part.u_m) > 0
    ]
    header = ["uncertainty from", f"u, {unit}", "dof", "source"]
    return _table(rows, header, ("left", "right", "right", "left")) if rows else []


def finding_lines(findings: Sequence[Finding]) -> list[str]:
    """Findings with what to do, weightiest first."""
    lines = []
    for finding in findings:
        lines += [f"  {MARKS[finding.weight]}: {finding.message}", f"        -> {finding.hint}"]
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
    cells = [when_text(row.entry.measured_at), use, text, row.quality, ", ".join(row.noted), ", ".join(counted)]
    if row.struck_by is not None:
        cells = [f"~~{cell}~~" if cell else "" for cell in cells]
    return [*cells, row.entry.id[-8:]]


def bottom_lines(condition: WellCondition, unit: str) -> list[str]:
    """State of a well's bottom in words."""
    return [f"  {line}" for line in bottom_words(condition, unit)] + finding_lines(condition.findings)


def title_of(file: WellFile) -> str:
    identity = file.identity
    return f"{file.code}  {identity.name}".rstrip() if identity else file.code
