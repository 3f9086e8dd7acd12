"""Commands for what was signed: sign, signed, prove."""

from __future__ import annotations

from pathlib import Path

import click
from tabulate import tabulate

from tapedown.cli.desk import Desk, as_json, at_desk, print_json
from tapedown.reports.words import headline, when_text
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import UnreadableFile
from tapedown.work.review.proving import SetProof, prove_begins, prove_entry
from tapedown.work.review.signing import Scope, SetAsSigned, as_signed, find_signed, scope_of_round, sign_off, sign_offs
from tapedown.work.review.to_json import as_signed_to_json, signed_to_json
from tapedown.work.rounds.planning import round_now
from tapedown.work.wells.history import entry_meant


@click.command()
@click.argument("name")
@click.option("--statement", required=True, help="What you state of the set.")
@click.option("--wells", "codes", default="", metavar="CODE,CODE,...", help="The wells it covers; all without this.")
@click.option("--round", "round_name", default="", metavar="ROUND", help="Cover the readings of a round.")
@click.option("--since", default="", metavar="DATE", help="First day of the readings.")
@click.option("--until", default="", metavar="DATE", help="Last day of the readings.")
@click.option("--as-of", default="", metavar="DATE", help="Leave out what was written later; now without this.")
@click.option("--unreviewed", default="", metavar="WHY", help="Sign although looks are missing, and say why.")
@as_json
@at_desk
def sign(desk: Desk, name: str, as_json: bool, **asked: str) -> None:
    """Sign a set of entries off: a well, a round, a period, as of a time. Prints the tree head that proves it.

    \b
      tapedown sign "2025, all wells" --until 2025-12-31 --statement "read, reviewed, complete"
    """
    network = desk.network()
    scope = _scope(network, asked)
    more = {"as_of": asked["as_of"], "unreviewed": asked["unreviewed"]}
    signed = sign_off(network, name, asked["statement"], scope, desk.author(), **more)
    if as_json:
        print_json(signed_to_json(signed))
        return
    click.echo(signed.words)
    if signed.value.why_unreviewed:
        click.echo(f"{signed.value.unreviewed.text} values lack a look: {signed.value.why_unreviewed}")
    click.echo("keep the tree head elsewhere, and print it with what you deliver")


def _scope(network: OpenNetwork, asked: dict[str, str]) -> Scope:
    codes, since, until = asked["codes"], asked["since"], asked["until"]
    if not asked["round_name"]:
        return Scope(tuple(code.strip() for code in codes.split(",") if code.strip()), since, until)
    if codes or since or until:
        raise click.UsageError("--round says wells and period already")
    return scope_of_round(network, round_now(network, asked["round_name"]).entry.id)


@click.command()
@click.argument("which", default="")
@as_json
@at_desk
def signed(desk: Desk, which: str, as_json: bool) -> None:
    """What was signed; with WHICH (a name, the end of an id, 'last') the set with its values as they stood then."""
    network = desk.network()
    if which:
        signed_set = as_signed(network, find_signed(network, which))
        if as_json:
            print_json(as_signed_to_json(signed_set))
        else:
            click.echo("\n".join(_set_lines(signed_set)))
        return
    all_signed = sign_offs(network)
    if as_json:
        print_json([signed_to_json(one) for one in all_signed])
    elif not all_signed:
        click.echo("nothing is signed yet; sign a set: tapedown sign NAME --statement '...'")
    for one in all_signed if not as_json else ():
        click.echo(one.words + (" [withdrawn]" if one.struck_by else "") + f" (id ends {one.entry.id[-8:]})")


def _set_lines(signed_set: SetAsSigned) -> list[str]:
    """A signed set: its words, its values, what was struck since."""
    lines = [signed_set.signed.words, f"{signed_set.signed.entry.by} states: {signed_set.signed.value.statement}", ""]
    rows = [
        [code, when_text(row.entry.measured_at), row.what, headline(row.value) if row.value else "no reading",
         row.quality, _since(signed_set, row.entry.id), row.entry.id[-8:]]
        for code, listed in signed_set.rows.items()
        for row in listed
    ]  # fmt: skip
    header = ["well", "when", "what", "value then", "quality then", "since", "id ends"]
    lines.append(tabulate(rows, header, tablefmt="simple", disable_numparse=True))
    return [*lines, "", f"{len(signed_set.struck)} of its entries were struck since"]


def _since(signed_set: SetAsSigned, entry_id: str) -> str:
    striker = signed_set.struck.get(entry_id)
    return f"struck by {striker.by}: {striker.reason}" if striker else ""


@click.command()
@click.argument("about", metavar="ENTRY|WELL|SERIAL", default="")
@click.argument("which", default="")
@click.option("--in", "sign_off_name", default="", metavar="SIGNED", help="The sign-off; the newest without this.")
@click.option("--begins", default="", metavar="SIGNED", help="Prove that this set begins with the one it goes on from.")
@click.option("--out", required=True, metavar="FILE", help="Where the proof is written.")
@at_desk
def prove(desk: Desk, about: str, which: str, sign_off_name: str, begins: str, out: str) -> None:
    """Write a small file that proves an entry to be in a signed set. `tapedown verify --proof FILE` checks it anywhere.

    \b
      tapedown prove MF-01 "2024-09-04 chalked tape" --out proof.json
      tapedown prove 01991c0e-2f6a-7c3b-8d25-9b0a5e4f7a11 --out proof.json
    """  # fmt: skip
    network = desk.network()
    if bool(begins) == bool(about):
        raise click.UsageError("name an entry (its id, or WELL WHICH), or a sign-off with --begins")
    text = prove_begins(network, begins) if begins else _of_entry(network, about, which, sign_off_name)
    _write(out, text)
    click.echo(f"wrote {out}; whoever has it checks it with: tapedown verify --proof {out} --tree-head HEAD")


def _of_entry(network: OpenNetwork, about: str, which: str, sign_off_name: str) -> str:
    entry_id = entry_meant(network, about, which) if which else about
    return prove_entry(network, entry_id, sign_off_name)


def _write(out: str, text: str) -> None:
    try:
        with Path(out).open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise UnreadableFile(out, error.strerror or str(error), "name a new file in a folder that is there") from None


def set_proof_lines(proofs: list[SetProof]) -> list[str]:
    """What the check of every signed set found, in words."""
    if not proofs:
        return ["nothing is signed yet"]
    lines = []
    for proof in proofs:
        state = "sound" if proof.sound else "NOT SOUND"
        withdrawn = " [withdrawn]" if proof.signed.struck_by else ""
        lines.append(f"{state}: {proof.signed.words}{withdrawn}")
        lines += [f"  {problem}" for problem in proof.problems]
    return lines
