"""Settings of a network: every default of the engine, with where it comes from. All can be changed.

A figure marked "ours" is our own choice, made because no published figure was found; it is shown as such wherever it
is used. Lengths are kept as written ("0.02 ft"), so that a default taken from a document keeps the document's unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from tapedown.values.written import written

TM = "USGS TM 1-A1 (Cunningham & Schalk 2011)"
A4 = "USGS TWRI 9-A4 v2.0 (2006)"


class Setting(NamedTuple):
    """One row: name, default as written, quantity ("text" for words), help and source."""

    name: str
    default: str
    quantity: str
    meaning: str
    source: str


SETTINGS: tuple[Setting, ...] = (
    Setting("coverage", "0.95", "ratio", "coverage probability of expanded uncertainty", "common practice, no source"),
    Setting(
        "agree_within", "0.02 ft", "length", "two repeats agree when they differ by no more than this", f"{TM} GWPD 1"
    ),
    Setting("agree_to_depth", "200 ft", "length", "down to this depth agree_within holds as it stands", f"{A4} p. 126"),
    Setting(
        "agree_share_beyond",
        "0.0001",
        "ratio",
        "deeper, repeats agree within this share of depth",
        "ours: 0.02 ft in 200 ft carried on",
    ),
    Setting("agree_standpipe", "0.2 ft", "length", "repeats of a standpipe agree within this", f"{TM} GWPD 12"),
    Setting("agree_gauge", "1 ft", "length", "repeats of a pressure gauge agree within this", "ours"),
    Setting(
        "agree_rule",
        "two consecutive",
        "text",
        "which repeats must agree: two consecutive | any two",
        f"{TM} GWPD 11: two consistent readings",
    ),
    Setting(
        "report_rule",
        "mean of the agreeing",
        "text",
        "what is reported: mean of the agreeing | mean of all | most representative",
        f"{A4} A4-B-3 takes the mean, {TM} GWPD 1 the most representative; the choice is ours",
    ),
    Setting(
        "repeat_dof",
        "8",
        "ratio",
        "degrees of freedom behind the repeatability expected before any repeat is seen",
        "ours: pooled with the repeats (GUM 4.2.4)",
    ),
    Setting("u_tape_uncalibrated", "0.005 ft", "length", "tape without certificate, standard uncertainty", "ours"),
    Setting("u_tape_share", "0.000025", "ratio", "and at least this share of the length", "ours: 0.005 ft in 200 ft"),
    Setting("u_certificate", "0.003 ft", "length", "certificate that states no uncertainty", "ours"),
    Setting("u_weight_interval", "0.003 ft", "length", "measured weight interval, standard uncertainty", "ours"),
    Setting("u_bottom_feel", "0.02 ft", "length", "feeling the bottom through tape and weight", "ours"),
    Setting("u_point_height", "0.005 ft", "length", "measuring-point height that states no uncertainty", "ours"),
    Setting("u_land_surface", "0.1 ft", "length", "land-surface elevation that states no uncertainty", "ours"),
    Setting("u_angle", "0.5 deg", "angle", "angle of a leaning hole that states no uncertainty", "ours"),
    Setting(
        "plumb_angle_max",
        "1 deg",
        "angle",
        "a hole not surveyed may lean by up to this: the tape path is then too long, never too short",
        "ours",
    ),
    Setting(
        "tape_temp_half_width", "2 degC", "temperature difference", "tape temperature as measured, half-width", "ours"
    ),
    Setting("tape_temp_unknown", "15 degC", "temperature", "mean tape temperature when not measured", "ours"),
    Setting("tape_temp_unknown_half_width", "12 degC", "temperature difference", "and its half-width", "ours"),
    Setting(
        "stretch_doubt",
        "0.00002",
        "ratio",
        "own weight, hanging weight and pull left uncorrected: half-width as a share of length",
        "ours: size of the net elastic terms for steel tapes to 1000 ft",
    ),
    Setting("tape_correct_beyond", "200 ft", "length", "a tape longer than this is to be corrected", f"{A4} A4-B-2"),
    Setting("u_gauge_psi", "1 psi", "pressure", "gauge error when none is stated, half-width", "common practice"),
    Setting("u_altitude_gauge", "0.1 ft", "length", "altitude gauge error, half-width, at best", f"{TM} GWPD 13"),
    Setting("u_standpipe", "0.1 ft", "length", "level in a standpipe, half-width", f"{TM} GWPD 12"),
    Setting("u_logger", "0.01 ft", "length", "logger submergence, standard uncertainty, or 0.1 % if larger", "ours"),
    Setting("u_reported", "0.05 ft", "length", "reading handed on by others that states no uncertainty", "ours"),
    Setting("u_relative_density", "0.02", "ratio", "relative density of oil, standard uncertainty", "ours"),
    Setting("u_water_temp", "2 degC", "temperature difference", "water temperature, half-width", "ours"),
    Setting("water_temp_unknown", "12 degC", "temperature", "water temperature when not measured", "ours"),
    Setting(
        "digits_uncorrected",
        "0.01 to 200, 0.1 to 500, 0.2 to 1000, 0.5",
        "text",
        "finest step by depth in ft, tape not corrected (in a metre network: same depths, a tenth of the step)",
        "ours, after the size of uncorrected tape physics",
    ),
    Setting(
        "digits_corrected",
        "0.01 to 500, 0.1",
        "text",
        "the same with every tape term applied; expanded uncertainty still decides",
        "ours",
    ),
    Setting("calibration_due", "1 yr", "duration", "a tape is checked against a reference this often", f"{TM} GWPD 1"),
    Setting("point_check_due", "5 yr", "duration", "measuring point levelled this often", f"{TM} GWPD 3: 3-5 years"),
    Setting("pump_rest", "24 h", "duration", "a pump that has rested less than this: the level still recovers",
            "US EPA RCRA ground-water monitoring draft guidance 1992: 24 h after developing or purging"),
    Setting("visit_every", "91 d", "duration", "a well is visited this often unless it says other", "ours: quarterly"),
    Setting("point_moved", "0.02 ft", "length", "a measuring point has moved when levels differ by more", "ours"),
    Setting("bury_share", "0.2", "ratio", "share of a screen buried at which work on the well is looked into",
            "one county's rule (San Joaquin County, CA, doc 932734 p. 56); changeable"),
    Setting("chance_changed", "0.005", "ratio", "it really changed: chance before a reading is looked at", "ours"),
    Setting("change_times", "10", "ratio", "a real change is spread over so many times the expected scale", "ours"),
    Setting("change_least", "1 ft", "length", "and over at least this", "ours"),
    Setting("surprise_below", "0.7", "ratio", "a reading surprises when 'as expected' is less likely", "ours"),
    Setting("misread_repeats", "0.1", "ratio", "chance that a misread repeat is misread alike in the next one", "ours"),
    Setting("misread_most", "10 ft", "length", "one repeat is misread by at most this, if by no whole mark", "ours"),
    Setting("point_change_most", "4 ft", "length", "a measuring point changes unnoticed by at most this", "ours"),
    Setting("point_lowest", "6 ft", "length", "and lies at most this far below land surface (a vault)", "ours"),
    Setting("point_highest", "6 ft", "length", "or this far above it", "ours"),
    Setting("drawdown_left", "5 ft", "length", "mean drawdown left in a well still recovering", "ours"),
    Setting("tape_slack", "1 ft", "length", "mean slack of a tape that hung up", "ours"),
    Setting("logger_off_most", "5 ft", "length", "a logger is off by at most this", "ours"),
    *(Setting(f"chance_{name}", chance, "ratio", f"{what}: chance before a reading is looked at", "ours")
      for name, chance, what in (
        ("whole_mark", "0.02", "a whole foot, metre or psi misread"),
        ("digits_swapped", "0.004", "two neighbouring digits swapped"),
        ("digit_misread", "0.003", "a 1 and 7, 3 and 8, or 6 and 9 taken for each other"),
        ("point_moved", "0.001", "decimal point one place off"),
        ("one_repeat", "0.01", "one of several repeats misread by any amount"),
        ("other_unit", "0.001", "feet written for metres, or metres for feet"),
        ("hold_cut", "0.003", "hold and cut swapped"),
        ("wrong_hold", "0.08", "the hold of another repeat written again, where two holds are alike"),
        ("interval_left_out", "0.01", "weight interval left out"),
        ("interval_twice", "0.005", "weight interval counted twice"),
        ("other_weight", "0.005", "the interval of another weight used"),
        ("point_sign", "0.003", "sign of the measuring point reversed"),
        ("point_older", "0.005", "an older height of the measuring point used"),
        ("point_left_out", "0.003", "height of the measuring point left out"),
        ("point_changed", "0.005", "measuring point cut down, extended or bent unnoticed"),
        ("wrong_well", "0.004", "the reading of another well"),
        ("other_tape", "0.003", "another tape lowered than the one noted"),
        ("not_corrected", "0.01", "a long tape, not corrected"),
        ("did_not_reach", "0.005", "tape hung up, slack, or on an obstruction"),
        ("recovering", "0.005", "water still recovering from pumping, none being noted"),
        ("logger_offset", "0.02", "a logger off its zero or its hanging depth"),
      )),
    Setting("review_people", "1", "text", "people who must have looked at a value before it is signed: 1 | 2",
            "common practice, no source; the reader does not count"),
    Setting("blind_share", "0.06", "ratio", "share of a round's wells that is measured again blind",
            "Kansas Geological Survey, yearly programme: about 6 % picked at random and measured again"),
    Setting("blind_within", "3 d", "duration", "a second reading counts as a blind repeat for this long",
            "ours: the water itself moves"),
    Setting("u_side_by_side", "0.005 ft", "length", "two tapes brought to the same mark or water, standard uncertainty",
            "ours: half the last digit read"),
    Setting("paper", "A4", "text", "what sheets are printed on: A4 | Letter", "ISO 216"),
    Setting("drift_walk", "0.11 ft", "length", "how far a logger's offset wanders in a year, standard uncertainty; it "
            "grows with the root of time", "Rosenberry 1990 (abstract): mean absolute error 0.098 ft over 15 months"),
    Setting("drift_walk_dof", "2", "ratio", "degrees of freedom behind drift_walk before any drift is seen", "ours"),
    Setting("drift_share_max", "0.5", "ratio", "a stretch whose drift exceeds this share of its own range is refused",
            "ours, after a record refused at 1.8 ft of 3.4 ft (Colorado CWCB doc 123788 p. 12)"),
    Setting("barometer_gap", "3 h", "duration", "longest gap in a barometer that a straight line may bridge", "ours"),
    Setting("day_share_min", "0.8", "ratio", "share of a day's rows below which it has no daily value", "ours"),
    Setting("handling_step", "0.3 m", "length", "a step from one row to the next that looks like handling", "ours"),
    Setting("series_gap", "1 h", "duration", "longest time between two rows", "QARTOD water level manual, example"),
    Setting("spike_suspect", "0.1 m", "length", "a point this far off its neighbours is suspect",
            "QARTOD water level manual, example"),
    Setting("spike_fail", "0.2 m", "length", "and this far, it fails", "QARTOD water level manual, example"),
    Setting("rate_deviations", "3", "ratio", "a step of more standard deviations is suspect",
            "QARTOD water level manual, example"),
    Setting("rate_window", "25 h", "duration", "time before, over which they are taken",
            "QARTOD water level manual, example"),
    Setting("flat_within", "0.001 m", "length", "values closer than this are the same",
            "QARTOD water level manual, example"),
    Setting("flat_suspect", "96", "ratio", "as many equal values in a row are suspect",
            "ours; the QARTOD example, 3, is for tides: water in wells stands still for hours"),
    Setting("flat_fail", "480", "ratio", "as many fail", "ours; the QARTOD example, 5, is for tides"),
    Setting("neighbour_suspect", "0.03 m", "length", "a difference from a neighbour beyond this is suspect",
            "QARTOD water level manual, example"),
    Setting("neighbour_fail", "0.05 m", "length", "beyond this it fails", "QARTOD water level manual, example"),
    Setting(
        "publish",
        "nothing",
        "text",
        "what the services of a shared office show to strangers: nothing | wells | wells and readings",
        "ours: nothing leaves before somebody says so",
    ),
    Setting(
        "map_systems",
        "",
        "text",
        "EPSG codes of the projected systems that services answer in beside WGS 84 and the web map: 32618, 2263",
        "ours: none",
    ),
)  # fmt: skip


class Settings(NamedTuple):
    """The settings of one network: defaults with its changes on top. Read with `text` or `si`.

    length_unit  "ft" or "m": what people of this network write and read
    changed      name -> value as written
    """

    length_unit: str = "ft"
    changed: Mapping[str, str] = {}

    def text(self, name: str) -> str:
        """A setting in words, as written."""
        if name in self.changed:
            return self.changed[name]
        return _ROWS[name].default

    def si(self, name: str) -> float:
        """A setting as an SI number (m, kPa, degC, ratio)."""
        return _si(name, self.text(name))

    def source(self, name: str) -> str:
        """Where the value in force comes from: its document, "ours", or "set here" (for the network or the gear)."""
        return "set here" if name in self.changed else _ROWS[name].source


@lru_cache(maxsize=512)
def _si(name: str, text: str) -> float:
    return written(text, _default_unit(name), _ROWS[name].quantity).si


_ROWS = {row.name: row for row in SETTINGS}


def checked_settings(changes: Mapping[str, str]) -> dict[str, str]:
    """The changes, if every name exists and every value can be read.

    Parameters
    ----------
    changes
        Value as written, by name of setting.

    Returns
    -------
    dict
        The changes as they were given.

    Raises
    ------
    ValueError
        An unknown setting (the message lists the known ones) or a value of the wrong kind.

    Example
    -------
    >>> checked_settings({"agree_within": "5 mm"})
    {'agree_within': '5 mm'}
    """
    for name, value in changes.items():
        if name not in _ROWS:
            raise ValueError(f"no setting {name!r}; known: {', '.join(sorted(_ROWS))}")
        if _ROWS[name].quantity != "text":
            _check_number(name, value)
        elif name in CHOICES and value not in CHOICES[name]:
            raise ValueError(f"setting {name}: {value!r} is not one of: {', '.join(CHOICES[name])}")
        elif name in DEPTH_TABLES:
            depth_steps(value)
        elif name == "map_systems":
            whole_numbers(value)
    return dict(changes)


def _check_number(name: str, value: str) -> None:
    number = written(value, _default_unit(name), _ROWS[name].quantity).si
    if name in SHARES and not 0 < number < 1:
        raise ValueError(f"setting {name}: {value} must lie between 0 and 1")
    if name.startswith("chance_") and number >= 0.5:
        raise ValueError(f"setting {name}: {value} is no chance of a blunder; write less than 0.5, or 0 for never")
    if number < 0 and name not in MAY_BE_NEGATIVE:
        raise ValueError(f"setting {name}: {value} must not be negative")


def depth_steps(table: str) -> list[tuple[float, float]]:
    """The rows of a table of reporting digits by depth.

    Parameters
    ----------
    table
        Rows "step to depth" with commas between, the depth left out in the last: "0.01 to 200, 0.1 to 500, 0.5".

    Returns
    -------
    list
        Pairs of step and the depth down to which it holds, both in ft; infinite where no depth is written.

    Raises
    ------
    ValueError
        A row that cannot be read, a step that is not positive, or depths that do not grow.

    Example
    -------
    >>> depth_steps("0.01 to 200, 0.5")
    [(0.01, 200.0), (0.5, inf)]
    """
    rows = []
    for row in table.split(","):
        step, _, limit = row.partition(" to ")
        try:
            rows.append((float(step), float(limit) if limit else float("inf")))
        except ValueError:
            raise ValueError(f"{row.strip()!r} is not a row such as '0.01 to 200'") from None
    if any(step <= 0 for step, _ in rows) or any(b[1] <= a[1] for a, b in zip(rows, rows[1:])):  # noqa: RUF007
        raise ValueError(f"{table!r}: steps must be positive and depths must grow")
    return rows


def whole_numbers(text: str) -> list[int]:
    """Whole numbers with commas between them.

    Parameters
    ----------
    text
        Numbers of at most nine digits; empty places are passed over.

    Returns
    -------
    list
        In the order written.

    Raises
    ------
    ValueError
        A part that is no such number.

    Example
    -------
    >>> whole_numbers("32618, 2263"), whole_numbers("")
    ([32618, 2263], [])
    """
    parts = [part.strip() for part in text.split(",") if part.strip()]
    for part in parts:
        if not (part.isascii() and part.isdigit() and len(part) < 10):
            raise ValueError(f"{part!r} is not a whole number; write them with commas between: 32618, 2263")
    return [int(part) for part in parts]


SHARES = (
    "coverage", "bury_share", "surprise_below", "misread_repeats", "blind_share", "drift_share_max", "day_share_min",
)  # fmt: skip
MAY_BE_NEGATIVE = ("tape_temp_unknown", "water_temp_unknown")
DEPTH_TABLES = ("digits_uncorrected", "digits_corrected")
CHOICES = {
    "agree_rule": ("two consecutive", "any two"),
    "paper": ("A4", "Letter"),
    "report_rule": ("mean of the agreeing", "mean of all", "most representative"),
    "review_people": ("1", "2"),
    "publish": ("nothing", "wells", "wells and readings"),
}


def _default_unit(name: str) -> str:
    return _ROWS[name].default.partition(" ")[2]
