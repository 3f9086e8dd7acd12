"""Commands that keep the record: verify, heads, backup, restore."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from tapedown.cli.desk import Desk, as_json, at_desk, print_json, progress_shown, read_bytes
from tapedown.cli.exits import UNSOUND
from tapedown.cli.signing import set_proof_lines
from tapedown.exchange.ledger.heads import heads_from_text, heads_text
from tapedown.exchange.ledger.proof_file import check_proof
from tapedown.record import Head, Proof, backup, grant_writer, heads, kept_aside, restore, verify
from tapedown.work.networks import place_of_record, shown_place
from tapedown.work.review.proving import SetProof, verify_signed
from tapedown.work.review.to_json import signed_to_json
from tapedown.work.sync.sending import undecided


@click.command(name="verify")
@click.option("--heads", "heads_path", default="", help="Heads noted earlier: shows entries lost from the end as well.")
@click.option("--signed", is_flag=True, help="Hold every signed set against the record as well.")
@click.option("--proof", "proof_path", default="", metavar="FILE", help="Check a proof by itself, without any record.")
@click.option("--tree-head", "tree_head", default="", help="The head that came with the delivery, for --proof.")
@click.option("--delivery", default="", metavar="PLACE",
              help="Check a delivery instead: the folder or zip file that `deliver` made.")  # fmt: skip
@as_json
@at_desk
def verify_command(
    desk: Desk, heads_path: str, signed: bool, proof_path: str, tree_head: str, delivery: str, as_json: bool
) -> None:
    """Prove that no entry was altered, lost, inserted or reordered; that what was signed is as it was signed.

    Or that a delivery is as it was made.
    """
    if proof_path:
        _check_file(proof_path, tree_head, as_json)
        return
    if delivery:
        _verify_delivery(delivery, as_json=as_json)
        return
    known = [Head(*row) for row in heads_from_text(read_bytes(heads_path), heads_path)] if heads_path else []
    network = desk.network()
    record = network.record
    with progress_shown() as watch:
        proof = verify(record, known, watch=watch)
    sets = verify_signed(network) if signed else []
    rivals = len(undecided(kept_aside(record))) if proof.sound else 0
    if as_json:
        account: dict[str, Any] = {"sound": proof.sound, "rival_corrections": rivals}
        account |= {"signed": [_set_to_json(one) for one in sets]} if signed else {}
        print_json({**proof._asdict(), **account})
    else:
        click.echo("\n".join([*proof_lines(proof), *(set_proof_lines(sets) if signed else ())]))
        if rivals:
            click.echo(f"corrections that wait for somebody to decide: {rivals}; see `tapedown rivals`")
    if not proof.sound or not all(one.sound for one in sets):
        click.get_current_context().exit(UNSOUND)


def _set_to_json(one: SetProof) -> dict[str, Any]:
    return {**signed_to_json(one.signed), "sound": one.sound, "problems": one.problems}


def _check_file(path: str, tree_head: str, as_json: bool) -> None:
    """Check a proof by itself."""
    checked = check_proof(read_bytes(path), path, tree_head)
    if as_json:
        print_json({**checked._asdict(), "holds": checked.holds})
    else:
        click.echo(f"{'the proof holds' if checked.holds else 'THE PROOF DOES NOT HOLD'}: {checked.words}")
        for line in checked.problems:
            click.echo(f"  {line}")
        if not tree_head:
            click.echo(f"hold its tree head against the one you were given: {checked.tree_head}")
    if not checked.holds:
        click.get_current_context().exit(UNSOUND)


def _verify_delivery(place: str, *, as_json: bool) -> None:
    from tapedown.work.imports.packages import open_package, verify_delivery  # no other command needs to pay for it

    with open_package(place) as package:
        proof = verify_delivery(package)
    manifest = proof.manifest
    if as_json:
        account = {"sound": proof.sound, "sha256": proof.sha256, "flaws": proof.flaws}
        print_json({**account, "network": manifest.network, "made_at": manifest.made_at, "files": len(manifest.files)})
    elif proof.sound:
        click.echo(f"sound: {len(manifest.files)} files of {manifest.network}, made {manifest.made_at}")
        click.echo(f"  the manifest has SHA-256 {proof.sha256}; compare it with the one you were told")
    else:
        click.echo(f"NOT SOUND: {len(proof.flaws)} of the files of {manifest.network} are not as they were made")
        click.echo("\n".join(f"  {flaw.path}: {flaw.what}" for flaw in proof.flaws))
        click.echo("  -> ask for the delivery again")
    if not proof.sound:
        click.get_current_context().exit(UNSOUND)


def proof_lines(proof: Proof) -> list[str]:
    """What verify found, in words."""
    files = f"{proof.blobs} file{'s' if proof.blobs != 1 else ''}"
    counted = f"{proof.entries} entries of {proof.devices} device{'s' if proof.devices != 1 else ''}, {files}"
    if proof.sound:
        return [f"sound: {counted}; every entry is as it was written and where it was written"]
    lines = [f"NOT SOUND: {counted}; {len(proof.problems)} problem{'s' if len(proof.problems) != 1 else ''}"]
    for problem in proof.problems:
        lines += [f"  {problem.what} ({problem.where})", f"      -> {problem.mend}"]
    return lines


@click.command(name="heads")
@at_desk
def heads_command(desk: Desk) -> None:
    """The last entry of every device. Keep a copy elsewhere: with it `verify` also finds entries lost from the end."""
    click.echo(heads_text(heads(desk.network().record)), nl=False)


@click.command(name="backup")
@click.argument("path", metavar="FILE")
@at_desk
def backup_command(desk: Desk, path: str) -> None:
    """Write a consistent copy of the record to FILE while it is in use, and prove the copy."""
    proof = backup(desk.network().record, path)
    click.echo(f"wrote {path}: {proof_lines(proof)[0]}")


@click.command(name="restore")
@click.argument("path", metavar="FILE")
@click.argument("folder")
def restore_command(path: str, folder: str) -> None:
    """Make a network in FOLDER from a backup FILE; refuses to touch an existing one."""
    place = place_of_record(folder)
    if isinstance(place, Path):
        place.parent.mkdir(parents=True, exist_ok=True)
    proof = restore(path, place)
    click.echo(f"restored to {shown_place(folder)}: {proof_lines(proof)[0]}")


@click.command(name="grant")
@click.argument("role")
@at_desk
def grant_command(desk: Desk, role: str) -> None:
    """Let a database ROLE that owns no tables read and add, and nothing else (PostgreSQL)."""
    grant_writer(desk.network().record, role)
    click.echo(f"{role} may read and add entries; it may change and remove nothing")
