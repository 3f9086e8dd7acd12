"""The commands by what a person wants to do. A command's module is loaded when the command is asked for.

Help and completion need names and one line each; loading everything that fifty commands need would take four fifths
of the time of most of them. So the lines stand here, and a test holds them to the commands' own.
"""

from __future__ import annotations

from importlib import import_module
from typing import NamedTuple

import click


class Verb(NamedTuple):
    """A command: its name, module and attribute, and its help in a line."""

    name: str
    place: str
    help: str


class Section(NamedTuple):
    """Commands for one purpose."""

    title: str
    rows: tuple[Verb, ...]


class Commands(click.Group):
    """A group whose commands are loaded one by one."""

    def __init__(self, *given: object, sections: tuple[Section, ...] = (), **more: object) -> None:
        super().__init__(*given, **more)  # type: ignore[arg-type]
        self.sections = sections
        self.rows = {row.name: row for section in sections for row in section.rows}

    def list_commands(self, _context: click.Context) -> list[str]:
        """Every name, in the order of the help."""
        return list(self.rows)

    def get_command(self, _context: click.Context | None, name: str) -> click.Command | None:
        """A command, loaded now; None for a name that is none."""
        row = self.rows.get(name)
        if row is None:
            return None
        module, _, attribute = row.place.partition(":")
        command: click.Command = getattr(import_module(f"tapedown.{module}"), attribute)
        return command

    def format_commands(self, _context: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands under their purposes."""
        for section in self.sections:
            with formatter.section(section.title):
                formatter.write_dl([(row.name, row.help) for row in section.rows])

    def all(self) -> dict[str, click.Command]:
        """Every command by its name, all of them loaded: for the docs and for tests."""
        return {name: command for name in self.rows if (command := self.get_command(None, name)) is not None}


SECTIONS = (
    Section("Begin", (
        Verb("demo", "cli.demo:demo", "Build the invented Marrow Fen network and show the main job on it."),
        Verb("start", "cli.writing:start", "Start a network in a folder or a database."),
        Verb("office", "opening:office", "Open the network in a browser."),
    )),
    Section("Write down", (
        Verb("visit", "cli.writing:visit", "Enter a visit: from a file, or by questions at a well."),
        Verb("add", "cli.writing:add", "Add a fact about a well or a piece of gear."),
        Verb("correct", "cli.writing:correct_command", "Correct an entry: a new one strikes the old one."),
        Verb("strike", "cli.writing:strike_command", "Strike an entry."),
        Verb("attach", "cli.writing:attach_command", "Keep a photo or paper with a well."),
        Verb("reduce", "cli.writing:reduce", "Work out one reading set from a file, without any record."),
        Verb("fields", "cli.listing:fields", "The fields of a fact or a method; the rules of the well; the checks."),
        Verb("settings", "cli.writing:settings", "Show the network's settings with their sources, or change some."),
    )),
    Section("Look", (
        Verb("wells", "cli.listing:wells", "All wells with their last reading."),
        Verb("well", "cli.listing:well", "What is known about a well."),
        Verb("history", "cli.looking:history_command", "Everything that was read at a well, worked out."),
        Verb("explain", "cli.looking:explain", "One value with every step, sign, size, source and uncertainty."),
        Verb("bottom", "cli.looking:bottom", "Is the well filling in?"),
        Verb("expect", "cli.looking:expect", "What the next reading of a well should show."),
        Verb("surprises", "cli.looking:surprises", "Readings unlike their well, and what may have happened."),
        Verb("gear", "cli.listing:gear", "All gear with its last calibration."),
        Verb("compared", "cli.reviewing:compared", "What a side-by-side comparison of a tape comes to."),
        Verb("logger", "cli.loggers:logger", "Series of loggers: read, treat, check, show, export."),
    )),
    Section("Go round", (
        Verb("due", "cli.rounds:due", "Wells that are due, and those to be measured again."),
        Verb("round", "cli.rounds:round_command", "Plan a round: order of the wells, what to load."),
        Verb("rounds", "cli.rounds:rounds", "Open rounds, and how far each has come."),
    )),
    Section("Judge and stand for", (
        Verb("queue", "cli.reviewing:queue", "Values nobody has looked at enough, where a look is worth most first."),
        Verb("accept", "cli.reviewing:accept_command", "Say that you looked at a value and it stands."),
        Verb("review", "cli.writing:review", "Give a reading a quality after a second person looked at it."),
        Verb("remeasure", "cli.reviewing:remeasure", "Ask for a well to be measured again, blind."),
        Verb("draw", "cli.reviewing:draw_command", "Draw wells of a round to be measured again blind."),
        Verb("repeats", "cli.reviewing:repeats", "The repeat error that blind second readings show."),
        Verb("sign", "cli.signing:sign", "Sign a set of entries off."),
        Verb("signed", "cli.signing:signed", "What was signed, with its values as they stood then."),
        Verb("prove", "cli.signing:prove", "Write a small file that proves an entry to be in a signed set."),
    )),
    Section("Take in and hand on", (
        Verb("import", "cli.writing:import_command", "Take in a table of readings or wells by a mapping."),
        Verb(
            "take-in", "cli.delivering:take_in_command", "Take in what others hand on: a delivery, a package, a file."
        ),
        Verb("deliver", "cli.delivering:deliver_command", "Write the network for others, in open formats."),
        Verb("print", "cli.printing:print_group", "Sheets on paper: a well, the network, figures."),
        Verb("send", "cli.sending:send_command", "Write entries to a file for another device."),
        Verb("receive", "cli.sending:receive_command", "Take in the entries that another device sent."),
        Verb("rivals", "cli.sending:rivals_command", "Corrections kept aside: somebody else was first."),
        Verb("settle", "cli.sending:settle_command", "Strike a correction that is kept aside."),
    )),
    Section("Keep the record", (
        Verb("verify", "cli.keeping:verify_command", "Prove that no entry was altered, lost, inserted or reordered."),
        Verb("heads", "cli.keeping:heads_command", "The last entry of every device."),
        Verb("backup", "cli.keeping:backup_command", "Write a consistent copy of the record while it is in use."),
        Verb("restore", "cli.keeping:restore_command", "Make a network from a backup."),
        Verb("grant", "cli.keeping:grant_command", "Let a database role read and add, and nothing else."),
    )),
)  # fmt: skip
