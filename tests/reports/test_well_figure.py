"""The figure of a well: one honest depth axis, told apart what is different, small whatever it shows."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.reports.well_figure import NARROW, WIDE, SheetMeasures, well_figure
from tapedown.reports.well_history import cut_down
from tapedown.reports.well_picture import (
    BOTTOM,
    DEEPER,
    DISTURBED,
    PUMPING,
    STATIC,
    Band,
    LoggerTrace,
    PointMark,
    ReadingMark,
    Tube,
    WellPicture,
)

SVG = "{http://www.w3.org/2000/svg}"
DAY = 738_000.0
HOLE = WellPicture(
    "MF-02 Alder Carr",
    "m",
    (Tube("casing", 0.0, 20.0, 0.1), Tube("screen", 20.0, 24.0, 0.1, "screen 20 to 24 m")),
    25.0,
    points=(PointMark(DAY - 3000, 0.6, "MP-1"),),
)


def marks(*depths_m: float, kind: str = STATIC, **more: object) -> tuple[ReadingMark, ...]:
    return tuple(ReadingMark(DAY + 90 * i, depth_m, 0.01, kind, **more) for i, depth_m in enumerate(depths_m))  # type: ignore[arg-type]


def drawn(picture: WellPicture, sheet: SheetMeasures = WIDE) -> ElementTree.Element:
    return ElementTree.fromstring(well_figure(picture, sheet))  # noqa: S314 - made by us


def texts(root: ElementTree.Element) -> list[str]:
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def ticks(root: ElementTree.Element) -> dict[float, float]:
    """Depth -> y of the main axis: labels that end at the left of the history."""
    found: dict[float, float] = {}
    for element in root.iter(f"{SVG}text"):
        if element.get("text-anchor") == "end" and re.fullmatch(r"-?\d+(\.\d+)?", element.text or ""):
            found.setdefault(float(element.text or ""), float(element.get("y", "")))
    return found


@pytest.mark.parametrize("sheet", [WIDE, NARROW])
def test_section_and_history_share_one_axis(sheet: SheetMeasures) -> None:
    """A bottom felt at 24 m stands at the height of the foot of a screen that ends at 24 m."""
    root = drawn(HOLE._replace(marks=(*marks(3.0, 12.0), *marks(24.0, kind=BOTTOM))), sheet)
    walls = [float(e.get("y2", "")) for e in root.iter(f"{SVG}line") if e.get("stroke-dasharray") == "3 3"]
    squares = [float(e.get("y", "")) + float(e.get("height", "")) / 2
               for e in root.iter(f"{SVG}rect") if e.get("class") == "f-earth"]  # fmt: skip
    assert walls
    assert squares
    assert squares[0] == pytest.approx(walls[0], abs=0.3)


def test_the_axis_is_linear_and_positive_down() -> None:
    found = sorted(ticks(drawn(HOLE._replace(marks=marks(3.0, 12.0)))).items())
    steps = [(y2 - y1) / (d2 - d1) for (d1, y1), (d2, y2) in zip(found, found[1:])]  # noqa: RUF007
    assert len(found) >= 5
    assert all(step == pytest.approx(steps[0], abs=0.1) for step in steps)
    assert steps[0] > 0


def test_a_deep_well_with_shallow_water_gets_an_enlarged_panel_and_keeps_its_axis() -> None:
    deep = WellPicture("MF-03", "ft", (Tube("screen", 219.0, 236.0),), 238.2, marks=marks(64.0, 65.2, 64.3))
    said = texts(drawn(deep))
    assert any(re.fullmatch(r"A: the water, drawn \d+ times larger", line) for line in said)
    assert "0" in said
    assert "700" in said
    assert not any("larger" in line for line in texts(drawn(HOLE._replace(marks=marks(3.0, 23.0)))))


def test_kinds_of_readings_differ_in_shape_and_are_explained() -> None:
    kinds = (STATIC, DISTURBED, PUMPING, DEEPER, BOTTOM)
    root = drawn(HOLE._replace(marks=tuple(m for kind in kinds for m in marks(9.0, kind=kind))))
    said = texts(root)
    for words in ("water level", "not static", "pumping", "dry: deeper than", "bottom felt"):
        assert words in said
    shapes = {
        re.sub(r"-?\d+(\.\d+)?", "n", e.get("d", "")) for e in root.iter(f"{SVG}path") if e.get("stroke-width") == "1.5"
    }
    assert len(shapes) == 3


def test_a_dry_well_shows_no_water_and_says_how_far_the_tape_went() -> None:
    dry = ReadingMark(DAY + 400, 24.8, 0.01, DEEPER)
    said = texts(drawn(HOLE._replace(marks=(*marks(20.0), dry))))
    assert "dry to 24.80 m" in said
    assert not any(line.startswith("water 2") for line in said)


def test_a_flowing_well_stands_above_land_surface() -> None:
    root = drawn(HOLE._replace(marks=marks(-1.2, -1.0)))
    circles = [float(e.get("cy", "")) for e in root.iter(f"{SVG}circle")]
    assert circles[0] < ticks(root)[0.0] - 5
    assert "water 1.00 m above" in texts(root)


def test_findings_are_ringed_and_struck_readings_crossed_out() -> None:
    plain = well_figure(HOLE._replace(marks=marks(3.0, 4.0)))
    assert "f-look" not in plain
    assert "f-struck" not in plain
    assert "f-look" in well_figure(HOLE._replace(marks=marks(3.0, weight="look")))
    assert "f-struck" in well_figure(HOLE._replace(marks=marks(3.0, struck=True)))


def test_a_value_that_must_not_be_used_does_not_stretch_the_axis() -> None:
    wild = ReadingMark(DAY, -300.0, 0.01, STATIC, weight="stop", words="hold and cut swapped")
    root = drawn(HOLE._replace(marks=(*marks(3.0, 12.0), wild)))
    assert min(ticks(root)) >= -5
    assert "hold and cut swapped" in [e.text for e in root.iter(f"{SVG}title")]


def test_a_new_measuring_point_is_a_dated_tick() -> None:
    cut = (PointMark(DAY - 3000, 0.6, "MP-1"), PointMark(DAY + 100, 0.4, "MP-2"))
    said = texts(drawn(HOLE._replace(points=cut, marks=marks(3.0, 12.0, 5.0))))
    assert "MP-2 from here" in said
    assert "MP-1 from here" not in said
    assert "MP-2 0.40 m above" in said


def test_numbers_are_labelled_to_their_reporting_step() -> None:
    said = texts(drawn(HOLE._replace(marks=marks(12.3456, step=0.1))))
    assert "water 12.3 m" in said


def test_readings_lead_to_their_values_and_names_cannot_act() -> None:
    hostile = '"><script>alert(1)</script>'
    text = well_figure(HOLE._replace(name=hostile, marks=marks(3.0, words=hostile, link="/wells/MF-02/values/x")))
    assert "<script" not in text
    root = ElementTree.fromstring(text)  # noqa: S314 - made by us
    assert [e.get("href") for e in root.iter(f"{SVG}a")] == ["/wells/MF-02/values/x"]


@pytest.mark.parametrize("picture", [WellPicture("x", "ft"), WellPicture("x", "m", marks=marks(3.0)), HOLE])
def test_a_well_of_which_little_is_known_is_drawn_all_the_same(picture: WellPicture) -> None:
    for sheet in (WIDE, NARROW):
        assert drawn(picture, sheet).tag == f"{SVG}svg"


def test_a_long_logger_record_stays_small_keeps_its_peak_and_its_gap() -> None:
    n = 700_000
    days = DAY + np.linspace(0, 7000, n)
    days[n // 2 :] += 200
    depth_m = 6 + np.sin(days / 58)
    depth_m[123_456] = 9.5
    picture = HOLE._replace(series=(LoggerTrace("logger", days, depth_m),))
    text = well_figure(picture) + well_figure(picture, NARROW)
    assert len(text) < 300_000
    line = max(re.findall(r' d="(M[^"]*)"', well_figure(picture)), key=len)
    lowest = max(float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", line))
    scale = ticks(drawn(picture))
    per_m = (scale[20.0] - scale[0.0]) / 20
    assert lowest == pytest.approx(scale[0.0] - 13 * 0.35 + 9.5 * per_m, abs=0.3)
    assert line.count("M") == 2


def test_thousands_of_readings_are_drawn_as_dots() -> None:
    many = tuple(ReadingMark(DAY + i, 6 + np.sin(i / 9), 0.01, STATIC, words="x" * 50) for i in range(9000))
    assert len(well_figure(HOLE._replace(marks=many))) < 120_000


@given(st.lists(st.floats(0, 100), min_size=1, max_size=400), st.integers(4, 60))
def test_cutting_down_keeps_the_ends_of_the_range(depths: list[float], most: int) -> None:
    kept = cut_down(range(len(depths)), depths, most)
    assert len(kept) <= max(most, 4)
    assert max(depths[i] for i in kept) == max(depths)
    assert min(depths[i] for i in kept) == min(depths)


def test_the_expected_range_is_washed_to_the_right_of_the_last_reading() -> None:
    band = Band((DAY + 400, DAY + 500, DAY + 600), (6.0, 5.5, 5.0), (6.2, 6.8, 7.4))
    read = HOLE._replace(marks=marks(6.0, 6.1, 6.0, 6.2))
    root = drawn(read._replace(expected=band))
    washes = [e for e in root.iter(f"{SVG}path") if e.get("class") == "f-wash"]
    assert len(washes) == 1 + sum("drawn" in text for text in texts(root)) - sum("bottom" in t for t in texts(root))
    assert "expected: 19 readings in 20" in texts(root)
    xs = [float(x) for x in re.findall(r"[ML](\d+(?:\.\d+)?) ", washes[0].get("d", ""))]
    dots = [float(e.get("cx", "")) for e in root.iter(f"{SVG}circle") if e.get("class") == "f-water"]
    assert min(xs) > max(dots[:4])
    assert "expected: 19 readings in 20" not in texts(drawn(read))
