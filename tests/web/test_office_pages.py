"""Pages of the office: what a person sees of a network, a well, a value, the gear, the record."""

from __future__ import annotations

import re

import pytest
from fastapi.routing import APIRoute

from tapedown.record import add_blob, entries
from tapedown.web.app import ROUTERS
from tapedown.work.authorship import Author
from tapedown.work.entry.documents import attach
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import OpenNetwork, start_network
from tests.web.conftest import NETWORK, Browser, one_well, values_of, visible


def test_start_page_shows_every_well_with_its_last_readings_and_a_map(office: Browser) -> None:
    page = office.get("/").text
    assert "Marrow Fen" in visible(page)
    assert re.search(
        r"MF-07\s+Alder Carr\s+14 May 2025 as usual, nothing going on 11\.6\d ft ± 0\.0\d+ 82\.10 ft ± 0\.0\d+",
        visible(page),
    )
    assert "map of 1 wells, north up" in page


@pytest.mark.parametrize(
    ("asked", "found"),
    [("q=carr", True), ("q=turbine", False), ("noted=nothing going on", True), ("noted=water not reached", False),
     ("findings=none", True), ("findings=any", False), ("quality=good", True), ("quality=poor", False)],
)  # fmt: skip
def test_wells_are_filtered_by_the_address(office: Browser, asked: str, found: bool) -> None:
    assert ("MF-07" in visible(office.get(f"/?{asked}").text)) is found
    assert bool(office.json(f"/index.json?{asked}")["wells"]) is found


def test_wells_sort_both_ways_by_the_address(office: Browser, fen: OpenNetwork, author: Author) -> None:
    enter_fact(fen, "well", "MF-09", {"name": "Mill"}, author)
    codes = [w["code"] for w in office.json("/index.json?sort=name")["wells"]]
    assert codes == ["MF-07", "MF-09"]
    assert [w["code"] for w in office.json("/index.json?sort=name&down=true")["wells"]] == codes[::-1]


def test_an_empty_network_says_what_to_do_next(tmp_path: object, author: Author) -> None:
    from tapedown.web.app import create_app

    network = start_network(f"{tmp_path}/empty", NETWORK, author)
    app = create_app(network.record.where, device="desk")
    try:
        assert "Enter the first well" in visible(Browser(app).get("/").text)
    finally:
        app.state.office.record.close()
        network.record.close()


def test_well_page_draws_section_and_history_and_lists_visits_facts_and_bottom(office: Browser) -> None:
    page = office.get("/wells/MF-07").text
    assert page.count("figure-wide") == page.count("figure-narrow") == 1
    words = visible(page)
    for said in ("fill since completion", "14 May 2025 09:10", "notch, north side", "completed depth", "no permission"):
        assert said in words
    for row in values_of(office):
        assert f"/wells/MF-07/values/{row['entry']['id']}" in page


def test_well_page_as_of_a_date_leaves_out_what_was_written_later(office: Browser) -> None:
    assert "14 May 2025" in visible(office.get("/wells/MF-07").text)
    before = visible(office.get("/wells/MF-07?as_of=2026-01-01T07:00:07-05:00").text)
    assert "As known on" in before
    assert "14 May 2025" not in before


def test_value_page_shows_steps_shares_and_the_entries_behind_it(office: Browser) -> None:
    row = values_of(office)[0]
    page = office.get(f"/wells/MF-07/values/{row['entry']['id']}").text
    words = visible(page)
    assert "measuring point MP-1 -3.4000 0.0050 3.40 ft above land surface" in words
    assert "82.10 ft ±" in words
    shares = [int(s) for s in re.findall(r">(\d+) %</td>", page)]
    assert shares
    assert shares == sorted(shares, reverse=True)
    assert abs(sum(shares) - 100) <= len(shares)
    assert "feeling the bottom through tape and weight" in words
    assert {s["part"] for s in office.json(f"/wells/MF-07/values/{row['entry']['id']}.json")["sources"]} == {
        "reading set", "visit", "measuring point", "position", "construction"
    }  # fmt: skip


def test_what_would_change_a_value_really_does(office: Browser) -> None:
    """The first change offered is made; the uncertainty becomes what was promised."""
    path = f"/wells/MF-07/values/{values_of(office)[0]['entry']['id']}"
    lever = office.json(f"{path}.json")["levers"][0]
    assert lever["about"] == "setting/u_bottom_feel"
    office.post("/settings", {"u_bottom_feel": "0.01 ft", "reason": "felt with a sounder twice as sharp"})
    main = office.json(f"{path}.json")["reduction"]["stages"][1]["result"]
    assert main["expanded_m"] == pytest.approx(lever["expanded_m"], rel=1e-9)


def test_gear_pages_show_figures_and_calibrations_with_a_plot(
    office: Browser, fen: OpenNetwork, author: Author
) -> None:
    assert "No gear yet" in visible(office.get("/gear").text)
    enter_fact(fen, "gear", "ST-014", {"type": "steel tape", "length": "300 ft"}, author)
    marks = [{"shown": "50.00", "true": "50.00"}, {"shown": "100.00", "true": "100.01", "u": "0.003"}]
    given = {"against": "tape RT-001", "apply": "checked", "marks": marks}
    enter_fact(fen, "calibration", "ST-014", given, author, measured_at="2025-02-03")
    assert "3 Feb 2025 tape RT-001" in visible(office.get("/gear").text)
    page = office.get("/gear/ST-014").text
    assert "differences at 2 marks" in page
    assert "100.00, 100.01 ft (u 0.003 ft)" in visible(page)
    office.get("/gear/XX", status=404)


def test_points_page_shows_history_and_what_levels_say(office: Browser, fen: OpenNetwork, author: Author) -> None:
    cut = {"name": "MP-2", "height": "2.78", "side": "above", "description": "new cut", "why": "cut down"}
    enter_fact(fen, "measuring point", "MF-07", cut, author, measured_at="2025-08-21")
    mark = {"name": "RM-1", "description": "nail in the sluice", "elevation": "40.00 ft", "vertical_datum": "NAVD88"}
    enter_fact(fen, "reference mark", "MF-07", mark, author)
    levels = {"mark": "RM-1", "point": "MP-2", "above_mark": "2.60 ft"}
    enter_fact(fen, "level check", "MF-07", levels, author, measured_at="2025-09-01")
    words = visible(office.get("/wells/MF-07/points").text)
    assert "1 May 2015 21 Aug 2025 MP-1 3.40 ft above land surface" in words
    assert "42.600 ft 42.620 ft -0.020 ft" in words
    assert office.json("/wells/MF-07/points.json")["points"][0]["height_m"] == pytest.approx(2.78 * 0.3048)


def test_record_page_gives_heads_to_copy_and_proves_on_request(office: Browser) -> None:
    assert "check every entry now" in visible(office.get("/record").text)
    head = office.json("/record.json")["heads"][0]
    proved = office.get("/record?prove=true", status=303).headers["location"]
    page = visible(office.get(proved).text)
    assert "Sound." in page
    assert f"{head['sequence']} {head['digest']} desk" in page
    assert office.json("/record.json?prove=true")["proof"]["sound"] is True


def test_about_page_names_versions_and_licences(office: Browser) -> None:
    packages = {p["name"]: p for p in office.json("/about.json")["packages"]}
    assert packages["sqlalchemy"]["licence"] == "MIT"
    assert "sqlalchemy" in visible(office.get("/about").text)


@pytest.mark.parametrize("code", ["A/7", "50%", "..", "new", "x.json", "Ä 7?", "a#b", 'q"<x>'])
def test_a_well_with_any_code_has_a_page_that_the_start_page_leads_to(
    office: Browser, fen: OpenNetwork, author: Author, code: str
) -> None:
    one_well(fen, code, author)
    paths = re.findall(r'<th scope="row"><a href="(/wells/[^"]+)"', office.get("/").text)
    assert len(paths) == 2
    assert any(f"{code} Alder Carr" in visible(office.get(path).text) for path in paths)
    assert code in {office.json(f"{path}.json")["well"] for path in paths}


def test_photos_and_papers_of_a_well_are_shown_or_saved_and_nothing_else_is_handed_out(
    office: Browser, fen: OpenNetwork, author: Author
) -> None:
    photo = attach(fen, "MF-07", b"\x89PNG\r\n\x1a\n...", "mark.png", "<b>the mark</b>", author).data["sha256"]
    paper = attach(fen, "MF-07", b"<script>alert(1)</script>", "log.txt", "driller's log", author).data["sha256"]
    page = office.get("/wells/MF-07").text
    assert f'src="/documents/{photo}"' in page
    assert "<b>the mark</b>" not in page
    assert office.get(f"/documents/{photo}").headers["content-disposition"] == "inline"
    saved = office.get(f"/documents/{paper}")
    assert saved.headers["content-disposition"].startswith("attachment")
    assert saved.headers["x-content-type-options"] == "nosniff"
    unnamed = add_blob(fen.record, b"kept but named by nothing", "text/plain")
    office.get(f"/documents/{unnamed}", status=404)


NO_JSON = {"/enter", "/documents/{sha256}", "/sheet", "/sheet/{name:path}", "/wells/{code}/sheet.pdf", "/report.pdf",
           "/deliver/{token}.zip", "/wells/{code}/series/{name}/figure.svg"}  # fmt: skip
"""A door, bytes as kept, the field sheet, which is a program and no page, sheets of paper, a zip, a picture."""


def test_every_page_has_its_json_beside_it(office: Browser) -> None:
    every = [route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute)]
    routes = [route for route in every if "GET" in (route.methods or ())]
    described = set(office.json("/openapi.json")["paths"])
    ours = [route for route in routes if not route.path.startswith("/services/")]  # other standards describe those
    pages = {route.path for route in ours if not route.include_in_schema} - NO_JSON
    assert len(pages) >= 20
    beside = {path: "/index.json" if path == "/" else f"{path}.json" for path in pages}
    assert {path for path, json in beside.items() if json not in described} == set()


@pytest.mark.parametrize(
    ("path", "asked"),
    [
        ("/wells/new", "code"),
        ("/gear/new", "serial"),
        ("/wells/MF-07/facts/measuring%20point", "height"),
        ("/wells/MF-07/visit", "people"),
        ("/import", "table"),
    ],
)
def test_the_json_of_a_form_says_what_it_asks_for_and_where_it_is_sent(office: Browser, path: str, asked: str) -> None:
    told = office.json(f"{path}.json")
    assert asked in {field["name"] for field in told["fields"]}
    assert told["sent_to"] == path


def test_the_json_of_a_form_holds_what_the_page_starts_from(office: Browser) -> None:
    assert office.json("/wells/MF-07/facts/construction.json")["given"]["completed_depth"] == "82.1 ft"
    visit = office.json("/wells/MF-07/visit.json")
    assert {"name", "kind", "help"} <= visit["methods"]["chalked tape"][0].keys()
    seen = next(field for field in visit["fields"] if field["name"] == "seen")
    asked = {field["name"] for field in seen["fields"]}
    assert {"quiet", "water", "pump", "near_by", "in_the_hole", "no_reading"} <= asked
    assert "as_written" not in asked
    assert visit["cautions"]


def test_a_photo_is_kept_with_a_well_from_the_desk_by_what_its_bytes_are(office: Browser, fen: OpenNetwork) -> None:
    path, jpeg = "/wells/MF-07/papers/new", b"\xff\xd8\xff\xe0 a gate"
    fields = {"caption": "the gate", "taken": "2026-05-14"}
    kept = office.post(path, fields, files={"paper": ("gate.jpg", jpeg)}).headers["location"]
    assert "the gate" in visible(office.get(kept.partition("#")[0]).text)
    entry = entries(fen.record, kinds=["document"])[-1].entry
    assert (entry.data["media_type"], entry.measured_at, entry.by) == ("image/jpeg", "2026-05-14", "R. Alder")
    assert office.get(f"/documents/{entry.data['sha256']}").content == jpeg


@pytest.mark.parametrize(
    ("paper", "fields", "said"),
    [
        (("setup.jpg", b"\x7fELF\x02\x01\xff\xfe"), {}, "neither JPEG, PNG, PDF nor text"),
        (("gate.jpg", b"\xff\xd8\xff"), {"taken": "last spring"}, "last spring"),
        (("gate.jpg", b"\xff\xd8\xff"), {"by": ""}, "who writes"),
    ],
)
def test_a_paper_that_is_not_kept_says_why_and_keeps_what_was_typed(
    office: Browser, fen: OpenNetwork, paper: tuple[str, bytes], fields: dict[str, str], said: str
) -> None:
    before = len(entries(fen.record))
    page = office.post(
        "/wells/MF-07/papers/new", {"caption": "mine", **fields}, files={"paper": paper}, status=422
    ).text
    assert said in visible(page)
    assert 'value="mine"' in page
    assert len(entries(fen.record)) == before


def test_ends_noted_earlier_show_what_was_lost_from_the_end(office: Browser) -> None:
    head = office.json("/record.json")["heads"][0]
    there = f"{head['sequence']} {head['digest']} desk"
    proof = office.post("/record", {"heads": there}).headers["location"]
    assert "Sound." in visible(office.get(proof).text)
    beyond = office.post("/record", {"heads": f"{head['sequence'] + 3} {'ab' * 32} desk"}).headers["location"]
    assert "an entry known from before is gone" in visible(office.get(beyond).text)
    assert "is not a head" in visible(office.post("/record", {"heads": "what is this"}, status=422).text)


def test_a_well_page_says_what_the_next_reading_should_show(office: Browser) -> None:
    page = visible(office.get("/wells/MF-07?as_of=2038-06-01").text)
    assert "What a reading on 1 Jun 2038 should show" in page
    assert re.search(r"water -?\d+\.\d\d ft to \d+\.\d\d ft in 19 readings of 20: read once, on 2025-05-14", page)
    expected = office.json("/wells/MF-07.json?as_of=2038-06-01")["expected"]
    assert expected["on"] == "2038-06-01"
    assert expected["bottom"]["low_m"] < 82.10 * 0.3048 < expected["bottom"]["high_m"]
    assert "should show" in visible(office.get("/wells/MF-07").text)
