"""What was signed: the list with the form that signs, and each set as it stood then."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response

from tapedown.values.forms import Problem
from tapedown.web.answers import REFUSALS, answers
from tapedown.web.forms import by_place, listed
from tapedown.web.links import part, words_of
from tapedown.web.pages.common import author_for, done, network_at, page_of, render
from tapedown.web.pages.keeping import Prove
from tapedown.web.pages.wells.entry import missing
from tapedown.web.pages.wells.well import PageNumber
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NobodyNamed, NoSuchWell, NotADate, WrittenWrong
from tapedown.work.review.proving import prove_entry, verify_signed
from tapedown.work.review.signing import (
    NothingToSign,
    ReviewsMissing,
    Scope,
    Signed,
    as_signed,
    find_signed,
    scope_of_round,
    sign_off,
    sign_offs,
)
from tapedown.work.review.to_json import SetJson, SignedJson, as_signed_to_json, signed_to_json
from tapedown.work.rounds.planning import outlines, rounds_now

router = APIRouter()
FIELDS = ("name", "statement", "wells", "round", "since", "until", "as_of", "unreviewed")
MOST_TOLD, PER_PAGE, ROUNDS_SHOWN = 30, 200, 20


@answers(router, "/signed.json", tags=["review"])
def signed_json(request: Request) -> list[SignedJson]:
    """Every sign-off, withdrawn ones too, newest first."""
    return [signed_to_json(one) for one in sign_offs(network_at(request))]


@router.get("/signed", include_in_schema=False)
def signed_page(request: Request) -> Response:
    """What was signed, and the form that signs."""
    return _page(request, network_at(request), dict.fromkeys(FIELDS, ""))


@router.post("/signed", include_in_schema=False)
def sign_sent(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Sign a set."""
    network = network_at(request)
    typed = {name: sent.text(name).strip() for name in FIELDS}
    try:
        made = _sign(network, typed, author_for(request, sent))
    except (WrittenWrong, ReviewsMissing) as error:
        return _page(request, network, typed, error.problems, by=sent.text("by"))
    except NobodyNamed as error:
        return _page(request, network, typed, [missing(error)], by=sent.text("by"))
    except (NoSuchWell, NothingToSign, NotADate) as error:
        place = "as_of" if isinstance(error, NotADate) else "wells"
        return _page(request, network, typed, [Problem(place, str(error), error.hint)], by=sent.text("by"))
    return done(request, sent, f"/signed/{part(made.entry.id)}")


def _sign(network: OpenNetwork, typed: Mapping[str, str], author: Author) -> Signed:
    codes = tuple(code.strip() for code in typed["wells"].split(",") if code.strip())
    scope = Scope(codes, typed["since"], typed["until"])
    if typed["round"]:
        scope = scope_of_round(network, typed["round"])
    more = {"as_of": typed["as_of"], "unreviewed": typed["unreviewed"]}
    return sign_off(network, typed["name"], typed["statement"], scope, author, **more)


def _page(
    request: Request, network: OpenNetwork, typed: Mapping[str, str], problems: Sequence[Problem] = (), **more: str
) -> Response:
    rounds = rounds_now(network, outlines(network))[:ROUNDS_SHOWN]
    return render(
        request,
        "signed.html",
        title="signed",
        status=422 if problems else 200,
        found=sign_offs(network),
        rounds=[(one.entry.id, one.planned.name) for one in rounds],
        typed=typed,
        problems=by_place(problems),
        listed=[
            one if one.place in {*FIELDS, "by"} else one._replace(anchor="f-unreviewed")
            for one in listed(problems[:MOST_TOLD])
        ],
        more_listed=max(0, len(problems) - MOST_TOLD),
        **more,
    )


@answers(router, "/signed/{entry_id}.json", tags=["review"])
def set_json(request: Request, entry_id: str) -> SetJson:
    """A signed set with its values as they stood then, and what was struck since."""
    network = network_at(request)
    return as_signed_to_json(as_signed(network, find_signed(network, words_of(entry_id))))


@router.get("/signed/{entry_id}", include_in_schema=False)
def set_page(request: Request, entry_id: str, page: PageNumber = 1, prove: Prove = False) -> Response:
    """A signed set with its values as they stood then."""
    network = network_at(request)
    signed = find_signed(network, words_of(entry_id))
    found = as_signed(network, signed)
    rows = [(code, row) for code, listed_rows in found.rows.items() for row in listed_rows]
    here = page_of(rows, page, PER_PAGE)
    proof = next((p for p in verify_signed(network) if p.signed.entry.id == signed.entry.id), None) if prove else None
    return render(
        request,
        "signed_set.html",
        title=signed.value.name,
        signed=signed,
        rows=here.rows,
        total=len(rows),
        page=here.page,
        pages=here.pages,
        struck=found.struck,
        proof=proof,
        path=f"/signed/{part(signed.entry.id)}",
    )


@router.get(
    "/signed/{entry_id}/proofs/{of_id}.json",
    responses={**REFUSALS, 200: {"description": "the proof, as a file", "content": {"application/json": {}}}},
    response_class=Response,
    tags=["review"],
)
def proof_file(request: Request, entry_id: str, of_id: str) -> Response:
    """The small file that proves one entry to be in the set."""
    network = network_at(request)
    text = prove_entry(network, words_of(of_id), words_of(entry_id))
    end = "".join(letter for letter in words_of(of_id) if letter.isascii() and letter.isalnum())[-8:]
    saved = {"Content-Disposition": f'attachment; filename="proof-{end}.json"'}
    return Response(text, media_type="application/json", headers=saved)
