"""The engine on the sheet is the engine in the office: thousands of random reading sets through both."""

from __future__ import annotations

import http.server
import threading
from collections.abc import Iterator
from random import Random
from typing import Any

import pytest

from tapedown.analysis.expected_bottom import Depth, expected_bottom
from tapedown.analysis.expected_level import expected_level
from tapedown.engine.one_off.expected import expected_once
from tapedown.engine.one_off.explained import explained_once, surroundings
from tapedown.engine.one_off.reading import reduce_once
from tapedown.exchange.explained_to_json import explained_to_json
from tapedown.exchange.plain import plain
from tapedown.exchange.to_json import predictive_to_json, reduction_to_json
from tapedown.values.days import date_text
from tapedown.values.expectations import Expectation, ExpectedLevel, Neighbour
from tapedown.web.sheet.engine.bundle import engine_files
from tests.web.browser.engine_cases import METHODS, Cases

COUNT, EXPLAINED, SEEDS, RELATIVE = 1000, 200, (84, 85), 1e-12  # 2,000 sets in all, half on each core
ASK = """async (cases) => {
  window.engine ??= await new Promise((done, fail) => {
    const worker = new Worker('/engine/worker.js');
    worker.onmessage = (event) => event.data.ready ? done(worker) : fail(event.data.fault);
    worker.onerror = (event) => fail(event.message);
  });
  const answers = [];
  for (const [id, given] of cases.entries())
    answers.push(await new Promise((done) => {
      window.engine.onmessage = (event) => done(event.data);
      window.engine.postMessage({ id, given });
    }));
  return answers;
}"""


class Engine(http.server.BaseHTTPRequestHandler):
    """Serves the engine's files and an empty page."""

    def do_GET(self) -> None:
        name = self.path.removeprefix("/engine/")
        body = engine_files().get(name, b"<!doctype html><title>engine</title>")
        self.send_response(200)
        self.send_header("Content-Type", "text/javascript" if name.endswith(".js") else "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_args: Any) -> None:
        """Nothing to say."""


@pytest.fixture(scope="module")
def page(browser: Any) -> Iterator[Any]:
    """An empty page beside the engine's files."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Engine)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    opened = browser.new_page()
    opened.goto(f"http://127.0.0.1:{server.server_port}/")
    yield opened
    opened.close()
    server.shutdown()
    server.server_close()


def here(given: dict[str, Any]) -> dict[str, Any]:
    """The answer of the engine in this process."""
    asked = given.get("expecting")
    once = reduce_once({name: value for name, value in given.items() if name != "expecting"})
    value = None if once.value is None else reduction_to_json(once.value)
    found = expected_once(asked) if asked else None
    expected = None if found is None else predictive_to_json(found)
    told: dict[str, Any] = plain({"value": value, "problems": once.problems, "expected": expected})
    return told


def differences(a: Any, b: Any, place: str = "") -> list[str]:
    """Where two answers differ: numbers by more than 1e-12 of their size, anything else at all."""
    if isinstance(a, dict) and isinstance(b, dict):
        return [d for key in a.keys() | b.keys() for d in differences(a.get(key), b.get(key), f"{place}.{key}")]
    if isinstance(a, list | tuple) and isinstance(b, list | tuple) and len(a) == len(b):
        return [d for i, (x, y) in enumerate(zip(a, b)) for d in differences(x, y, f"{place}[{i}]")]
    numbers = isinstance(a, int | float) and isinstance(b, int | float)
    if numbers and abs(a - b) <= RELATIVE * max(abs(a), abs(b), 1e-3):
        return []
    return [] if a == b else [f"{place}: {a!r} here, {b!r} in the browser"]


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_thousands_of_random_sets_come_out_the_same_in_the_browser(page: Any, seed: int) -> None:
    cases = Cases(seed)
    wrong: list[str] = []
    worked = slips = 0
    for _ in range(0, COUNT, 250):
        batch = [cases.request() for _ in range(250)]
        for given, answer in zip(batch, page.evaluate(ASK, batch)):
            ours = here(given)
            worked, slips = worked + (ours["value"] is not None), slips + bool(ours["problems"])
            wrong += [f"{given['method']}{d}" for d in differences(ours, {k: answer.get(k) for k in ours})]
    assert not wrong, f"{len(wrong)} differences, such as:\n" + "\n".join(wrong[:20])
    assert worked > COUNT // 2
    assert slips > COUNT // 50


def explained_here(given: dict[str, Any]) -> Any:
    """The explanation of the engine in this process."""
    reading = {name: value for name, value in given.items() if name != "explaining"}
    once = explained_once(reading, surroundings(given["explaining"]))
    return None if once is None else explained_to_json(once.explained, once.case.value)


@pytest.mark.slow
def test_hundreds_of_random_readings_are_explained_alike_in_the_browser(page: Any) -> None:
    cases = Cases(86)
    given = [cases.explanation() for _ in range(EXPLAINED)]
    answers = page.evaluate(ASK, given)
    wrong = [d for one, answer in zip(given, answers) for d in differences(explained_here(one), answer["explained"])]
    assert not wrong, f"{len(wrong)} differences, such as:\n" + "\n".join(wrong[:20])
    explained = [answer["explained"] for answer in answers if answer["explained"]]
    assert len(explained) > EXPLAINED // 2
    assert len({one["ranked"][0]["name"] for one in explained}) >= 6


@pytest.mark.parametrize("method", sorted(METHODS))
def test_every_method_runs_in_the_browser(page: Any, method: str) -> None:
    given = {"length_unit": "ft", "method": method, **METHODS[method](Cases(1))}
    answer = page.evaluate(ASK, [given])[0]
    assert "fault" not in answer
    assert differences(here(given), {k: answer[k] for k in ("value", "problems", "expected")}) == []


def level_fitted(chance: Random) -> ExpectedLevel:
    """The expectation of a made-up well."""
    days, depths = [730000 + chance.randrange(40)], [chance.uniform(-3, 90)]
    for _ in range(chance.choice((0, 1, 3, 12, 60))):
        days.append(days[-1] + chance.randrange(1, 200))
        depths.append(depths[-1] + chance.gauss(0, 0.3))
    return expected_level(days, depths).expected


def asked(chance: Random, unit: str) -> dict[str, Any]:
    """What the sheet would ask of a level or a bottom, with or without a neighbour."""
    level, near = level_fitted(chance), level_fitted(chance)
    level = level._replace(neighbours=(Neighbour("MF-02", chance.uniform(0.4, 0.95), 7, 20),))
    soundings = [Depth(735000 + 300 * i, 25 + chance.gauss(0, 0.01), 0.01) for i in range(chance.randrange(1, 9))]
    well = plain(Expectation(level, expected_bottom(soundings)))
    other = plain(Expectation(near, None))
    day = date_text(737000 + chance.randrange(3000))
    seen = [{"code": "MF-02", "day": day, "depth_m": chance.uniform(0, 90), "expected": other}]
    return {"what": chance.choice(("level", "bottom")), "day": day, "length_unit": unit, "expected": well,
            "seen": chance.choice(([], seen))}  # fmt: skip


def test_what_a_well_should_show_comes_out_the_same_in_the_browser(page: Any) -> None:
    chance = Random(2026)
    reading = {"length_unit": "ft", "method": "electric tape", "readings": ["15.02", "15.03"]}
    cases = [{**reading, "expecting": asked(chance, chance.choice(("ft", "m")))} for _ in range(60)]
    for given, answer in zip(cases, page.evaluate(ASK, cases)):
        assert "fault" not in answer
        ours = here(given)
        assert ours["expected"] is not None
        assert differences(ours, {k: answer[k] for k in ours}) == []
