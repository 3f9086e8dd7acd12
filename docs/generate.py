"""Write the pages that follow from the code: commands, forms, settings, checks; --check tells which are out of date.

The pages are made from the same tables the program runs on, so they cannot say something else.
"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tapedown.cli.exits import EXITS
from tapedown.engine.checks.at_the_well import RULES
from tapedown.engine.checks.named import CHECKS
from tapedown.main import tapedown
from tapedown.values.forms import Form
from tapedown.values.kinds import KINDS
from tapedown.values.reading_forms import METHODS
from tapedown.values.settings import SETTINGS

DOCS = Path(__file__).parent
MADE = "<!-- made by docs/generate.py; change the code, then run `make docs` -->\n\n"


def table(header: list[str], rows: list[list[str]]) -> str:
    """A Markdown table."""
    lines = [header, ["---"] * len(header), *rows]
    return "".join(f"| {' | '.join(cell.replace('|', '/') for cell in line)} |\n" for line in lines) + "\n"


def commands() -> str:
    """Every command with its help."""
    context = click.Context(tapedown, info_name="tapedown", max_content_width=100, terminal_width=100)
    text = MADE + "# Commands\n\n```\n" + tapedown.get_help(context) + "\n```\n\n"
    for name, command in sorted(tapedown.all().items()):
        text += command_help(name, command, context)
    rows = [[str(code), meaning] for code, meaning in EXITS]
    return text + "## Exit codes\n\n" + table(["code", "meaning"], rows)


def command_help(name: str, command: click.Command, above: click.Context) -> str:
    """A command with its help, and below it those of its own."""
    inner = click.Context(command, info_name=name, parent=above, max_content_width=100, terminal_width=100)
    title = inner.command_path.removeprefix("tapedown ")
    text = f"## {title}\n\n```\n{command.get_help(inner)}\n```\n\n"
    own = command.commands if isinstance(command, click.Group) else {}
    return text + "".join(command_help(each, own[each], inner) for each in sorted(own))


def form_rows(form: Form, before: str = "") -> list[list[str]]:
    """The fields of a form, groups indented by their path."""
    rows = []
    for field in form.fields:
        kind = "group" if field.form else field.kind
        notes = [word for word, on in (("required", field.required), ("several", field.many)) if on]
        choices = f" ({', '.join(field.choices)})" if field.choices else ""
        rows.append([f"`{before}{field.name}`", kind, ", ".join(notes), field.help + choices])
        rows += form_rows(field.form, f"{before}{field.name}.") if field.form else []
    return rows


def schema() -> str:
    """Every kind of fact and every method with its fields."""
    text = (
        MADE
        + "# Facts and their fields\n\nNumbers may carry a unit (`84.30 ft`); without one the network's is taken.\n\n"
    )
    for title, forms in (("Kinds of fact", KINDS), ("Methods of reading", METHODS)):
        text += f"## {title}\n\n"
        for name, form in forms.items():
            text += f"### {name}\n\n{form.help}\n\n"
            text += table(["field", "what", "", "write"], form_rows(form)) if form.fields else ""
    rows = [[r.fact, r.level, "yes" if r.bottom else "no", ", ".join(r.doubts), r.advice, r.source] for r in RULES]
    header = ["fact", "a level then is", "a sounding may be a total depth", "makes doubtful", "advice", "source"]
    return text + "## What goes on at a well\n\n" + table(header, rows)


def settings() -> str:
    """Every setting with default and source."""
    rows = [[f"`{s.name}`", s.default, s.meaning, s.source] for s in SETTINGS]
    intro = '# Settings\n\nChange one with `tapedown settings NAME=VALUE`. "ours": no source was found.\n\n'
    return MADE + intro + table(["name", "default", "meaning", "source"], rows)


def checks() -> str:
    """Every check."""
    rows = [[f"`{name}`", c.weight, c.quality, c.looks_for] for name, c in CHECKS.items()]
    intro = "# Checks\n\nstop: do not use the value as it stands. look: a person should look. note: worth knowing.\n\n"
    return MADE + intro + table(["check", "weight", "quality left at best", "looks for"], rows)


PAGES = {"cli.md": commands, "schema.md": schema, "settings.md": settings, "checks.md": checks}


def main(arguments: list[str]) -> int:
    """Write the pages, or with --check compare them; the number of pages out of date is the exit code."""
    stale = 0
    for name, page in PAGES.items():
        path, text = DOCS / name, page().rstrip() + "\n"
        if "--check" not in arguments:
            path.write_text(text, encoding="utf-8")
        elif not path.exists() or path.read_text(encoding="utf-8") != text:
            stale += 1
            print(f"docs/{name} is out of date: run `make docs`")
    return stale


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
