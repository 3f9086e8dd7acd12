"""Loggers asked through SensorThings: columns answer as looking at every row would, and page by page nothing is lost.

OGC 18-088 is cited from memory where it is cited here; what a client needs is checked by a public client beside this.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

import polars as pl
import pytest

from tapedown.exchange.delivery.contents import Delivery, Recorded
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.formats.registry import written_as
from tapedown.exchange.services import sensorthings_query
from tapedown.exchange.services.sensorthings import Store
from tapedown.exchange.services.sensorthings_query import Answer, BadQuestion, NothingThere, find, read_options
from tapedown.values.settings import Settings
from tapedown.work.exports.gathering import gather
from tapedown.work.exports.publishing import for_strangers
from tapedown.work.networks import OpenNetwork, network_of
from tapedown.work.series.corrected import corrected, exported

LOGGER = "Datastreams('MF-11 depth_to_water_below_land_surface logger level')/Observations"
DAYS = "Datastreams('MF-11 depth_to_water_below_land_surface daily mean level')/Observations"
WELL = "FeaturesOfInterest('MF-11')/Observations"
"""A logger, its daily means, and both of them with what was read by hand at the same well."""


@pytest.fixture(scope="module")
def store(delivery: Delivery) -> Store:
    return Store(delivery)


@pytest.fixture(scope="module")
def logged(store: Store) -> Recorded:
    found = store.streams["MF-11 depth_to_water_below_land_surface logger level"][1]
    assert isinstance(found, Recorded)
    return found


def ask(store: Store, path: str, **options: str) -> Any:
    """An answer; options without their $."""
    given = {f"${name}": value for name, value in options.items()}
    query = "&".join(f"{name}={value}" for name, value in given.items())
    return Answer("http://fen").of(find(store, path), read_options(given), f"http://fen/{path}?{query}")


def rows(store: Store, path: str, **options: str) -> list[tuple[str, float | None]]:
    """Times and results of an answer."""
    return [(one["phenomenonTime"], one["result"]) for one in ask(store, path, top="10000", **options)["value"]]


# a filter that columns answer, and the same said so that every row has to be looked at

SAME = {
    "phenomenonTime ge 2025-08-20T00:00:00Z": "not (phenomenonTime lt 2025-08-20T00:00:00Z)",
    "phenomenonTime gt 2025-08-20T04:00:00Z": "not (phenomenonTime le 2025-08-20T04:00:00Z)",
    "resultTime le 2024-02-20T00:00:00-05:00": "not (resultTime gt 2024-02-20T00:00:00-05:00)",
    "phenomenonTime lt 2024-02-20T05:00:00Z": "not (phenomenonTime ge 2024-02-20T05:00:00Z)",
    "phenomenonTime ge 2024-03-01 and phenomenonTime lt 2024-03-03T12:00:00Z": (
        "not (phenomenonTime lt 2024-03-01 or phenomenonTime ge 2024-03-03T12:00:00Z)"
    ),
    "result gt 5.2 and result le 5.23": "5.2 lt result and 5.23 ge result",
    "result ge 5.2 and phenomenonTime gt 2025-08-01": "5.2 le result and year(phenomenonTime) eq 2025 and "
    "not (phenomenonTime le 2025-08-01)",
}


@pytest.mark.parametrize("path", [LOGGER, DAYS, WELL])
@pytest.mark.parametrize("by_columns", SAME)
@pytest.mark.parametrize("order", ["", "phenomenonTime", "phenomenonTime desc", "result", "result desc"])
def test_columns_answer_as_looking_at_every_row_does(store: Store, path: str, by_columns: str, order: str) -> None:
    ordered = {"orderby": order} if order else {}
    found = rows(store, path, filter=by_columns, **ordered)
    assert found == rows(store, path, filter=SAME[by_columns], **ordered)
    assert found or path != LOGGER
    counted = ask(store, path, filter=by_columns, count="true", top="3", skip="2", **ordered)
    assert counted["@iot.count"] == len(found)
    assert [(one["phenomenonTime"], one["result"]) for one in counted["value"]] == found[2:5]


def test_an_order_by_two_things_is_kept_too(store: Store) -> None:
    found = rows(
        store, DAYS, orderby="resultQuality/word desc,phenomenonTime desc", filter="phenomenonTime le 2024-02-20"
    )
    assert [value for _, value in found].index(None) == 0
    assert [time for time, value in found if value] == sorted((time for time, value in found if value), reverse=True)


@pytest.mark.parametrize("path", [LOGGER, DAYS, WELL])
@pytest.mark.parametrize("order", ["", "phenomenonTime desc", "result"])
@pytest.mark.parametrize("shape", ["", "dataArray"])
def test_next_links_lead_through_every_row_once(store: Store, path: str, order: str, shape: str) -> None:
    options = {"top": "3000", **({"orderby": order} if order else {}), **({"resultFormat": shape} if shape else {})}
    walked: list[str] = []
    while True:
        page = ask(store, path, **options)
        if shape:
            walked += [row[0] for part in page["value"] for row in part["dataArray"]]
        else:
            walked += [one["@iot.id"] for one in page["value"]]
        if "@iot.nextLink" not in page:
            break
        options = {name[1:]: value for name, value in parse_qsl(page["@iot.nextLink"].partition("?")[2])}
    total = ask(store, path, count="true", top="0")["@iot.count"]
    assert len(walked) == len(set(walked)) == total > 500


def test_a_page_far_back_holds_few_rows_and_the_last_one_what_is_left(store: Store, logged: Recorded) -> None:
    assert len(rows(store, LOGGER, skip=str(logged.size - 3))) == 3
    assert ask(store, LOGGER, skip=str(logged.size))["value"] == []
    assert ask(store, LOGGER, skip="999999999", orderby="phenomenonTime desc")["value"] == []


def test_an_observation_is_found_again_by_its_id_and_by_its_path(store: Store, logged: Recorded) -> None:
    (one,) = ask(store, LOGGER, skip="12345", top="1")["value"]
    identity = one["@iot.id"]
    assert ask(store, f"Observations('{identity}')") == one
    assert ask(store, f"{LOGGER}('{identity}')") == one
    assert ask(store, f"{WELL}('{identity}')") == one
    assert ask(store, f"Observations('{identity}')/Datastream")["name"].endswith("logger of level")
    for nowhere in (f"{DAYS}('{identity}')", f"{LOGGER}('x')", f"Observations('{identity[:-6]}')"):
        with pytest.raises(NothingThere):
            find(store, nowhere)


def test_expanded_streams_give_their_last_value_and_the_way_to_the_rest(store: Store, logged: Recorded) -> None:
    inner = "Observations($orderby=phenomenonTime desc;$top=1;$count=true)"
    streams = ask(store, "Things('MF-11')/Datastreams", expand=f"{inner},Sensor")["value"]
    told = {one["Sensor"]["name"]: one for one in streams}
    logger = told["logger"]
    assert logger["Observations@iot.count"] == logged.size
    assert logger["Observations"][0]["phenomenonTime"] == logged.last
    assert logger["phenomenonTime"] == f"{logged.first}/{logged.last}"
    assert "$skip=1" in logger["Observations@iot.nextLink"]
    assert told["daily means"]["Observations"][0]["parameters"]["rows"] > 0


def test_rows_of_bare_values_say_what_entities_say(store: Store) -> None:
    """Names of the parts of a data array: 18-088, clause 12, from memory."""
    entities = ask(store, WELL, filter="phenomenonTime ge 2025-09-01", count="true")
    told = ask(store, WELL, filter="phenomenonTime ge 2025-09-01", count="true", resultFormat="dataArray")
    assert told["@iot.count"] == entities["@iot.count"]
    flat = []
    for part in told["value"]:
        assert set(part) == {"Datastream@iot.navigationLink", "components", "dataArray@iot.count", "dataArray"}
        assert part["dataArray@iot.count"] == len(part["dataArray"])
        assert part["components"][:4] == ["id", "phenomenonTime", "resultTime", "result"]
        flat += [dict(zip(part["components"], row, strict=True)) for row in part["dataArray"]]
    assert len(told["value"]) > 1
    assert flat == [{"id": e["@iot.id"], **{n: e[n] for n in part["components"][1:]}} for e in entities["value"]]
    (few,) = ask(store, LOGGER, resultFormat="dataArray", select="result,phenomenonTime", top="2")["value"]
    assert few["components"] == ["phenomenonTime", "result"]
    assert [len(row) for row in few["dataArray"]] == [2, 2]


@pytest.mark.parametrize(
    ("path", "options", "said"),
    [
        (LOGGER, {"resultFormat": "csv"}, "known: dataArray"),
        ("Things", {"resultFormat": "dataArray"}, "for several Observations"),
        (LOGGER, {"resultFormat": "dataArray", "expand": "Datastream"}, "takes no \\$expand"),
        (LOGGER, {"resultFormat": "dataArray", "select": "colour"}, "of id, phenomenonTime"),
        ("Datastreams", {"expand": "Observations($resultFormat=dataArray)"}, "not for what is expanded"),
        (LOGGER, {"filter": "phenomenonTime gt 2026-13-01T00:00:00Z"}, "not a time"),
    ],
)
def test_a_format_or_time_that_is_not_known_is_told(
    store: Store, path: str, options: dict[str, str], said: str
) -> None:
    with pytest.raises(BadQuestion, match=said):
        ask(store, path, **options)


def test_times_at_the_ends_of_the_calendar_are_answered(store: Store, logged: Recorded) -> None:
    first, last = "0001-01-01T00:00:00Z", "9999-12-31T23:59:59.999999Z"
    for text, count in (
        (f"phenomenonTime gt {first}", logged.size), (f"phenomenonTime lt {first}", 0),
        (f"phenomenonTime lt {last}", logged.size), (f"phenomenonTime gt {last}", 0),
    ):  # fmt: skip
        assert ask(store, LOGGER, filter=text, count="true", top="1")["@iot.count"] == count


def test_a_filter_that_has_to_look_at_too_much_asks_for_a_time(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sensorthings_query, "MOST_ROWS", 1000)
    looked_at = "parameters/u_m gt 0.006"
    with pytest.raises(BadQuestion, match="phenomenonTime ge"):
        ask(store, LOGGER, filter=looked_at)
    one = f"Observations($filter={looked_at})"
    with pytest.raises(BadQuestion, match="1,000 values"):  # five hundred days, twice
        ask(store, DAYS.removesuffix("/Observations"), expand=f"{one},Sensor($expand=Datastreams($expand={one}))")
    assert ask(store, LOGGER, filter="result gt 5.2", top="1")["value"]
    assert ask(store, LOGGER, filter=f"phenomenonTime ge 2025-08-20 and {looked_at}", count="true")["@iot.count"] > 0


@pytest.mark.parametrize(
    ("options", "least", "most"),
    [
        ({"top": "10"}, 10, 10),
        ({"top": "10", "orderby": "phenomenonTime desc"}, 10, 1000),
        ({"top": "10", "filter": "parameters/u_m gt 0.006"}, 13_000, 20_000),
    ],
)
def test_a_question_costs_what_it_makes_us_look_at(
    store: Store, options: dict[str, str], least: int, most: int
) -> None:
    asked = Answer("http://fen")
    asked.of(find(store, WELL), read_options({f"${name}": value for name, value in options.items()}), "http://fen")
    assert least <= asked.looked <= most


def test_the_numbers_are_those_of_the_export_and_of_the_csv_digit_for_digit(
    fen: OpenNetwork, store: Store, delivery: Delivery, logged: Recorded, tmp_path: Path
) -> None:
    exported(corrected(fen, "MF-11", "level"), tmp_path / "level.parquet")
    export = pl.read_parquet(tmp_path / "level.parquet")
    parts = [ask(store, LOGGER, top="10000", skip=str(skip), resultFormat="dataArray") for skip in (0, 10_000)]
    found = [row for page in parts for row in page["value"][0]["dataArray"]]
    assert len(found) == logged.size == export.height
    assert [row[3] for row in found] == export["depth_m"].fill_nan(None).to_list()
    assert [row[5]["u_m"] for row in found] == export["u_depth_m"].fill_nan(None).to_list()
    text = dict(written_as(Tables(delivery._replace(wells=(store.wells["MF-11"],))), "csv"))
    for name, rows_of in (("logger_rows.csv", found), ("daily_means.csv", None)):
        told = list(csv.DictReader(io.StringIO(text[name].decode())))
        if rows_of is None:
            rows_of = ask(store, DAYS, top="10000", resultFormat="dataArray")["value"][0]["dataArray"]
        assert [(row[1], "" if row[3] is None else repr(row[3])) for row in rows_of] == [
            (row["time"], row["depth_below_land_surface_m"]) for row in told
        ]


def test_an_earlier_day_knows_no_logger_that_was_read_out_later(fen: OpenNetwork, logged: Recorded) -> None:
    then = Store(gather(network_of(fen.record, as_of="2025-06-01T00:00:00.000000Z")))
    assert all(series.kind == "reading" for _, series in then.streams.values())
    after = Store(gather(network_of(fen.record, as_of="2026-01-01T00:00:00.000000Z")))
    assert after.streams["MF-11 depth_to_water_below_land_surface logger level"][1] == logged


def test_strangers_see_a_logger_only_where_readings_are_published(delivery: Delivery, logged: Recorded) -> None:
    wells = Store(for_strangers(delivery, Settings("ft", {"publish": "wells"})))
    assert ask(wells, "Datastreams")["value"] == []
    assert ask(wells, "Observations", count="true")["@iot.count"] == 0
    with pytest.raises(NothingThere):
        find(wells, f"Observations('MF-11 depth_to_water_below_land_surface logger level {logged.first}')")
    readings = Store(for_strangers(delivery, Settings("ft", {"publish": "wells and readings"})))
    assert ask(readings, LOGGER, count="true", top="1")["@iot.count"] == logged.size
