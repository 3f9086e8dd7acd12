"""A million total depths with their whole budgets, as columns.

Beside the `uncertainties` package, one reading at a time, and beside bare numpy that does the same sums, roots of sums
of squares, Welch-Satterthwaite and factors of Student's t. Every run checks that all three find the same numbers.

    python -m bench.total_depths
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from scipy import stats
from tabulate import tabulate
from uncertainties import ufloat

from tapedown.engine.methods.total_depth import sounding_steps
from tapedown.engine.uncertainty.budget import amount, half_width, parts_of, total
from tapedown.values.results import BELOW_LAND, MANY, Part, Result, Step
from tapedown.values.units import FOOT_M

LEVEL = 0.95
RESOLUTION_M = 0.01 * FOOT_M
U_INTERVAL_M, U_FEEL_M, U_HEIGHT_M = 0.003 * FOOT_M, 0.02 * FOOT_M, 0.005 * FOOT_M
REPEAT_DOF = 9.0
U_TAPE_M, TAPE_SHARE = 0.005 * FOOT_M, 0.000025
HEAT_SHARE, STRETCH_SHARE = 1.16e-5 * 17.0, 0.00002
TABLE_TO = 200


class Soundings(NamedTuple):
    """Columns of one archive, m."""

    tape_m: Any
    interval_m: Any
    height_m: Any
    u_repeat_m: Any


class Answer(NamedTuple):
    """What each way must find alike."""

    value_m: Any
    u_m: Any
    dof: Any
    expanded_m: Any


def archive(n: int) -> Soundings:
    """`n` made-up soundings between 5 and 300 m."""
    rng = np.random.default_rng(2026)
    return Soundings(
        rng.uniform(5.0, 300.0, n),
        rng.choice([0.30, 0.35, 0.40], n),
        rng.uniform(-0.5, 1.5, n),
        rng.uniform(0.001, 0.02, n),
    )


def by_engine(given: Soundings) -> Answer:
    """The engine's own steps and budget, a column at a time."""
    repeat = Part("", "repeatability", given.u_repeat_m, REPEAT_DOF)
    steps = sounding_steps(
        given.tape_m,
        given.interval_m,
        resolution_m=RESOLUTION_M,
        u_interval_m=U_INTERVAL_M,
        u_feel_m=U_FEEL_M,
        repeat=repeat,
    )
    tape = Part("tape", "tape without certificate", np.maximum(U_TAPE_M, TAPE_SHARE * given.tape_m), MANY)
    heat = half_width("heat, not corrected", HEAT_SHARE * given.tape_m, "")
    stretch = half_width("stretch, not corrected", STRETCH_SHARE * given.tape_m, "")
    height = Part("point", "height of the measuring point", U_HEIGHT_M, MANY)
    steps += [Step("tape", 0.0, (tape, heat, stretch)), Step("measuring point", -given.height_m, (height,))]
    found: Result = total(BELOW_LAND, amount(steps), parts_of(steps), LEVEL)
    return Answer(found.value_m, found.u_m, found.dof, found.expanded_m)


def factors() -> Any:
    """Factors of Student's t for 1 to TABLE_TO whole degrees of freedom, then that of the normal distribution."""
    return np.append(stats.t.ppf((1 + LEVEL) / 2, np.arange(1, TABLE_TO + 1)), stats.norm.ppf((1 + LEVEL) / 2))


def by_numpy(given: Soundings, table: Any) -> Answer:
    """The same arithmetic written out by hand."""
    value = given.tape_m + given.interval_m - given.height_m
    known = RESOLUTION_M**2 / 12 + U_FEEL_M**2 + U_INTERVAL_M**2 + U_HEIGHT_M**2
    squares = (
        given.u_repeat_m**2,
        np.maximum(U_TAPE_M, TAPE_SHARE * given.tape_m) ** 2,
        (HEAT_SHARE * given.tape_m) ** 2 / 3,
        (STRETCH_SHARE * given.tape_m) ** 2 / 3,
    )
    variance = known + squares[0] + squares[1] + squares[2] + squares[3]
    constant = (RESOLUTION_M**2 / 12) ** 2 + U_FEEL_M**4 + U_INTERVAL_M**4 + U_HEIGHT_M**4
    spread = squares[0] ** 2 / REPEAT_DOF
    spread += (constant + squares[1] ** 2 + squares[2] ** 2 + squares[3] ** 2) / MANY
    u, dof = np.sqrt(variance), variance**2 / spread
    k = table[np.minimum(dof, TABLE_TO + 1).astype(np.int64) - 1]
    return Answer(value, u, dof, k * u)


def by_package(given: Soundings, table: Any) -> Answer:
    """One reading after the other with the `uncertainties` package, degrees of freedom from its components."""
    return Answer(*(np.array(column) for column in zip(*(_one_by_package(*row, table) for row in zip(*given)))))


def _one_by_package(
    tape_m: float, interval_m: float, height_m: float, u_repeat_m: float, table: Any
) -> tuple[float, float, float, float]:
    repeat = ufloat(0.0, u_repeat_m)
    sources = (
        ufloat(0.0, RESOLUTION_M / 12**0.5),
        ufloat(0.0, U_FEEL_M),
        ufloat(0.0, max(U_TAPE_M, TAPE_SHARE * tape_m)),
        ufloat(0.0, HEAT_SHARE * tape_m / 3**0.5),
        ufloat(0.0, STRETCH_SHARE * tape_m / 3**0.5),
    )
    depth = tape_m + repeat + ufloat(interval_m, U_INTERVAL_M) - ufloat(height_m, U_HEIGHT_M)
    for source in sources:
        depth = depth + source
    u = depth.std_dev
    spread = sum(
        part**4 / (REPEAT_DOF if variable is repeat else MANY) for variable, part in depth.error_components().items()
    )
    dof = u**4 / spread
    return depth.nominal_value, u, dof, table[int(min(dof, TABLE_TO + 1)) - 1] * u


def check_same(ours: Answer, peer: Answer) -> None:
    """All four columns alike: to 1e-9, the expanded uncertainty to 1 % where the peer's table ends at the normal one.

    Raises
    ------
    AssertionError
        They differ.
    """
    for name, rtol in (("value_m", 1e-12), ("u_m", 1e-12), ("dof", 1e-9)):
        np.testing.assert_allclose(getattr(ours, name), getattr(peer, name), rtol=rtol, err_msg=name)
    few = np.asarray(ours.dof) <= TABLE_TO
    np.testing.assert_allclose(ours.expanded_m[few], peer.expanded_m[few], rtol=1e-9)
    np.testing.assert_allclose(ours.expanded_m, peer.expanded_m, rtol=0.01)


def timed(work: Callable[[], Answer], times: int) -> tuple[float, Answer]:
    """The best of `times` runs, s, and what they found."""
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        found = work()
        best = min(best, time.perf_counter() - start)
    return best, found


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Time the three ways; `scale` 1 is a million readings (5,000 for the package, reckoned up to the million)."""
    n, few = max(1000, int(1_000_000 * scale)), max(200, int(5_000 * scale))
    given, table = archive(n), factors()
    by_engine(archive(1000))
    ours_s, ours = timed(lambda: by_engine(given), 3)
    bare_s, bare = timed(lambda: by_numpy(given, table), 3)
    check_same(ours, bare)
    part = Soundings(*(column[:few] for column in given))
    package_s, package = timed(lambda: by_package(part, table), 1)
    check_same(Answer(*(column[:few] for column in ours)), package)
    package_s *= n / few
    name = "total depths with whole budgets"
    return [
        {"name": name, "ours_s": ours_s, "peer": "uncertainties, reading by reading", "peer_s": package_s,
         "ratio": package_s / ours_s, "aim": "at least 300 times faster", "n": n},
        {"name": name, "ours_s": ours_s, "peer": "bare numpy, same sums", "peer_s": bare_s, "ratio": bare_s / ours_s,
         "aim": "at most 10 times slower (ratio 0.1)", "n": n},
    ]  # fmt: skip


if __name__ == "__main__":
    print(tabulate(run(), headers="keys", floatfmt=".4g"))
