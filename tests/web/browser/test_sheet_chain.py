"""Entries made on the phone are, byte for byte, the entries the record would make; versions of the sheet never mix."""

from __future__ import annotations

import random
import time
from typing import Any

import pytest

from tapedown.values.ledger.entries import FIRST, Draft, canonical, chained, entry_digest
from tests.web.browser.sheet_server import FenOffice
from tests.web.browser.sheet_steps import paired_with_round

pytestmark = pytest.mark.slow
LETTERS = "aB7 _-./\\\"'\n\t\x1f\x7fé“ß水\u2028\u2029💧𝟘"


def some_value(chance: random.Random, depth: int = 0) -> Any:
    """A body's value: texts, lists, groups, as deep as forms go and deeper."""
    kind = chance.randrange(6 if depth < 4 else 3)
    if kind < 3:
        return "".join(chance.choices(LETTERS, k=chance.randrange(9))) if kind else chance.choice([True, False, None])
    if kind == 3:
        return [some_value(chance, depth + 1) for _ in range(chance.randrange(4))]
    keys = ["".join(chance.choices(LETTERS, k=chance.randrange(1, 5))) for _ in range(chance.randrange(5))]
    return {key: some_value(chance, depth + 1) for key in keys}


def test_bodies_and_digests_of_the_phone_are_those_of_the_record(phone: Any, office: FenOffice) -> None:
    chance = random.Random(1709)
    bodies = [{"body": some_value(chance), "é": "84.30 ft"} for _ in range(300)]
    page = phone().new_page()
    page.goto(office.address)
    made = page.evaluate(
        """async (bodies) => {
          const { written, FIRST } = await import('/sheet/chain.js');
          const facts = bodies.map((body) => ({ kind: 'visit', about: 'well/MF-07', by: 'R. Alder 💧',
            measured_at: '2026-05-14T10:20+01:00', body }));
          return written(facts, { sequence: 0, digest: FIRST, written_at: '2199-01-01T00:00:00.000000Z' }, 'phone-1');
        }""",
        bodies,
    )
    previous = FIRST
    for number, (entry, body) in enumerate(zip(made, bodies, strict=True), 1):
        assert entry["body"] == canonical(body)
        draft = Draft(*(entry[name] for name in Draft._fields))
        ours = chained(draft, device="phone-1", sequence=number, previous=previous)
        assert entry == ours._asdict()
        assert entry["digest"] == entry_digest(ours)
        assert entry["written_at"] == "2199-01-01T00:00:00.000000Z"  # never before the entry before it
        assert entry["id"][14] == "7"
        previous = ours.digest
    assert len({entry["id"] for entry in made}) == len(bodies)


def test_a_new_version_waits_until_every_sheet_is_closed(phone: Any, office: FenOffice) -> None:
    context = phone()
    page = paired_with_round(context, office, ["MF-01"])
    caches = "caches.keys()"
    old = page.evaluate(caches)
    office.release("newer")
    page.reload()
    page.get_by_text("A new version is ready").wait_for()
    assert old[0] in page.evaluate(caches)
    page.reload()
    assert page.evaluate("navigator.serviceWorker.controller.scriptURL").endswith(old[0].removeprefix("sheet-"))
    page.close()
    other = context.new_page()
    other.goto(f"{office.address.removesuffix('/sheet/')}/pair")  # a page of the office, no sheet
    until = time.monotonic() + 15
    while other.evaluate(caches) != ["sheet-newer"] and time.monotonic() < until:
        other.wait_for_timeout(100)
    assert other.evaluate(caches) == ["sheet-newer"]
    other.goto(office.address)
    assert other.evaluate("navigator.serviceWorker.controller.scriptURL").endswith("newer")


def test_half_a_version_is_not_installed(phone: Any, office: FenOffice) -> None:
    page = paired_with_round(phone(), office, ["MF-01"])
    old = page.evaluate("caches.keys()")
    office.release("broken", extra="/sheet/no-such-file.js")
    page.reload()
    page.wait_for_timeout(1000)
    assert page.evaluate("caches.keys()") == old
    assert page.get_by_text("A new version is ready").count() == 0
    office.stop()
    page.reload()
    page.get_by_role("link", name="MF-01").wait_for()
