"""Random reading sets of every method with everything that can stand around them, right and wrong, from one seed."""

from __future__ import annotations

import random
from typing import Any

from tapedown.values.seen import AT_REST, HOLE, NEAR_BY, PUMP, WATER
from tapedown.values.settings import CHOICES

TAPE = {
    "serial": "ST-020", "type": "steel tape", "length": "1000 ft", "area": "0.006 in2",
    "mass_per_length": "2.04 lb/100 ft",
    "modulus": "29000000 psi", "expansion": "0.00000645 /degF", "density": "490 lb/ft3", "standard_temp": "68 degF",
    "standard_pull": "10 lbf",
}  # fmt: skip
JACKETED = {
    "serial": "ET-006", "type": "electric tape", "length": "500 ft", "mass": "0.4 lb",
    "mass_per_length": "1.2 lb/100 ft", "standard_temp": "68 degF", "standard_pull": "5 lbf",
    "layers": [{"material": "steel", "area": "0.8 mm2", "modulus": "200 GPa", "expansion": "0.0000116 /degC"},
               {"material": "jacket", "area": "9 mm2", "modulus": "0.8 GPa", "expansion": "0.00015 /degC"}],
}  # fmt: skip
WEIGHT = {"serial": "W-03", "type": "weight", "mass": "2 lb", "weight_interval": "1.20 ft"}
CALIBRATIONS = (
    {"on": "2020-01-10", "serial": "ST-020", "against": "certificate", "apply": "between marks",
     "marks": [{"shown": "100 ft", "true": "100.004 ft", "u": "0.003 ft"}, {"shown": "500 ft", "true": "500.02 ft"}]},
    {"on": "2024-02-04", "serial": "ET-006", "against": "ST-020", "apply": "straight line",
     "marks": [{"shown": "20.01 ft", "true": "20 ft"}, {"shown": "100.06 ft", "true": "100 ft"},
               {"shown": "240.15 ft", "true": "240 ft"}]},
    {"on": "2024-02-04", "serial": "ET-006", "against": "ST-020", "apply": "checked",
     "marks": [{"shown": "50.01 ft", "true": "50 ft"}, {"shown": "150.05 ft", "true": "150 ft"}]},
)  # fmt: skip


def told(middle_ft: float) -> dict[str, Any]:
    """What is expected of a well about a depth: numbers such as a pack carries, constructed."""
    spreads: list[float] = [
        1e-5,
        0.0,
        1e-5,
        0.0,
        0.0,
        1e-5,
        0.0,
        0.0,
        0.0,
        1e-6,
        0.0,
        0.0,
        0.0,
        0.0,
        1e-6,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        4e-5,
    ]
    level = {"on": "2025-05-14", "readings": 40, "dry": 0, "set_aside": 0, "centre_m": middle_ft * 0.3048,
             "middles_m": [0.0, 0.01, -0.02, 0.0, 0.0, 0.005], "spreads_m2": spreads, "still_m2": 2e-3,
             "forget_d": 400.0, "noise_m2": 2e-5, "dof": 4.5, "neighbours": []}  # fmt: skip
    bottom = {"on": "2024-05-14", "soundings": 5, "last_m": middle_ft * 0.3048, "about": 739000,
              "depth_m": middle_ft * 0.3048, "u_depth_m": 0.004, "rate_m_yr": 0.01, "u_rate_m_yr": 0.002,
              "u_sounding_m": 0.008, "dof": 6.0, "since": ""}  # fmt: skip
    return {"level": level, "bottom": bottom}


REPEATS: tuple[tuple[float, ...], ...] = ((0.0,), (0.0, 0.01), (0.0, 0.01, 1.0))


class Cases:
    """A stream of requests for `tapedown.engine.one_off.reading.reduce_once`."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)

    def request(self) -> dict[str, Any]:
        """One request; about one in twelve has a slip in it."""
        unit = self.chance.choice(["ft", "m"])
        method = self.chance.choice(sorted(METHODS))
        given = {"length_unit": unit, "method": method, **METHODS[method](self), **self.around()}
        if self.maybe(0.08):
            given[self.chance.choice(sorted(given))] = self.chance.choice(["", "84.x", "-", "1e5", "12 parsecs", []])
        return given

    def explanation(self) -> dict[str, Any]:
        """One request for `engine.one_off.explained.explained_once`: often near what was expected, or slipped."""
        method = self.chance.choice(["chalked tape", "electric tape", "electric tape", "weighted tape"])
        middle = self.chance.uniform(15, 90)
        slip = self.chance.choice([0, 0, 1, -1, 5, 10, 0.4, -3.0, middle * -0.6952])
        shown = [f"{middle + 1.5 + slip + off:.2f}" for off in self.chance.choice(REPEATS)]
        read: dict[str, Any] = {"readings": shown, "tape": "ET-006"}
        if method == "chalked tape":
            read = {
                "readings": [{"hold": f"{float(s) + 2 + i:.2f}", "cut": f"{2 + i}.00"} for i, s in enumerate(shown)]
            }
        if method == "weighted tape":
            read = {"readings": shown, "weight_interval": "1.20", "weight": "W-03"}
        point = {"name": "MP-1", "height": "1.50", "side": "above", "description": "notch"}
        expecting = {"what": "bottom" if method == "weighted tape" else "level", "day": "2025-09-02",
                     "length_unit": "ft", "expected": told(middle)}  # fmt: skip
        others = [{"code": "MF-11", "expected": told(middle + self.chance.choice([-3, 1, 4])), "point": point}]
        explaining = {"expecting": expecting, "others": others, "points": [{**point, "height": "2.12"}]}
        calibrations = [{**CALIBRATIONS[1], "serial": "ET-009"}]
        return {"length_unit": "ft", "method": method, **read, "point": point, "gear": [WEIGHT, JACKETED],
                "calibrations": calibrations, "when": "2025-09-02", "explaining": explaining}  # fmt: skip

    def around(self) -> dict[str, Any]:
        """What stands around the reading, each with its own chance."""
        groups: dict[str, Any] = {
            "point": {"name": "MP-1", "height": self.number(0, 4, 2), "side": self.chance.choice(["above", "below"]),
                      "description": "notch", "along_casing": self.maybe(0.3)},
            "position": {"land_surface": self.number(-5, 3000, 2),
                         "vertical_datum": self.chance.choice(["NAVD88", "NGVD29"]),
                         "latitude": self.number(-70, 70, 4), "u_elevation": self.number(0.01, 2, 2)},
            "construction": self.hole(),
            "settings": {"agree_rule": self.chance.choice(CHOICES["agree_rule"]),
                         "report_rule": self.chance.choice(CHOICES["report_rule"])},
            "gear": [TAPE, JACKETED, WEIGHT],
            "calibrations": [self.chance.choice(CALIBRATIONS)],
            "seen": self.seen(),
            "vertical_datum": "NAVD88",
            "when": f"20{self.chance.randint(10, 29)}-0{self.chance.randint(1, 9)}-1{self.chance.randint(0, 9)}",
        }  # fmt: skip
        return {name: group for name, group in groups.items() if self.maybe(0.7)}

    def seen(self) -> dict[str, Any]:
        """What goes on, contradictions and all."""
        since = ["lately", "long ago", "not known", "40 min", "3 d", "2011-01-02", "07:15"]
        near = {"what": self.chance.choice(NEAR_BY), "since": self.chance.choice(since), "distance": "120"}
        said: dict[str, Any] = {
            "quiet": True,
            "water": self.chance.sample(WATER, self.chance.choice([1, 1, 2])),
            "pump": self.chance.choice([AT_REST, *PUMP]),
            "pump_since": self.chance.choice(since),
            "near_by": [near],
            "in_the_hole": self.chance.sample(HOLE, self.chance.choice([1, 2])),
            "hung_up_at": self.number(1, 300, 1),
        }
        return {name: value for name, value in said.items() if self.maybe(0.25)}

    def hole(self) -> dict[str, Any]:
        """A plumb, leaning or surveyed hole."""
        depth = {"completed_depth": self.number(20, 900, 1)}
        kind = self.chance.randrange(3)
        if kind == 1:
            return {**depth, "lean": self.number(0, 15, 1)}
        if kind == 2:
            along = sorted(self.chance.sample(range(1000), 4))
            stations = [
                {"along": str(a), "inclination": self.number(0, 20, 1), "azimuth": self.number(0, 359, 0)}
                for a in along
            ]
            return {**depth, "survey": stations}
        return depth

    def number(self, low: float, high: float, decimals: int) -> str:
        """A number as written."""
        return f"{self.chance.uniform(low, high):.{decimals}f}"

    def maybe(self, chance: float) -> bool:
        return self.chance.random() < chance

    def repeats(self, low: float, high: float, decimals: int = 2) -> list[str]:
        """One to four repeats near one value, now and then one of them off."""
        middle = self.chance.uniform(low, high)
        off = [self.chance.choice([0, 0, 0, 0.01, -0.01, 0.02, 1, 10]) for _ in range(self.chance.randint(1, 4))]
        return [f"{middle + o:.{decimals}f}" for o in off]

    def hanging(self) -> dict[str, Any]:
        """Temperatures and water for a hanging tape, or nothing."""
        if self.maybe(0.4):
            return {}
        temp = {"tape_temp": f"{self.number(30, 90, 0)} degF"} if self.maybe(0.5) else {
            "surface_temp": f"{self.number(30, 90, 0)} degF", "temp_gradient": "0.012 degF/ft"}  # fmt: skip
        return {"hanging": {**temp, "water_at": self.number(5, 300, 1)}}


def _weighted(c: Cases) -> dict[str, Any]:
    interval = {"weight_interval": c.number(0.5, 2, 2)} if c.maybe(0.8) else {}
    used = {
        "tape": c.chance.choice(["", "ST-020", "ST-999"]),
        "weight": c.chance.choice(["", "W-03"]),
        "bottom": c.chance.choice(["", "firm", "soft", "unsure"]),
    }
    return {"readings": c.repeats(10, 900), **used, **interval, **c.hanging()}


def _chalked(c: Cases) -> dict[str, Any]:
    pairs = [{"hold": h, "cut": c.number(0.1, 4, 2)} for h in c.repeats(5, 600)]
    return {"readings": pairs, "tape": c.chance.choice(["", "ST-020"]), "weight": "W-03", **c.hanging()}


def _electric(c: Cases) -> dict[str, Any]:
    splice = {"marker_above_splice": "20.00", "marker_to_sensor": "0.85"} if c.maybe(0.2) else {}
    return {"readings": c.repeats(2, 400), "tape": c.chance.choice(["", "ET-006"]), **splice, **c.hanging()}


def _air_line(c: Cases) -> dict[str, Any]:
    line = {"line_length": c.number(100, 500, 1)} if c.maybe(0.5) else {
        "constant_depth": c.number(50, 150, 2), "constant_gauge": f"{c.number(5, 60, 0)} psi"}  # fmt: skip
    temp = {"water_temp": f"{c.number(-5, 45, 0)} degC"} if c.maybe(0.6) else {}
    readings = [f"{p} psi" for p in c.repeats(3, 60, 1)]
    return {"readings": readings, **line, **temp, "weight_of_air": c.maybe(0.5), "gauge": "PG-011"}


def _gauge(c: Cases) -> dict[str, Any]:
    return {"readings": [f"{p} psi" for p in c.repeats(0.2, 20, 1)], "gauge_above_point": c.number(-1, 1, 2),
            "gauge_range": "30 psi", **({"shut_in": "2 h"} if c.maybe(0.5) else {})}  # fmt: skip


def _standpipe(c: Cases) -> dict[str, Any]:
    return {"readings": c.repeats(0.1, 9, 1)}


def _logger(c: Cases) -> dict[str, Any]:
    depth = {"hanging_depth": c.number(20, 90, 2), "taped_depth": c.number(10, 60, 2), "barometer": "98.21 kPa"}
    return {"readings": [f"{p} kPa" for p in c.repeats(20, 250, 2)], "type": c.chance.choice(["vented", "absolute"]),
            "barometer_at_land_surface": c.maybe(0.5), **{k: v for k, v in depth.items() if c.maybe(0.7)}}  # fmt: skip


def _oil(c: Cases) -> dict[str, Any]:
    oils = c.repeats(5, 60)
    pairs = [{"oil": oil, "water": f"{float(oil) + c.chance.uniform(-0.05, 2):.2f}"} for oil in oils]
    return {"readings": pairs, "relative_density": c.number(0.7, 0.99, 2)}


def _reported(c: Cases) -> dict[str, Any]:
    reference = c.chance.choice(["below measuring point", "below land surface", "elevation"])
    return {
        "readings": c.repeats(-5, 900),
        "reference": reference,
        "what": c.chance.choice(["water level", "total depth"]),
    }


METHODS = {
    "weighted tape": _weighted,
    "chalked tape": _chalked,
    "electric tape": _electric,
    "air line": _air_line,
    "flowing gauge": _gauge,
    "standpipe": _standpipe,
    "logger check": _logger,
    "oil on water": _oil,
    "reported": _reported,
}
