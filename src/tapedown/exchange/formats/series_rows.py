"""Rows of a corrected series written as Parquet files, one a piece."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import polars as pl

AT_ONCE = 2
"""Pieces worked on at a time: while one is encoded the next is worked out; ours."""


def write_rows(pieces: Iterator[pl.LazyFrame], folder: Path) -> pl.LazyFrame:
    """Write the pieces of a series into a folder, named in their order; gives the rows as they lie there."""

    def write(numbered: tuple[int, pl.LazyFrame]) -> None:
        number, piece = numbered
        piece.sink_parquet(folder / f"{number:05}.parquet", compression="lz4")

    folder.mkdir(parents=True, exist_ok=True)
    with ThreadPoolExecutor(AT_ONCE, "series") as pool:
        list(pool.map(write, enumerate(pieces)))
    return pl.scan_parquet(folder)
