"""A reduction and a well as HTML for a notebook: plain tables, everything escaped, readable on light and dark pages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from tapedown.engine.uncertainty.budget import combine, merged
from tapedown.engine.uncertainty.digits import rounded
from tapedown.reports.words import dof_text, headline, one_sided_text, value_text
from tapedown.values.results import Finding, Reduction, Stage
from tapedown.values.units import from_si

MARKS = {"stop": "STOP", "look": "look", "note": "note"}


def reduction_html(value: Reduction, title: str) -> str:
    """A reduction with every step, its budget and its findings."""
    unit = value.digits.unit
    parts = [
        f"<h4>{escape(title)}: {escape(headline(value))}</h4>",
        f"<p>{escape(f'{value.method}: {value.use}, quality {value.quality}. {value.agreement}')}</p>",
        *(_stage(stage, value, unit) for stage in value.stages),
        f"<p>{escape(value.digits.reason)}</p>",
        *(f"<p>one-sided: {escape(f'{one.what}: {one_sided_text(one, unit)} ({one.source})')}</p>"
          for one in value.one_sided),
        _budget(value, unit),
        findings_html(value.findings),
    ]  # fmt: skip
    return f"<div>{''.join(parts)}</div>"


def _stage(stage: Stage, value: Reduction, unit: str) -> str:
    rows = [
        (
            step.what,
            _signed(step.amount_m, unit),
            _size(combine(step.parts)[0], unit) if step.parts else "",
            step.note,
            step.source,
        )
        for step in stage.steps
    ]
    total = (f"= {stage.result.name}", value_text(stage.result, value.digits), _size(stage.result.u_m, unit),
             f"k {rounded(stage.result.k, 0.01)}, degrees of freedom {dof_text(stage.result.dof)}", "")  # fmt: skip
    return table(("step", f"add, {unit}", f"u, {unit}", "as read or worked out", "source"), [*rows, total])


def _budget(value: Reduction, unit: str) -> str:
    parts = sorted((p for p in merged(value.parts) if p.u_m), key=lambda part: -abs(part.u_m))
    rows = [(part.what, _size(abs(part.u_m), unit), dof_text(part.dof), part.source) for part in parts]
    return table(("uncertainty from", f"u, {unit}", "degrees of freedom", "source"), rows) if rows else ""


def _signed(length_m: float, unit: str) -> str:
    text = rounded(from_si(length_m, unit, "length"), 0.0001)
    return text if text.startswith("-") else f"+{text}"


def _size(length_m: float, unit: str) -> str:
    return rounded(from_si(length_m, unit, "length"), 0.0001)


def findings_html(findings: Iterable[Finding]) -> str:
    """Findings with what to do, weightiest first; "" for none."""
    rows = [(MARKS[finding.weight], finding.message, finding.hint) for finding in findings]
    return table(("finding", "", "what to do"), rows) if rows else ""


def well_html(title: str, facts: Sequence[tuple[str, str]], figure: str, rows: Sequence[Sequence[str]]) -> str:
    """A well: its facts, its figure (SVG made by `reports`), its last readings (when, what, value, quality, checks)."""
    header = ("when", "what", "below land surface", "quality", "look at")
    last = table(header, rows) if rows else "<p>nothing read yet</p>"
    return f"<div><h4>{escape(title)}</h4>{table(('', ''), facts)}{figure}{last}</div>"


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; every cell is escaped."""
    head = "".join(f"<th>{escape(cell)}</th>" for cell in header)
    body = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
