"""Series of a network: taken in, treated by entries, worked out anew, as of any date, from bytes that never change."""

from __future__ import annotations

import io
import shutil
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import NormalDist

import numpy as np
import polars as pl
import pytest
from sqlalchemy import event

from tapedown.exchange.loggers.profiles import read_profile
from tapedown.record import blob, entries
from tapedown.values.series.series import LoggerFile
from tapedown.values.times import written_form
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact, read_visit, strike, write_visit
from tapedown.work.exports.gathering import Gatherer, gather
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NoSuchSeries, NoSuchWell, SeriesInACircle, WrittenWrong
from tapedown.work.series.corrected import (
    Corrected,
    corrected,
    daily,
    exported,
    story_of,
)
from tapedown.work.series.files import FileTaken, NoRowRead, account_lines, take_logger_file
from tapedown.work.series.learning import best_barometer, clocks, learn
from tapedown.work.series.view import HALF, point_at
from tapedown.work.wells.files import series_of, well_file

START = datetime(2026, 1, 10, tzinfo=UTC)
HOURS = 24 * 60
FOOT_M = 0.3048
TEXT = """delimiter = "comma"
header_row = 1
[clock]
date = "when"
formats = ["%Y-%m-%d %H:%M"]
zone = "UTC"
[[columns]]
name = "kPa"
holds = "{holds}"
unit = "kPa"
"""


def level_m() -> np.ndarray:
    """Depth below land surface, m."""
    hours = np.arange(HOURS)
    return np.asarray(6 + 0.4 * np.sin(hours / 200))


def air_kpa() -> np.ndarray:
    return np.asarray(101 + np.sin(np.arange(HOURS) / 40))


def file_of(values: np.ndarray, start: datetime = START) -> bytes:
    out = io.StringIO("when,kPa\n")
    out.seek(0, io.SEEK_END)
    for hour, value in enumerate(values):
        out.write(f"{start + timedelta(hours=hour):%Y-%m-%d %H:%M},{value:.4f}\n")
    return out.getvalue().encode()


def pressure() -> np.ndarray:
    """What a logger 10 m down shows that drifts by 3 cm over the sixty days."""
    drift = 0.03 * np.arange(HOURS) / (HOURS - 1)
    return np.asarray(air_kpa() + (10 - level_m() - drift) * 999.5 * 9.80665 / 1000)


def take(network: OpenNetwork, author: Author, series: str, data: bytes, holds: str) -> FileTaken:
    given = LoggerFile(series, f"{series}.csv", "", "LG-031", read_profile(TEXT.format(holds=holds).encode()), "")
    return take_logger_file(network, "MF-07", given, data, author)


def dip(network: OpenNetwork, author: Author, hour: int) -> None:
    """Read the tape at a row of the series."""
    reading = f"{level_m()[hour] / FOOT_M + 3.40:.3f}"
    when = (START + timedelta(hours=hour)).isoformat()
    sets = [{"method": "electric tape", "readings": [reading, reading]}]
    write_visit(network, read_visit(network, {"well": "MF-07", "when": when, "readings": sets}), author)


def treatment(network: OpenNetwork, author: Author, **given: object) -> str:
    return enter_fact(network, "treatment", "MF-07", {"series": "level", "why": "a test"} | given, author).entry.id


@pytest.fixture
def logged(network: OpenNetwork, author: Author) -> OpenNetwork:
    """A well with a logger, a barometer and three tape readings; nothing treated yet."""
    take(network, author, "level", file_of(pressure()), "absolute pressure")
    take(network, author, "air", file_of(air_kpa()), "air pressure")
    for hour in (0, HOURS // 2, HOURS - 1):
        dip(network, author, hour)
    return network


@pytest.fixture
def treated(logged: OpenNetwork, author: Author) -> OpenNetwork:
    treatment(logged, author, barometer={"series": "MF-07/air"})
    treatment(logged, author, onto_the_tape={"share": "in time"})
    return logged


def depths(series: Corrected) -> np.ndarray:
    return series.rows.collect()["depth_m"].to_numpy()


def test_a_file_is_kept_as_it_came_and_every_line_is_told(network: OpenNetwork, author: Author) -> None:
    data = file_of(pressure()) + b"\nend,of file\n"
    taken = take(network, author, "level", data, "absolute pressure")
    assert taken.entry is not None
    assert blob(network.record, taken.entry.data["sha256"]).bytes == data
    told = account_lines(taken.account)
    assert told[0].startswith(f"{HOURS + 3} lines: 1 above the table, {HOURS} rows taken in, from 2026-01-10T00:00")
    assert any("not a time: end" in line for line in told)


def test_the_same_file_is_taken_in_once(network: OpenNetwork, author: Author) -> None:
    take(network, author, "level", file_of(pressure()), "absolute pressure")
    again = take(network, author, "level", file_of(pressure()), "absolute pressure")
    assert again.there_already
    assert len(entries(network.record, kinds=["logger file"])) == 1


def test_a_file_that_gives_no_row_is_refused_and_nothing_is_written(network: OpenNetwork, author: Author) -> None:
    with pytest.raises(NoRowRead, match="not a time"):
        take(network, author, "level", b"when,kPa\nsoon,1\n", "absolute pressure")
    assert entries(network.record, kinds=["logger file"]) == []
    with pytest.raises(WrittenWrong, match="no name"):
        take(network, author, "a/b", file_of(pressure()), "absolute pressure")


def test_a_series_pulled_onto_the_tape_shows_the_level(treated: OpenNetwork) -> None:
    found = corrected(treated, "MF-07", "level")
    assert np.abs(depths(found) - level_m()).max() < 0.006  # the logger is read to 0.0001 kPa, the tape to 0.001 ft
    assert len(found.about["checks"]) == 3
    assert found.about["share"] == "in time"
    assert {check["entry"] for check in found.about["checks"]} == {row.entry.id for row in found.story.levels}


def test_without_a_barometer_the_series_is_stopped(logged: OpenNetwork) -> None:
    assert "absolute-without-barometer" in {f.check for f in corrected(logged, "MF-07", "level").findings}


def test_a_treatment_struck_gives_back_the_series_without_it(treated: OpenNetwork, author: Author) -> None:
    before = depths(corrected(treated, "MF-07", "level"))
    start, end = (START + timedelta(hours=h) for h in (100, 110))
    aside = treatment(
        treated, author, set_aside={"start": start.isoformat(), "end": end.isoformat(), "because": "in air"}
    )
    assert np.isnan(depths(corrected(treated, "MF-07", "level"))).sum() == 11
    strike(treated, aside, "it was not in the air", author)
    assert np.array_equal(depths(corrected(treated, "MF-07", "level")), before)
    story = story_of(treated, "MF-07", "level")
    assert [fact.entry.id for fact in story.struck] == [aside]


def test_as_of_an_earlier_time_the_series_is_what_it_was_then(treated: OpenNetwork, author: Author) -> None:
    then = written_form(author.clock())
    before = depths(corrected(treated, "MF-07", "level"))
    for hour in (200, 400):
        dip(treated, author, hour)
    assert not np.array_equal(depths(corrected(treated, "MF-07", "level")), before)
    assert np.array_equal(depths(corrected(treated._replace(as_of=then), "MF-07", "level")), before)


def test_deleting_the_cache_loses_nothing(treated: OpenNetwork, tmp_path: Path) -> None:
    before = corrected(treated, "MF-07", "level").rows.collect()
    kept = tmp_path / "fen" / "series"
    assert any(kept.rglob("*.parquet"))
    shutil.rmtree(kept)
    assert corrected(treated, "MF-07", "level").rows.collect().equals(before)


def test_only_the_newest_versions_of_a_series_stay_in_the_cache(
    treated: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    for hour in range(100, 800, 100):
        dip(treated, author, hour)
        corrected(treated, "MF-07", "level")
    assert len(list((tmp_path / "fen" / "series").rglob("about.json"))) == 4


def test_a_second_download_is_joined_and_its_overlap_told(logged: OpenNetwork, author: Author) -> None:
    more = file_of(pressure()[-100:], START + timedelta(hours=HOURS - 100))
    take(logged, author, "level", more, "absolute pressure")
    found = corrected(logged, "MF-07", "level")
    assert found.about["rows"] == HOURS
    assert {"logger-downloads-overlap", "logger-same-moment"} <= {f.check for f in found.findings}


def test_a_series_cannot_be_corrected_by_itself(logged: OpenNetwork, author: Author) -> None:
    treatment(logged, author, barometer={"series": "MF-07/level"})
    with pytest.raises(SeriesInACircle, match="MF-07/level -> MF-07/level"):
        corrected(logged, "MF-07", "level")


def test_what_is_not_there_is_told_with_what_is(logged: OpenNetwork) -> None:
    assert series_of(well_file(logged, "MF-07")) == ["air", "level"]
    with pytest.raises(NoSuchSeries) as refused:
        corrected(logged, "MF-07", "pressure")
    assert "MF-07/air, MF-07/level" in refused.value.hint
    with pytest.raises(NoSuchWell):
        corrected(logged, "MF-99", "level")


def test_a_treatment_says_one_thing(logged: OpenNetwork, author: Author) -> None:
    with pytest.raises(WrittenWrong, match="2 treatments are given"):
        treatment(logged, author, barometer={"series": "MF-07/air"}, onto_the_tape={"share": "in time"})
    with pytest.raises(WrittenWrong, match="0 treatments are given"):
        treatment(logged, author)


def test_daily_values_and_an_export_come_from_the_corrected_series(treated: OpenNetwork, tmp_path: Path) -> None:
    found = corrected(treated, "MF-07", "level")
    days = daily(found, treated)
    assert days.filter(pl.col("mean_depth_m").is_not_null()).height == 60  # New York: the first day is short
    assert exported(found, tmp_path / "out.csv") == HOURS
    lines = (tmp_path / "out.csv").read_text().splitlines()
    assert lines[0].startswith("time,depth_m,u_depth_m,quality")
    assert lines[1].startswith("2026-01-10T00:00:00Z,")
    assert exported(found, tmp_path / "out.parquet") == HOURS
    assert pl.read_parquet(tmp_path / "out.parquet").height == HOURS


def test_a_series_tells_the_barometric_efficiency_of_its_well(network: OpenNetwork, author: Author) -> None:
    """Constructed: four tenths of a rise of the air pressure push the level down; nothing else moves it."""
    in_it = air_kpa() + 40.0 - 0.4 * (air_kpa() - 101)
    take(network, author, "level", file_of(in_it), "absolute pressure")
    take(network, author, "air", file_of(air_kpa()), "air pressure")
    treatment(network, author, barometer={"series": "MF-07/air"})
    learnt = learn(network, corrected(network, "MF-07", "level"))
    assert [way.method.split()[0] for way in learnt.efficiencies] == ["Clark", "regression", "regression"]
    assert [way.efficiency for way in learnt.efficiencies] == pytest.approx([0.4] * 3, abs=0.01)
    assert [line.name for line in learnt.tides] == ["M2", "O1"]
    assert all(line.amplitude_m < 0.002 for line in learnt.tides)


def test_a_series_without_air_says_what_it_cannot_tell(logged: OpenNetwork) -> None:
    learnt = learn(logged, corrected(logged, "MF-07", "level"))
    assert learnt.efficiencies == ()
    assert len(learnt.untold) == 4


def test_the_barometer_to_take_is_named_with_its_reason(logged: OpenNetwork, author: Author) -> None:
    enter_fact(logged, "well", "MF-09", {}, author)
    far = LoggerFile("air", "far.csv", "", "", read_profile(TEXT.format(holds="air pressure").encode()), "")
    take_logger_file(logged, "MF-09", far, file_of(air_kpa()), author)
    choice, odd = best_barometer(logged, corrected(logged, "MF-07", "level"))
    assert choice is not None
    assert choice.name == "MF-07/air"
    assert {name for name, _ in choice.shares} == {"MF-07/air", "MF-09/air"}
    assert odd == ()


def test_a_barometer_is_a_series_of_its_own_with_its_own_account(network: OpenNetwork, author: Author) -> None:
    air = air_kpa()
    air[100] = 70.0
    take(network, author, "air", file_of(air), "air pressure")
    found = corrected(network, "MF-07", "air")
    assert found.about["rows"] == HOURS
    assert "barometer-odd" in {f.check for f in found.findings}
    assert found.rows.collect()["depth_m"].null_count() == HOURS
    point = point_at(found, START.timestamp(), "ft")
    assert point is not None
    assert point.steps[0][:2] == ("as logged", "101.0000 kPa")


def test_two_who_look_at_once_get_the_same_series(treated: OpenNetwork) -> None:
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: depths(corrected(treated, "MF-07", "level")), range(4)))
    assert all(np.array_equal(one, found[0]) for one in found)


def test_the_weightiest_finding_of_a_series_comes_first(logged: OpenNetwork, author: Author) -> None:
    take(logged, author, "level", file_of(pressure()[-100:], START + timedelta(hours=HOURS - 100)), "absolute pressure")
    weights = [found.weight for found in corrected(logged, "MF-07", "level").findings]
    assert weights[0] == "stop"
    assert weights == sorted(weights, key=["stop", "look", "note"].index)


def test_two_loggers_whose_clocks_differ_are_told_apart(network: OpenNetwork, author: Author) -> None:
    """Constructed: the second clock is two hours behind."""
    level = np.cumsum(np.random.default_rng(2).normal(0, 0.1, HOURS)) + 50
    take(network, author, "level", file_of(level), "pressure above air")
    take(network, author, "beside", file_of(level, START - timedelta(hours=2)), "pressure above air")
    first, second = (corrected(network, "MF-07", name) for name in ("level", "beside"))
    apart = clocks(first, second, most_s=4 * 3600)
    assert apart.add_s == pytest.approx(7200, abs=600)
    assert apart.correlation > 0.9


def test_a_delivery_asks_the_record_as_often_with_many_series_as_with_one(treated: OpenNetwork, author: Author) -> None:
    def questions() -> int:
        said: list[str] = []

        def note(_c: object, _cursor: object, statement: str, *_: object) -> None:
            said.append(statement)

        gather(treated)  # works the series out and keeps them
        event.listen(treated.record.engine, "before_cursor_execute", note)
        gather(treated)
        event.remove(treated.record.engine, "before_cursor_execute", note)
        return len(said)

    one = questions()
    for series in ("upper", "lower", "spare"):
        take(treated, author, series, file_of(pressure()), "absolute pressure")
        for given in ({"barometer": {"series": "MF-07/air"}}, {"onto_the_tape": {"share": "in time"}}):
            treatment(treated, author, **given, series=series)
    assert len(gather(treated).wells[0].series) == 8
    assert questions() == one < 12


def test_a_new_barometer_file_changes_what_the_services_hand_on(treated: OpenNetwork, author: Author) -> None:
    gatherer = Gatherer()
    before = gatherer.delivery(treated).wells[0].series[0]
    assert gatherer.delivery(treated).wells[0].series[0] is before
    stepped = before.source.opened().collect()["value_m"].to_list()
    dip(treated, author, HOURS // 4)
    after = gatherer.delivery(treated).wells[0].series[0]
    assert after != before
    assert after == gather(treated).wells[0].series[0]
    assert before.source.opened().collect()["value_m"].to_list() == stepped


def test_rows_handed_on_are_worked_out_again_when_the_cache_is_gone(treated: OpenNetwork) -> None:
    rows, days = gather(treated).wells[0].series
    kept = [one.source.opened().collect() for one in (rows, days)]
    shutil.rmtree(Path(treated.record.where).parent / "series")
    again = [one.source.opened().collect() for one in (rows, days)]
    assert all(a.equals(b) for a, b in zip(kept, again))


def test_what_is_drawn_around_a_level_is_about_19_in_20() -> None:
    assert 2 * NormalDist().cdf(HALF) - 1 == pytest.approx(0.95, abs=0.006)
