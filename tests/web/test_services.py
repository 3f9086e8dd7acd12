"""The services for programs: what the standards ask of them, what strangers see, and what is refused.

Checklists: OGC 17-069r4 annex A (A.2.1 to A.2.8) and 18-058r1; for SensorThings the reading part of the public test
list of 15-078r6, capabilities 1 and 3.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import pytest

from tapedown.values.errors import TapedownError
from tapedown.web.app import create_app
from tapedown.web.security import new_doors
from tapedown.web.services import access
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import OpenNetwork, change_settings
from tests.web.conftest import HOME, Browser, one_well
from tests.work.conftest import SteppingClock

F, S = "/services/now/features", "/services/now/sensorthings/v1.1"
CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
EPSG4326 = "http://www.opengis.net/def/crs/EPSG/0/4326"
EPSG3857 = "http://www.opengis.net/def/crs/EPSG/0/3857"


@pytest.fixture
def desk(fen: OpenNetwork, author: Author, office: Browser) -> Browser:
    """The office with a second well elsewhere, and one that nobody knows the place of."""
    one_well(fen, "MF-08", author)
    enter_fact(fen, "position", "MF-08", {"latitude": "43.2", "longitude": "-76.2"}, author, measured_at="2020-01-01")
    enter_fact(fen, "well", "MF-09", {"name": "Nowhere"}, author)
    return office


# OGC API Features, core


def test_the_first_page_leads_to_everything(desk: Browser) -> None:
    links = {link["rel"]: link for link in desk.json(F)["links"]}
    assert {"self", "service-desc", "conformance", "data"} <= set(links)
    for rel in ("conformance", "data", "service-desc"):
        assert links[rel]["href"].startswith(HOME)
        found = desk.get(links[rel]["href"].removeprefix(HOME))
        assert found.headers["content-type"].partition(";")[0] == links[rel]["type"].partition(";")[0]
    assert any(uri.endswith("conf/core") for uri in desk.json(f"{F}/conformance")["conformsTo"])


def test_the_description_is_openapi_3_0(desk: Browser) -> None:
    validator = pytest.importorskip("openapi_spec_validator", reason="not installed: extra validators")
    told = desk.json(f"{F}/api")
    assert told["openapi"].startswith("3.0")
    validator.validate(told)
    assert {"/", "/conformance", "/collections", "/collections/wells/items"} <= set(told["paths"])


def test_every_property_is_what_the_description_says(desk: Browser) -> None:
    validators = pytest.importorskip("openapi_schema_validator", reason="not installed: extra validators")
    schemas = desk.json(f"{F}/api")["components"]["schemas"]
    for name in ("wells", "readings"):
        validator = validators.OAS30Validator(schemas[name])
        for one in desk.json(f"{F}/collections/{name}/items")["features"]:
            validator.validate(one["properties"])
            assert set(one["properties"]) == set(schemas[name]["properties"])


def test_collections_tell_their_extent_and_their_systems(desk: Browser) -> None:
    told = desk.json(f"{F}/collections")
    assert [one["id"] for one in told["collections"]] == ["wells", "readings"]
    wells = desk.json(f"{F}/collections/wells")
    assert wells["extent"]["spatial"]["bbox"] == [[-76.3, 43.1, -76.2, 43.2]]
    assert wells["crs"] == [CRS84, EPSG4326, EPSG3857]
    assert wells["storageCrs"] == CRS84
    assert wells == told["collections"][0]
    desk.get(f"{F}/collections/gauges", status=404)


def ids(page: Any) -> list[str]:
    return [one["id"] for one in page["features"]]


def test_items_are_geojson_with_their_counts(desk: Browser) -> None:
    found = desk.get(f"{F}/collections/wells/items")
    assert found.headers["content-type"].startswith("application/geo+json")
    page = found.json()
    assert (page["type"], page["numberMatched"], page["numberReturned"]) == ("FeatureCollection", 3, 3)
    assert page["features"][0]["geometry"] == {"type": "Point", "coordinates": [-76.3, 43.1]}
    assert page["features"][2]["geometry"] is None
    one = desk.json(f"{F}/collections/wells/items/MF-07")
    assert one["properties"] == page["features"][0]["properties"]
    assert {link["rel"] for link in one["links"]} >= {"self", "collection"}
    desk.get(f"{F}/collections/wells/items/MF-70", status=404)


def test_pages_follow_one_another_to_the_end_and_back(desk: Browser) -> None:
    whole = ids(desk.json(f"{F}/collections/readings/items?limit=10000"))
    url, walked = f"{F}/collections/readings/items?limit=3", []
    while url:
        page = desk.json(url)
        assert page["numberReturned"] == len(page["features"]) <= 3
        walked += ids(page)
        links = {link["rel"]: link["href"].removeprefix(HOME) for link in page["links"]}
        if "prev" in links:
            assert len(ids(desk.json(links["prev"]))) == 3
        url = links.get("next", "")
    assert walked == whole
    assert len(whole) == 4


def test_a_box_a_time_and_both_choose(desk: Browser) -> None:
    here = f"{F}/collections/readings/items"
    assert len(ids(desk.json(f"{here}?bbox=-76.35,43.05,-76.25,43.15"))) == 2
    assert len(ids(desk.json(f"{here}?bbox=-76.35,43.05,0,-76.25,43.15,99"))) == 2
    assert len(ids(desk.json(f"{here}?bbox=170,40,-76.25,50"))) == 2  # over the antimeridian
    assert len(ids(desk.json(f"{here}?datetime=2024-05-14"))) == 2
    assert len(ids(desk.json(f"{here}?datetime=2025-01-01T00:00:00Z/.."))) == 2
    assert len(ids(desk.json(f"{here}?datetime=../2024-12-31"))) == 2
    assert len(ids(desk.json(f"{here}?datetime=2024-05-14T14:20:00Z&bbox=-76.35,43.05,-76.25,43.15"))) == 1
    assert ids(desk.json(f"{F}/collections/wells/items?datetime=1999-01-01")) == ["MF-09"]  # no time: not left out


def test_the_other_system_turns_the_axes_and_says_so(desk: Browser) -> None:
    here = f"{F}/collections/wells/items"
    found = desk.get(f"{here}?crs={quote(EPSG4326)}")
    assert found.headers["content-crs"] == f"<{EPSG4326}>"
    assert found.json()["features"][0]["geometry"]["coordinates"] == [43.1, -76.3]
    turned = f"{here}?bbox=43.05,-76.35,43.15,-76.25&bbox-crs={quote(EPSG4326)}"
    assert ids(desk.json(turned)) == ["MF-07"]
    assert desk.get(here).headers["content-crs"] == f"<{CRS84}>"


@pytest.mark.parametrize(
    "query",
    ["foo=1", "limit=0", "limit=-1", "limit=many", "limit=1&limit=2", "offset=x", "bbox=1,2,3", "bbox=a,b,c,d",
     "bbox=0,10,10,0", "bbox=nan,0,1,1", "datetime=soon", "datetime=2026-02-30", "datetime=2026-01-02/2026-01-01",
     "datetime=..", "crs=EPSG:3857", "bbox-crs=x", f"bbox=9,0,0,9&bbox-crs={quote(EPSG3857)}"],
)  # fmt: skip
def test_a_parameter_that_is_unknown_or_cannot_be_read_is_refused(desk: Browser, query: str) -> None:
    told = desk.get(f"{F}/collections/wells/items?{query}", status=400).json()
    assert told["error"]["message"]


def test_a_system_that_is_not_offered_is_told_with_those_that_are(desk: Browser) -> None:
    told = desk.get(f"{F}/collections/wells/items?bbox=1,2,3,4&bbox-crs=EPSG:2193", status=400).json()["error"]
    (place,) = told["places"]
    assert place["place"] == "bbox-crs"
    assert "EPSG:2193" in place["message"]
    for uri in (CRS84, EPSG4326, EPSG3857):
        assert uri in place["mend"]


def test_a_network_names_its_own_systems_and_hears_of_one_that_cannot_be(
    desk: Browser, fen: OpenNetwork, author: Author
) -> None:
    own = EPSG4326.replace("4326", "32618")
    desk.get(f"{F}/collections/wells/items?crs={quote(own)}", status=400)
    change_settings(fen, {"map_systems": "32618, 999999, 4979"}, author, "the county's maps")
    page = desk.get(f"{F}/collections/wells/items?crs={quote(own)}")
    assert page.headers["content-crs"] == f"<{own}>"
    x, y = page.json()["features"][0]["geometry"]["coordinates"]
    around = f"bbox={x - 1},{y - 1},{x + 1},{y + 1}&bbox-crs={quote(own)}"
    assert ids(desk.json(f"{F}/collections/wells/items?{around}")) == ["MF-07"]
    assert len(ids(desk.json(f"{F}/collections/readings/items?{around}"))) == 2
    said = desk.json(F)["description"]
    assert "EPSG:999999" in said
    assert "EPSG:4979 (WGS 84 is no projected system" in said
    with pytest.raises(TapedownError, match="not a whole number"):
        change_settings(fen, {"map_systems": "UTM 18"}, author, "a slip")


def test_pages_without_parameters_refuse_them_too(desk: Browser) -> None:
    for path in ("", "/conformance", "/api", "/collections", "/collections/wells"):
        desk.get(f"{F}{path}?foo=1", status=400)
    desk.get(f"{F}/collections/wells/items/MF-07?limit=1", status=400)


def test_a_limit_beyond_the_largest_is_cut_and_not_refused(desk: Browser) -> None:
    assert desk.json(f"{F}/collections/wells/items?limit=1000000")["numberReturned"] == 3


# SensorThings, capability 1: reading entities


def values(desk: Browser, path: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = desk.json(f"{S}/{path}")["value"]
    return found


MANDATORY = {
    "Things": {"name", "description"},
    "Locations": {"name", "description", "encodingType", "location"},
    "HistoricalLocations": {"time"},
    "Datastreams": {"name", "description", "unitOfMeasurement", "observationType"},
    "Sensors": {"name", "description", "encodingType", "metadata"},
    "ObservedProperties": {"name", "definition", "description"},
    "Observations": {"phenomenonTime", "result", "resultTime"},
    "FeaturesOfInterest": {"name", "description", "encodingType", "feature"},
}


def test_the_root_names_every_entity_set(desk: Browser) -> None:
    told = desk.json(S)
    assert {row["name"] for row in told["value"]} == set(MANDATORY)
    for row in told["value"]:
        desk.get(row["url"].removeprefix(HOME))


@pytest.mark.parametrize("name", sorted(MANDATORY))
def test_every_entity_has_its_properties_its_own_link_and_links_that_lead_on(desk: Browser, name: str) -> None:
    found = values(desk, name)
    assert found
    for entity in found:
        assert MANDATORY[name] <= set(entity)
        assert desk.json(entity["@iot.selfLink"].removeprefix(HOME))["@iot.id"] == entity["@iot.id"]
        links = [value for key, value in entity.items() if key.endswith("@iot.navigationLink")]
        assert links
        for link in links:
            desk.get(link.removeprefix(HOME))


def test_an_entity_a_property_its_bare_value_and_a_path(desk: Browser) -> None:
    assert desk.json(f"{S}/Things('MF-07')/name") == {"name": "MF-07"}
    assert desk.get(f"{S}/Things('MF-07')/name/$value").text == "MF-07"
    assert desk.json(f"{S}/Things('MF-07')/properties/zone") == {"zone": "America/New_York"}
    stream = values(desk, "Things('MF-07')/Datastreams")[0]
    observation = values(desk, f"Datastreams('{quote(stream['@iot.id'])}')/Observations")[0]
    path = f"Observations('{quote(observation['@iot.id'])}')"
    assert desk.json(f"{S}/{path}/Datastream")["@iot.id"] == stream["@iot.id"]
    assert desk.json(f"{S}/{path}/Datastream/Thing/name") == {"name": "MF-07"}
    assert desk.json(f"{S}/{path}/FeatureOfInterest")["@iot.id"] == "MF-07"
    links = values(desk, "Things('MF-07')/Datastreams/$ref")
    assert [set(row) for row in links] == [{"@iot.selfLink"}] * len(links)


@pytest.mark.parametrize(
    "path",
    ["Nothings", "Things('MF-70')", "Things('MF-07')/colour", "Things('MF-07')/Observations", "Things(", "Things('a",
     "Things/name", "Observations('x')", "Things('MF-07')/Datastreams('no')", "Locations('MF-09')", "Things('')"],
)  # fmt: skip
def test_a_path_that_leads_nowhere_is_not_found(desk: Browser, path: str) -> None:
    desk.get(f"{S}/{path}", status=404)


@pytest.mark.parametrize("method", ["POST", "PATCH", "PUT", "DELETE"])
def test_nothing_can_be_written(desk: Browser, method: str) -> None:
    same = {"origin": HOME, "sec-fetch-site": "same-origin"}
    for path in (f"{S}/Things", f"{S}/Things('MF-07')", f"{F}/collections/wells/items"):
        assert desk.ask(method, path, json={"name": "x"}, headers=same).status_code == 405


def test_a_quote_in_a_code_is_doubled_in_its_address(fen: OpenNetwork, author: Author, office: Browser) -> None:
    enter_fact(fen, "well", "O'Hara/1 (old)", {"name": "a trying name"}, author)
    (thing,) = values(office, f"Things?$filter={quote('name eq ')}'O''Hara/1 (old)'")
    assert office.json(thing["@iot.selfLink"].removeprefix(HOME))["description"] == "a trying name"


# SensorThings, capability 3: options


def test_top_skip_and_count_with_links_to_the_next_page(desk: Browser) -> None:
    whole = [one["@iot.id"] for one in values(desk, "Observations?$top=1000")]
    url, walked = f"{S}/Observations?$top=2&$count=true", []
    while url:
        page = desk.json(url)
        assert page["@iot.count"] == len(whole)
        walked += [one["@iot.id"] for one in page["value"]]
        url = page.get("@iot.nextLink", "").removeprefix(HOME)
    assert walked == whole
    assert [one["@iot.id"] for one in values(desk, "Observations?$skip=3&$top=1")] == whole[3:4]
    assert values(desk, "Observations?$top=0") == []
    assert "@iot.count" not in desk.json(f"{S}/Things?$count=false")


def test_select_expand_and_expand_in_expand(desk: Browser) -> None:
    (thing,) = values(desk, "Things?$top=1&$select=name")
    assert set(thing) == {"@iot.id", "@iot.selfLink", "name"}
    inner = "Observations($orderby=result desc;$top=1;$select=result;$count=true)"
    (thing,) = values(desk, f"Things?$top=1&$expand=Locations,Datastreams($expand={quote(inner)},Sensor)")
    assert thing["Locations"][0]["location"]["type"] == "Point"
    for stream in thing["Datastreams"]:
        assert set(stream["Observations"][0]) == {"@iot.id", "@iot.selfLink", "result"}
        assert stream["Observations@iot.count"] == 1
        assert stream["Sensor"]["name"] == "readings by hand"
    (thing,) = values(desk, "Things?$top=1&$expand=Datastreams/Sensor,Datastreams/ObservedProperty")
    assert {"Sensor", "ObservedProperty"} <= set(thing["Datastreams"][0])
    expanded = desk.json(f"{S}/Datastreams?$expand=Observations($top=0),Thing")["value"]
    assert all(row["Observations"] == [] and row["Thing"]["name"] in row["name"] for row in expanded)


def test_an_expansion_cut_short_leads_to_the_rest(desk: Browser) -> None:
    (thing,) = values(desk, "Things?$top=1&$expand=Datastreams($top=1;$select=name)")
    rest = desk.json(thing["Datastreams@iot.nextLink"].removeprefix(HOME))["value"]
    assert {"name", "@iot.id", "@iot.selfLink"} == set(rest[0])
    assert rest[0]["@iot.id"] != thing["Datastreams"][0]["@iot.id"]


def test_filters_and_orders_go_through_links_and_into_parameters(desk: Browser) -> None:
    def found(text: str) -> list[dict[str, Any]]:
        return values(desk, f"Observations?$top=1000&$filter={quote(text)}")

    every = values(desk, "Observations?$top=1000")
    assert len(every) == 5  # MF-08 has no elevation since its land surface is not known any more
    assert len(found("Datastream/Thing/name eq 'MF-07'")) == 3
    assert all(one["result"] > 10 for one in found("result gt 10"))
    assert all(one["parameters"]["method"] == "weighted tape" for one in found("parameters/method eq 'weighted tape'"))
    assert len(found("phenomenonTime lt 2025-01-01T00:00:00Z")) == len(found("year(phenomenonTime) eq 2024")) > 0
    assert found("resultQuality/word eq 'missing'") == []
    ordered = [one["result"] for one in values(desk, f"Observations?$orderby={quote('result desc')}")]
    assert ordered == sorted(ordered, reverse=True)
    names = [row["name"] for row in values(desk, f"Datastreams?$orderby={quote('Thing/name desc,name')}")]
    assert [name[:5] for name in names] == sorted((name[:5] for name in names), reverse=True)
    assert [n for n in names if n.startswith("MF-07")] == sorted(n for n in names if n.startswith("MF-07"))


@pytest.mark.parametrize(
    "query",
    ["$filter=foo eq 1", "$filter=result gt", "$top=-1", "$top=x", "$count=maybe", "$orderby=result sideways",
     "$expand=Nothing", "$expand=Datastream(", "$select=colour", "$resultFormat=csv", "foo=1", "$top=1&$top=2",
     "$filter=Datastream/Thing/Datastreams/name eq 'x'", "$expand=" + "Datastream($expand=Observations;" * 30],
)  # fmt: skip
def test_an_option_that_cannot_be_read_is_refused(desk: Browser, query: str) -> None:
    told = desk.get(f"{S}/Observations?{quote(query, safe='$=&();/')}", status=400).json()
    assert told["error"]["message"]


# both


def test_both_services_and_the_page_say_the_same_value(desk: Browser) -> None:
    row = desk.json("/wells/MF-07.json")["rows"][1]
    result = next(s["result"] for s in row["reduction"]["stages"] if s["result"]["name"] == "depth below land surface")
    feature = desk.json(f"{F}/collections/readings/items/{row['entry']['id']}")["properties"]
    identity = quote(f"{row['entry']['id']} depth_to_water_below_land_surface")
    observation = desk.json(f"{S}/Observations('{identity}')")
    assert feature["depth_below_land_surface_m"] == observation["result"] == result["value_m"]
    assert observation["parameters"]["rounded_ft"] == row["reduction"]["reported"]
    assert observation["parameters"]["expanded_uncertainty_m"] == result["expanded_m"]
    assert observation["parameters"]["said_ft"].startswith(row["reduction"]["reported"] + " ± ")
    high = desk.json(f"{S}/Observations('{quote(row['entry']['id'] + ' water_level_elevation')}')")["parameters"]
    assert high["said_ft"] == f"{high['rounded_ft']} ± {high['expanded_rounded_ft']} ft"
    assert high["rounded_ft"] != observation["parameters"]["rounded_ft"]


def test_the_past_is_served_as_it_was_known(desk: Browser) -> None:
    for when in ("2025-12-31", "2025-12-31T10:00:00Z"):
        assert desk.json(f"/services/{when}/features/collections/wells/items")["numberMatched"] == 0
        assert desk.json(f"/services/{when}/sensorthings/v1.1/Things")["value"] == []
    assert desk.json("/services/2026-01-31/features/collections/wells/items")["numberMatched"] == 3
    desk.get("/services/soon/features", status=422)


@pytest.fixture
def shared(fen: OpenNetwork, clock: SteppingClock) -> Iterator[Browser]:
    """A stranger before an office that asks for a key."""
    app = create_app(fen.record.where, doors=new_doors(key="the key of the office"), device="desk", clock=clock)
    yield Browser(app)
    app.state.office.record.close()


def test_strangers_see_nothing_until_the_network_publishes(shared: Browser, fen: OpenNetwork, author: Author) -> None:
    shared.get("/", status=401)
    for path in (F, f"{F}/collections/wells/items", S, f"{S}/Things"):
        assert "publishes nothing" in shared.get(path, status=403).text
    change_settings(fen, {"publish": "wells"}, author, "the board agreed")
    assert shared.json(f"{F}/collections/wells/items")["numberMatched"] == 1
    assert shared.json(f"{F}/collections/readings/items")["numberMatched"] == 0
    assert shared.json(f"{S}/Observations")["value"] == []
    change_settings(fen, {"publish": "wells and readings"}, author, "the board agreed")
    assert shared.json(f"{F}/collections/readings/items")["numberMatched"] == 2
    shared.get("/wells/MF-07.json", status=401)
    change_settings(fen, {"publish": "nothing"}, author, "the board took it back")
    shared.get("/services/2026-01-01/features", status=403)


def test_strangers_never_see_people_gear_or_the_way_to_a_well(
    shared: Browser, fen: OpenNetwork, author: Author
) -> None:
    change_settings(fen, {"publish": "wells and readings"}, author, "the board agreed")
    told = "".join(
        shared.get(path).text
        for path in (f"{F}/collections/wells/items", f"{F}/collections/readings/items", f"{S}/Observations",
                     f"{S}/Things?$expand=Locations,Datastreams", F)
    )  # fmt: skip
    assert "MF-07" in told
    for secret in ('Alder"', "R. Alder", "carr path", "ST-014", "notch"):
        assert secret not in told


def test_whoever_showed_the_key_sees_everything(shared: Browser) -> None:
    shared.get("/enter?key=the%20key%20of%20the%20office", status=303)
    assert shared.json(f"{F}/collections/readings/items")["numberMatched"] == 2


def test_a_stranger_who_asks_too_often_or_too_much_is_told(
    shared: Browser, fen: OpenNetwork, author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    change_settings(fen, {"publish": "wells"}, author, "the board agreed")
    monkeypatch.setattr(access, "EACH_MINUTE", 5)
    for _ in range(5):
        shared.get(F)
    assert "in a minute" in shared.get(F, status=429).text
    shared.get(f"{F}?{'x' * 9000}", status=400)
    shared.get(f"{S}/Things?$filter={'x' * 9000}", status=414)


def test_a_stranger_pays_for_what_has_to_be_looked_at(
    shared: Browser, fen: OpenNetwork, author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    change_settings(fen, {"publish": "wells and readings"}, author, "the board agreed")
    monkeypatch.setattr(access, "A_QUESTION", 1)
    monkeypatch.setattr(access, "EACH_MINUTE", 8)
    shared.get(f"{S}/Observations?$filter=result gt 1&$top=1")
    shared.get(f"{S}/Observations?$filter=result gt 1&$top=1")
    shared.get(f"{S}/Observations?$filter=result gt 1&$top=1", status=429)


def test_a_refusal_has_the_one_shape_of_the_office(desk: Browser) -> None:
    told = json.loads(desk.get(f"{S}/Nothings", status=404).text)
    assert set(told["error"]) == {"message", "hint", "places"}


def test_the_page_of_services_gives_the_addresses(desk: Browser) -> None:
    page = desk.get("/services").text
    assert f"{HOME}{F}" in page
    assert f"{HOME}{S}" in page
