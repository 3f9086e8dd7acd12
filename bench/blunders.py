"""Blunders put into real readings at random: are they found, and is the right one named first?

Real wells of an open network (one half of them, by a hash of their number, never looked at while defaults were chosen).
A later reading of a well is written as a technician would have written it, from a measuring point assigned to the well,
two repeats or one, with a reading error; then one blunder is made in it. What is known is only what lay before that
day. Soundings and loggers have no history in the data: their expectation is constructed, and the rows say so.

`python -m bench.blunders [SCALE] [choose]`: "choose" scores the half that defaults were chosen on.
"""

from __future__ import annotations

import csv
import hashlib
import json
import math
import os
import random
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from scipy.stats import binomtest
from tabulate import tabulate

from tapedown.analysis.expected_level import expected_level
from tapedown.engine.context import Calibrated, ReadingContext
from tapedown.engine.expected.next_reading import level_on
from tapedown.engine.explaining.case import Around, OtherWell, case_of
from tapedown.engine.explaining.weigh import Explained, explain
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedLevel
from tapedown.values.gear import Calibration
from tapedown.values.kinds import KINDS
from tapedown.values.reading_forms import METHODS
from tapedown.values.seen import Seen
from tapedown.values.settings import Settings
from tapedown.values.wells import PointHeight

SEED = 1709
DEFAULTS = Settings()
DATA = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[2] / "shared")) / "data" / "idaho-network"
FOOT_M = 0.3048
QUIET_FT = 0.3
"""A quiet well: the standard deviation it is expected to show lies below this."""
PER_WELL, FEWEST, NEAREST = 14, 10, 3
MORE_UNTOUCHED = 4
"""Untouched readings scored for each one that a blunder is put into: false alarms are rare, and need many."""
READING_ERROR_FT = 0.005
RESULTS = Path(__file__).with_name("blunders.json")
MISREAD_ALIKE = 0.1
"""Share of misreads that are made in both repeats."""
TAPE_B = 0.0012
"""Share by which the other electric tape shows too much."""


class RealWell(NamedTuple):
    """A well of the network: static readings by day, oldest first."""

    code: str
    easting_m: float
    northing_m: float
    days: tuple[int, ...]
    depths_ft: tuple[float, ...]
    depth_ft: float | None


class Target(NamedTuple):
    """A reading to be written: the well, the day, what was known before."""

    well: RealWell
    day: str
    true_ft: float
    expected: Predictive
    others: tuple[tuple[RealWell, Predictive, float], ...]
    height_ft: float
    older_ft: float


class Written(NamedTuple):
    """What is handed to the tool. small_ft: how far the blunder moves a reading, ft."""

    method: str
    read: dict[str, Any]
    context: ReadingContext
    expected: Predictive
    around: Around
    size_ft: float


class Score(NamedTuple):
    """One case: whether found, whether named first or in the first three."""

    kind: str
    repeats: int
    quiet: bool
    size_ft: float
    found: bool
    first: bool
    in_three: bool
    right_value: bool


def half_of(code: str) -> str:
    """ "choose" or "score": which half a well belongs to."""
    return ("choose", "score")[hashlib.sha256(code.encode()).digest()[0] % 2]


@lru_cache(maxsize=1)
def wells() -> dict[str, RealWell]:
    """Every well of the network with its static readings."""
    with (DATA / "sites.csv").open(encoding="utf-8") as file:
        sites = {row["site_no"]: row for row in csv.DictReader(file)}
    found: dict[str, list[tuple[int, float]]] = defaultdict(list)
    with (DATA / "levels.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["status"] == "static" and row["depth_to_water_ft"]:
                day = day_number(row["measured_utc"])
                found[row["site_no"]].append((day, float(row["depth_to_water_ft"])))
    return {code: _well(sites[code], sorted(rows)) for code, rows in found.items() if code in sites}


def _well(site: dict[str, str], rows: list[tuple[int, float]]) -> RealWell:
    depth = float(site["well_depth_ft"]) if site["well_depth_ft"] else None
    days, depths = zip(*rows)
    return RealWell(site["site_no"], float(site["easting_m"] or 0), float(site["northing_m"] or 0), days, depths, depth)


@cache
def known_before(code: str, day: int) -> ExpectedLevel | None:
    """What the readings before a day foretell of a well."""
    well = wells()[code]
    before = [i for i, on in enumerate(well.days) if on < day]
    if not before:
        return None
    days, depths_m = [well.days[i] for i in before], [well.depths_ft[i] * FOOT_M for i in before]
    return expected_level(days, depths_m, u_m=0.01 * FOOT_M).expected


def targets(half: str, per_well: int, chance: random.Random) -> Iterator[Target]:
    """Later readings of the wells of a half, with what was known before each."""
    for code, well in sorted(wells().items()):
        first = max(FEWEST, len(well.days) // 2)
        if half_of(code) != half or len(well.days) <= first:
            continue
        height = round(chance.uniform(0.8, 3.2), 2) * chance.choice((1, 1, 1, 1, -1))
        older = round(height + chance.choice((-1, 1)) * chance.uniform(0.3, 1.6), 2)
        places = range(first, len(well.days))
        for place in sorted(chance.sample(places, min(per_well, len(places)))):
            level = known_before(code, well.days[place])
            if level is not None:
                day = date_text(well.days[place])
                yield Target(well, day, well.depths_ft[place], level_on(level, day),
                             _nearby(well, well.days[place]), height, older)  # fmt: skip


def _nearby(well: RealWell, day: int) -> tuple[tuple[RealWell, Predictive, float], ...]:
    """The nearest wells read before that day, with what was expected there (from before that year)."""
    new_year = day_number(f"{date_text(day)[:4]}-01-01")
    alive = [w for w in wells().values() if w.code != well.code and w.days[0] < new_year and len(w.days) >= FEWEST]
    alive.sort(key=lambda w: math.hypot(w.easting_m - well.easting_m, w.northing_m - well.northing_m))
    found = []
    for other in alive[:NEAREST]:
        level = known_before(other.code, new_year)
        if level is not None:
            height = random.Random(other.code).uniform(0.8, 3.2)  # noqa: S311 - chance of a benchmark
            found.append((other, level_on(level, date_text(day)), round(height, 2)))
    return tuple(found)


# Writing a reading down


def _point(height_ft: float, name: str = "MP-1") -> PointHeight:
    side = "above" if height_ft >= 0 else "below"
    value, _ = KINDS["measuring point"].read(
        {"name": name, "height": f"{abs(height_ft):.2f} ft", "side": side, "description": "notch"}, "ft"
    )
    assert isinstance(value, PointHeight)
    return value


def _tape(serial: str, too_much: float) -> dict[str, Calibrated]:
    marks = [{"shown": f"{m * (1 + too_much):.3f}", "true": f"{m}"} for m in (100, 500, 1500)]
    value, _ = KINDS["calibration"].read(
        {"serial": serial, "against": "steel", "marks": marks, "apply": "between marks"}, "ft"
    )
    assert isinstance(value, Calibration)
    return {serial: Calibrated("1950-01-01", value)}


TAPES = {**_tape("ET-A", 0.0), **_tape("ET-B", TAPE_B)}


def written(
    target: Target, repeats: int, chance: random.Random, *, method: str = "", below_ft: float | None = None
) -> Written:
    """The reading as it should be written: chalked or electric tape."""
    depth = target.true_ft + target.height_ft if below_ft is None else below_ft
    method = method or chance.choice(("chalked tape", "electric tape"))
    shown = [depth + chance.gauss(0, READING_ERROR_FT) for _ in range(repeats)]
    read: dict[str, Any] = {"readings": [f"{max(s, 0.01):.2f}" for s in shown], "tape": "ET-A"}
    if method == "chalked tape":
        holds = [math.ceil(s + chance.uniform(0.5, 4)) + i for i, s in enumerate(shown)]
        pairs = [{"hold": f"{h:.2f}", "cut": f"{h - s:.2f}"} for h, s in zip(holds, shown)]
        read = {"readings": pairs, "tape": "ST-A"}
    context = ReadingContext(Settings("ft"), target.day, _point(target.height_ft), calibrations=TAPES)
    others = tuple(OtherWell(w.code, p, h * FOOT_M) for w, p, h in target.others)
    points = (_point(target.older_ft, "MP-0"),)
    return Written(method, read, context, target.expected, Around(points, others), 0.0)


# The blunders, each a change of what was written; None where it cannot be made

Blunder = Callable[[Target, int, random.Random], Written | None]


def _slip(change: Callable[[str, random.Random], str | None]) -> Blunder:
    """A slip in one number of one repeat, now and then alike in every one."""

    def made(target: Target, repeats: int, chance: random.Random) -> Written | None:
        right = written(target, repeats, chance)
        rows = list(right.read["readings"])
        field = chance.choice(("hold", "cut")) if isinstance(rows[0], dict) else ""
        alike = repeats == 1 or chance.random() < MISREAD_ALIKE
        seed, size = chance.random(), 0.0
        for place in range(repeats) if alike else [chance.randrange(repeats)]:
            number = rows[place][field] if field else rows[place]
            new = change(number, random.Random(seed))  # noqa: S311
            if new is None or float(new) < 0:
                return None
            size = max(size, abs(float(new) - float(number)))
            rows[place] = {**rows[place], field: new} if field else new
        return right._replace(read={**right.read, "readings": rows}, size_ft=size)

    return made


def _whole(number: str, chance: random.Random) -> str:
    return f"{float(number) + chance.choice((1, 5, 10)) * chance.choice((1, -1)):.2f}"


def _swap(number: str, chance: random.Random) -> str | None:
    places = [i for i, letter in enumerate(number) if letter.isdigit()]
    pairs = [(a, b) for a, b in pairwise(places) if number[a] != number[b]]
    if not pairs:
        return None
    a, b = chance.choice(pairs)
    return number[:a] + number[b] + number[a + 1 : b] + number[a] + number[b + 1 :]


def _misread(number: str, chance: random.Random) -> str | None:
    other = dict(zip("173869", "718396"))
    places = [i for i, letter in enumerate(number) if letter in other]
    if not places:
        return None
    place = chance.choice(places)
    return number[:place] + other[number[place]] + number[place + 1 :]


def _point_moved(number: str, chance: random.Random) -> str:
    return f"{float(number) * 10:.1f}" if chance.random() < 0.5 else f"{float(number) / 10:.3f}"


def _one_repeat(target: Target, repeats: int, chance: random.Random) -> Written | None:
    """One of two repeats off by any amount to 4 ft."""
    if repeats < 2:
        return None
    right = written(target, repeats, chance, method="electric tape")
    by = chance.choice((-1, 1)) * chance.uniform(0.1, 4.0)
    rows = list(right.read["readings"])
    place = chance.randrange(repeats)
    rows[place] = f"{float(rows[place]) + by:.2f}"
    return right._replace(read={**right.read, "readings": rows}, size_ft=abs(by)) if float(rows[place]) > 0 else None


def _other_unit(target: Target, repeats: int, chance: random.Random) -> Written | None:
    right = written(target, repeats, chance, method="electric tape")
    rows = [f"{float(r) * FOOT_M:.2f}" for r in right.read["readings"]]
    size = abs(float(rows[0]) - float(right.read["readings"][0]))
    return right._replace(read={**right.read, "readings": rows}, size_ft=size)


def _hold_cut(target: Target, repeats: int, chance: random.Random) -> Written | None:
    right = written(target, repeats, chance, method="chalked tape")
    rows = [{"hold": p["cut"], "cut": p["hold"]} for p in right.read["readings"]]
    return right._replace(read={**right.read, "readings": rows}, size_ft=2 * abs(target.true_ft + target.height_ft))


def _wrong_hold(target: Target, repeats: int, chance: random.Random) -> Written | None:
    if repeats < 2:
        return None
    right = written(target, repeats, chance, method="chalked tape")
    first, second = right.read["readings"]
    rows = [first, {**second, "hold": first["hold"]}]
    size = abs(float(first["hold"]) - float(second["hold"]))
    return right._replace(read={**right.read, "readings": rows}, size_ft=size)


def _sign(target: Target, repeats: int, chance: random.Random) -> Written:
    right = written(target, repeats, chance)
    context = right.context._replace(point=_point(-target.height_ft))
    return right._replace(context=context, size_ft=2 * abs(target.height_ft))


def _older(target: Target, repeats: int, chance: random.Random) -> Written:
    right = written(target, repeats, chance)
    context = right.context._replace(point=_point(target.older_ft, "MP-0"))
    around = right.around._replace(points=(_point(target.height_ft),))
    return right._replace(context=context, around=around, size_ft=abs(target.older_ft - target.height_ft))


def _changed(target: Target, repeats: int, chance: random.Random) -> Written:
    by = chance.choice((-1, 1)) * chance.uniform(0.3, 3.0)
    right = written(target, repeats, chance, below_ft=target.true_ft + target.height_ft + by)
    return right._replace(size_ft=abs(by))


def _wrong_well(target: Target, repeats: int, chance: random.Random) -> Written | None:
    usable = [(w, h) for w, _, h in target.others if any(abs(d - day_number(target.day)) < 200 for d in w.days)]
    if not usable:
        return None
    other, height = chance.choice(usable)
    nearest = min(range(len(other.days)), key=lambda i: abs(other.days[i] - day_number(target.day)))
    below = other.depths_ft[nearest] + height
    right = written(target, repeats, chance, below_ft=below)
    return right._replace(size_ft=abs(below - target.true_ft - target.height_ft))


def _other_tape(target: Target, repeats: int, chance: random.Random) -> Written:
    below = target.true_ft + target.height_ft
    right = written(target, repeats, chance, method="electric tape", below_ft=below * (1 + TAPE_B))
    return right._replace(size_ft=below * TAPE_B)


def _hung_up(target: Target, repeats: int, chance: random.Random) -> Written | None:
    by = chance.expovariate(1.0)
    if chance.random() < 0.5:
        by = -chance.uniform(0.02, 0.9) * max(target.true_ft, 0.0)
    method = "electric tape" if by < 0 else "chalked tape"
    right = written(target, repeats, chance, method=method, below_ft=target.true_ft + target.height_ft + by)
    return right._replace(size_ft=abs(by))


def _recovering(target: Target, repeats: int, chance: random.Random) -> Written | None:
    by = chance.expovariate(1 / 5.0)
    right = written(target, repeats, chance, method="electric tape", below_ft=target.true_ft + target.height_ft + by)
    rise = chance.uniform(0.03, 0.3)
    rows = [f"{float(r) - place * rise:.2f}" for place, r in enumerate(right.read["readings"])]
    context = right.context._replace(seen=Seen(pump="at rest", pump_since="lately"))
    return right._replace(read={**right.read, "readings": rows}, context=context, size_ft=by)


def _weights() -> dict[str, Any]:
    rows = (("W-03", "1.20 ft"), ("W-05", "1.36 ft"), ("W-07", "2.40 ft"))
    read = {
        serial: KINDS["gear"].read({"serial": serial, "type": "weight", "weight_interval": i}, "ft")
        for serial, i in rows
    }
    return {serial: value for serial, (value, _) in read.items()}


WEIGHTS = _weights()
SOUNDING_FT = 0.03


def _sounding(used: str, true: str) -> Blunder:
    """A sounding with the interval `used` where `true` hung there; the bottom foretold to 0.03 ft: constructed."""

    def made(target: Target, repeats: int, chance: random.Random) -> Written | None:
        bottom = target.well.depth_ft
        if bottom is None or bottom < 10:
            return None
        tape = bottom + target.height_ft - float(true)
        right = written(target, repeats, chance, method="electric tape", below_ft=tape)
        read = {**right.read, "tape": "ST-A", **({"weight_interval": used} if used else {})}
        middle = (bottom + chance.gauss(0, SOUNDING_FT)) * FOOT_M
        size = abs(float(used or 0) - float(true))
        context = right.context._replace(gear=WEIGHTS)
        return Written("weighted tape", read, context, Predictive(middle, SOUNDING_FT * FOOT_M, 6.0), Around(), size)

    return made


def _logger(target: Target, _repeats: int, chance: random.Random) -> Written:
    """A vented logger off by up to 3 ft, with a tape beside it."""
    below, off = target.true_ft + target.height_ft, chance.choice((-1, 1)) * chance.uniform(0.3, 3.0)
    hanging = math.ceil(below) + 20.0
    head = hanging - below + off
    read = {"readings": [f"{head / 2.3067:.4f} psi"], "type": "vented", "hanging_depth": f"{hanging:.2f}",
            "taped_depth": f"{below:.2f}", "water_temp": "54 degF"}  # fmt: skip
    return written(target, 1, chance)._replace(method="logger check", read=read, size_ft=abs(off))


BLUNDERS: dict[str, Blunder] = {
    "whole mark misread": _slip(_whole),
    "digits swapped": _slip(_swap),
    "digit misread": _slip(_misread),
    "decimal point moved": _slip(_point_moved),
    "one repeat misread": _one_repeat,
    "feet for metres": _other_unit,
    "hold and cut swapped": _hold_cut,
    "hold of another repeat": _wrong_hold,
    "sign of the measuring point": _sign,
    "older height of the measuring point": _older,
    "measuring point changed unnoticed": _changed,
    "wrong well": _wrong_well,
    "another tape's calibration": _other_tape,
    "tape hung up or resting on something": _hung_up,
    "water still recovering": _recovering,
    "weight interval left out": _sounding("", "1.20"),
    "weight interval counted twice": _sounding("1.20", "0.00"),
    "interval of another weight": _sounding("1.20", "2.40"),
    "logger offset": _logger,
}
CONSTRUCTED = {"weight interval left out", "weight interval counted twice", "interval of another weight"}
UNTOUCHED, EVERY = "untouched", "every blunder but the constructed soundings"


def answered(given: Written, settings: Settings) -> Explained | None:
    """What the tool says of what was written."""
    read, problems = METHODS[given.method].read(given.read, "ft")
    if read is None:
        raise ValueError(f"{given.read}: {problems}")
    case = case_of(given.method, read, given.context._replace(settings=settings), given.expected, given.around)
    return explain(case) if case is not None else None


def scores(
    half: str, per_well: int = PER_WELL, settings: Settings = DEFAULTS, kinds: tuple[str, ...] = ()
) -> list[Score]:
    """Every blunder made once in every target reading, and every reading untouched."""
    chance = random.Random(SEED)  # noqa: S311 - chance of a benchmark
    found = []
    for target in list(_targets(half, per_well)):
        quiet = target.expected.half_width_m(0.6827) < QUIET_FT * FOOT_M
        for repeats in (1, 2):
            for kind, blunder in {UNTOUCHED: written, **BLUNDERS}.items():
                given = blunder(target, repeats, chance)
                told = answered(given, settings) if given is not None and (not kinds or kind in kinds) else None
                if given is None or told is None:
                    continue
                names = [row.name for row in told.first()]
                quiet_here = quiet or kind in CONSTRUCTED
                found.append(Score(kind, repeats, quiet_here, given.size_ft, told.surprising,
                                   told.surprising and names[0] == kind, told.surprising and kind in names,
                                   _right_value(told, given, target)))  # fmt: skip
    return found


def _right_value(told: Explained, given: Written, target: Target) -> bool:
    """Whether the first explanation of a surprise leads back to what was read, give or take 0.1 ft."""
    true_ft = target.true_ft if given.method != "weighted tape" else target.well.depth_ft or 0.0
    corrected = told.ranked[0].corrected_m
    return told.surprising and corrected is not None and abs(corrected - true_ft * FOOT_M) <= 0.1 * FOOT_M


@lru_cache(maxsize=4)
def _targets(half: str, per_well: int) -> tuple[Target, ...]:
    return tuple(targets(half, per_well, random.Random(SEED)))  # noqa: S311


def share(hits: int, n: int) -> dict[str, Any]:
    """A share with its 95 % interval (Wilson)."""
    if not n:
        return {"share": None, "low": None, "high": None, "n": 0}
    low, high = binomtest(hits, n).proportion_ci(0.95, method="wilson")
    return {"share": hits / n, "low": float(low), "high": float(high), "n": n}


def table(found: list[Score], *, repeats: int, quiet: bool | None, least_ft: float) -> list[dict[str, Any]]:
    """Per kind: found, right first, right in the first three."""
    kept = [s for s in found if s.repeats == repeats and (quiet is None or s.quiet is quiet)]
    rows = []
    for kind in (UNTOUCHED, *BLUNDERS):
        own = [s for s in kept if s.kind == kind and (kind == UNTOUCHED or s.size_ft >= least_ft)]
        if own:
            rows.append(_row(kind, own))
    every = [s for s in kept if s.kind not in {UNTOUCHED, *CONSTRUCTED} and s.size_ft >= least_ft]
    return [*rows, _row(EVERY, every)]


def _row(kind: str, own: list[Score]) -> dict[str, Any]:
    n = len(own)
    hits = {"found": sum(s.found for s in own), "first": sum(s.first for s in own),
            "in_three": sum(s.in_three for s in own), "value": sum(s.right_value for s in own)}  # fmt: skip
    return {"kind": kind, **{name: share(count, n) for name, count in hits.items()}}


TABLES = (
    ("at least 1 ft, quiet wells, two repeats", {"repeats": 2, "quiet": True, "least_ft": 1.0}),
    ("at least 1 ft, quiet wells, one reading", {"repeats": 1, "quiet": True, "least_ft": 1.0}),
    ("any size, all wells, two repeats", {"repeats": 2, "quiet": None, "least_ft": 0.0}),
    ("any size, all wells, one reading", {"repeats": 1, "quiet": None, "least_ft": 0.0}),
)


def results(half: str, per_well: int) -> dict[str, list[dict[str, Any]]]:
    """The tables of a half."""
    found = [one for one in scores(half, per_well) if one.kind != UNTOUCHED]
    found += scores(half, per_well * MORE_UNTOUCHED, kinds=(UNTOUCHED,))
    return {name: table(found, **chosen) for name, chosen in TABLES}


def shown(rows: list[dict[str, Any]]) -> str:
    """A table as Markdown."""

    def cell(one: dict[str, Any]) -> str:
        return f"{100 * one['share']:.1f} ({100 * one['low']:.1f} to {100 * one['high']:.1f})" if one["n"] else ""

    lines = [
        [r["kind"], r["found"]["n"], cell(r["found"]), "" if r["kind"] == UNTOUCHED else cell(r["first"]),
         "" if r["kind"] == UNTOUCHED else cell(r["in_three"]), "" if r["kind"] == UNTOUCHED else cell(r["value"])]
        for r in rows
    ]  # fmt: skip
    return tabulate(
        lines,
        ["blunder", "n", "found, %", "right first, %", "right in three, %", "value right to 0.1 ft, %"],
        tablefmt="github",
    )


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """The summary rows of the held-out half: shares in the place of ratios."""
    if not DATA.exists():
        return []
    found = results("score", max(1, round(PER_WELL * scale)))
    if scale == 1.0:
        RESULTS.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    rows = []
    for name in list(found)[:2]:
        by_kind = {row["kind"]: row for row in found[name]}
        for kind, what, aim in ((UNTOUCHED, "found", "<= 0.01"), (EVERY, "found", ">= 0.98"),
                                (EVERY, "first", ">= 0.85"), (EVERY, "in_three", "")):  # fmt: skip
            one = by_kind[kind][what]
            label = (
                "false alarms"
                if kind == UNTOUCHED
                else {"found": "found", "first": "right first"}.get(what, "right in three")
            )
            rows.append({"name": f"blunders {name}: {label} (share)", "ours_s": None, "peer": "", "peer_s": None,
                         "ratio": one["share"], "aim": aim, "n": one["n"]})  # fmt: skip
    return rows


if __name__ == "__main__":
    arguments = sys.argv[1:]
    which = "choose" if "choose" in arguments else "score"
    scales = [float(a) for a in arguments if a != "choose"]
    tables = results(which, max(1, round(PER_WELL * (scales or [1.0])[0])))
    if which == "score" and (scales or [1.0])[0] == 1.0:
        RESULTS.write_text(json.dumps(tables, indent=1) + "\n", encoding="utf-8")
    for title, rows_of in tables.items():
        print(f"\n**{title[0].upper()}{title[1:]}**\n\n{shown(rows_of)}")
