"""What is said of entries afterwards: accepted, to be measured again, drawn for a blind repeat, signed off.

A quality with a reason is a `review` (values.readings); a withdrawal is a strike.
"""

from __future__ import annotations

from typing import NamedTuple

from tapedown.values.forms import Field, Form
from tapedown.values.results import QUALITIES
from tapedown.values.written import Written


class Acceptance(NamedTuple):
    """A person looked at a value and it stands, with the quality it had."""

    entry: str
    quality: str
    remarks: str


class Remeasure(NamedTuple):
    """A well is to be measured again without sight of what was read.

    entry    id of the reading to be repeated
    drawing  id of the drawing that chose it; "" when a person asked
    """

    entry: str
    why: str
    drawing: str


class Drawing(NamedTuple):
    """Which wells of a round are measured again blind, and from which key they were drawn.

    round       id of the round's entry
    key         text each well's code is joined to before it is digested
    candidates  wells of the round that were read; the lowest digests among them are drawn
    """

    round: str
    share: Written
    key: str
    candidates: tuple[str, ...]
    wells: tuple[str, ...]


class SignOff(NamedTuple):
    """Somebody stands for a set of entries: which, as of when, under which tree head.

    as_of           entries written later are not in the set
    entries         how many entries are in it
    tree_head       head of their Merkle tree, hexadecimal
    leaves          SHA-256 of the stored list of the entries, in the tree's order
    follows         id of the sign-off whose entries are the beginning of this list; "" for none
    unreviewed      values in it that lack reviews
    why_unreviewed  why it was signed all the same
    """

    name: str
    statement: str
    wells: tuple[str, ...]
    round: str
    since: str
    until: str
    as_of: str
    entries: Written
    tree_head: str
    leaves: str
    engine_version: str
    follows: str
    unreviewed: Written
    why_unreviewed: str


FORMS: dict[str, Form] = {
    "acceptance": Form(
        "acceptance",
        Acceptance,
        "a person looked at a value and it stands",
        (
            Field("entry", "text", "id of the entry", required=True),
            Field("quality", "choice", "quality it had", required=True, choices=QUALITIES),
            Field("remarks", "text", "anything else"),
        ),
    ),
    "re-measure": Form(
        "re-measure",
        Remeasure,
        "a well to be measured again, without sight of what was read",
        (
            Field("entry", "text", "id of the reading to be repeated", required=True),
            Field("why", "text", "why", required=True),
            Field("drawing", "text", "id of the drawing that chose it"),
        ),
    ),
    "drawing": Form(
        "drawing",
        Drawing,
        "wells of a round drawn to be measured again blind",
        (
            Field("round", "text", "id of the round", required=True),
            Field("share", "ratio", "share of the wells drawn", required=True),
            Field("key", "text", "key of the drawing", required=True),
            Field("candidates", "text", "wells drawn from", required=True, many=True),
            Field("wells", "text", "wells drawn", required=True, many=True),
        ),
    ),
    "sign-off": Form(
        "sign-off",
        SignOff,
        "a set of entries somebody stands for",
        (
            Field("name", "text", "what the set is called", required=True),
            Field("statement", "text", "what the signer states", required=True),
            Field("wells", "text", "wells it covers; all when empty", many=True),
            Field("round", "text", "id of the round it covers"),
            Field("since", "when", "first day of the readings it covers"),
            Field("until", "when", "last day of the readings it covers"),
            Field("as_of", "text", "entries written later are not in it", required=True),
            Field("entries", "ratio", "how many entries are in it", required=True),
            Field("tree_head", "text", "head of their Merkle tree", required=True),
            Field("leaves", "text", "SHA-256 of the list of its entries", required=True),
            Field("engine_version", "text", "version of the reductions", required=True),
            Field("follows", "text", "id of the sign-off this one goes on from"),
            Field("unreviewed", "ratio", "values in it that lack reviews", required=True),
            Field("why_unreviewed", "text", "why it was signed all the same"),
        ),
    ),
}
