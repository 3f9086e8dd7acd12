"""The method pages say what the program does: their examples run, their numbers come out, no method lacks a page.

A page's example is a block marked ```toml reduce, followed directly by lines such as

    `expect: depth below land surface = 82.10 ft`

The name is that of a result or of a step (its amount to add), one of these after "u of" (its standard uncertainty),
"reporting step", "use", "quality" or "finding". A number must come out to half a unit of its last written digit.
Printed results ("= depth ...") must be the program's own, and Python examples on a page run as doctests.
"""

from __future__ import annotations

import doctest
import inspect
import re
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

import pytest

from tapedown.analysis import repeat_error
from tapedown.cli.show import reduction_lines
from tapedown.engine import context
from tapedown.engine.methods import pressure, stages
from tapedown.engine.methods import registry as methods
from tapedown.engine.physics import hole, stretch
from tapedown.engine.repeats import agreement
from tapedown.engine.tape import calibration, side_by_side
from tapedown.engine.tape import corrections as tape
from tapedown.engine.uncertainty import review_priority as worth
from tapedown.engine.uncertainty.budget import combine
from tapedown.engine.well import fill
from tapedown.exchange.sheets import read_sheet
from tapedown.loggers import barometer, tides
from tapedown.loggers import context as logger_context
from tapedown.loggers import tape as logger_tape
from tapedown.values import readings, results, settings, wells, written
from tapedown.values.results import Reduction
from tapedown.values.units import from_si
from tapedown.values.written import written as number
from tapedown.work.one_off import reduce_once

DOCS = Path(__file__).parents[2] / "docs"
PAGES = sorted((DOCS / "methods").glob("*.md"))
EXAMPLE = re.compile(r"^```toml reduce\n(.*?)^```\n((?:`expect: [^`]+`\n)+)", re.MULTILINE | re.DOTALL)
EXPECT = re.compile(r"`expect: (.+?) = ([^`]+)`")
PRINTED = re.compile(r"^ *(= (?:depth|elevation) .*\])$", re.MULTILINE)
UNIT_ENDING = re.compile(r"_(m|m2|kpa|c|n|n_m|deg|kg_m3|m_s2|m_per_kpa|si)$")


class Example(NamedTuple):
    """A block of a page and what the page expects of it."""

    page: str
    toml: str
    expected: list[tuple[str, str]]


def examples() -> list[Example]:
    found = []
    for page in PAGES:
        for block, expected in EXAMPLE.findall(page.read_text(encoding="utf-8")):
            found.append(Example(page.name, block, EXPECT.findall(expected)))
    return found


def worked(example: Example) -> Reduction:
    return reduce_once(read_sheet(example.toml.encode(), f"{example.page}.toml"))[0]


def numbers_m(reduction: Reduction) -> dict[str, float]:
    """Every number a page may expect, m, by its name."""
    found: dict[str, float] = {}
    for stage in reduction.stages:
        for step in stage.steps:
            found[step.what] = step.amount_m
            found[f"u of {step.what}"] = combine(step.parts)[0]
        found[stage.result.name] = stage.result.value_m
        found[f"u of {stage.result.name}"] = stage.result.u_m
    return found


def words(reduction: Reduction) -> dict[str, list[str]]:
    step = f"{reduction.digits.step:g} {reduction.digits.unit}"
    findings = [finding.check for finding in reduction.findings]
    return {"use": [reduction.use], "quality": [reduction.quality], "reporting step": [step], "finding": findings}


@pytest.mark.parametrize("example", [pytest.param(e, id=f"{e.page}-{i}") for i, e in enumerate(examples())])
def test_the_examples_of_a_method_page_come_out_as_the_page_says(example: Example) -> None:
    reduction = worked(example)
    for name, expected in example.expected:
        if name in words(reduction):
            assert expected in words(reduction)[name]
            continue
        stated = number(expected, "m")
        found = from_si(numbers_m(reduction)[name], stated.unit, "length")
        assert found == pytest.approx(float(stated.text), abs=0.5 * 10**-stated.decimals + 1e-9), name


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_the_results_printed_on_a_page_are_the_programs_own(page: Path) -> None:
    own = "\n".join(line for e in examples() if e.page == page.name for line in reduction_lines(worked(e)))
    for printed in PRINTED.findall(page.read_text(encoding="utf-8")):
        assert printed in own


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_a_page_carries_an_example_that_runs_and_its_sources(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    blocks = text.count("```toml reduce")
    assert blocks == len([e for e in examples() if e.page == page.name]), "a block lacks its `expect:` line"
    assert blocks or ">>>" in text
    assert "\n## Sources\n" in text
    failed, _ = doctest.testfile(str(page), module_relative=False, encoding="utf-8")
    assert failed == 0


def test_every_method_has_a_page_with_an_example_of_it() -> None:
    shown = {worked(example).method for example in examples()}
    assert shown >= set(methods.REDUCERS)


def test_the_index_names_every_page_and_every_page_it_names_is_there() -> None:
    index = (DOCS / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"\]\(([^)#:]+\.md)", index))
    assert {name for name in named if not (DOCS / name).is_file()} == set()
    assert {f"methods/{page.name}" for page in PAGES} <= named


@pytest.mark.parametrize(
    "page", sorted([*PAGES, *(DOCS / "guide").glob("*.md"), DOCS / "names.md"]), ids=lambda page: page.stem
)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#:]+\.md)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).is_file(), target


NAMING: tuple[ModuleType, ...] = (
    agreement, calibration, fill, hole, pressure, context, stages, stretch, tape,
    readings, results, settings, wells, written, repeat_error, side_by_side, worth,
    barometer, logger_context, logger_tape, tides,
)  # fmt: skip


def quantities() -> Iterator[str]:
    for module in NAMING:
        for _, kind in inspect.getmembers(module, inspect.isclass):
            own = kind.__module__ == module.__name__ and hasattr(kind, "_fields")
            names = [*getattr(kind, "_fields", ()), *(n for n, v in vars(kind).items() if isinstance(v, property))]
            yield from (name for name in names if own and UNIT_ENDING.search(name))


def test_every_quantity_that_carries_its_unit_stands_in_the_glossary() -> None:
    glossary = (DOCS / "names.md").read_text(encoding="utf-8")
    named = set(quantities())
    assert len(named) > 20
    assert {name for name in named if f"`{name}`" not in glossary} == set()
