"""A table and its mapping -> one Line for every row: the facts it brings, or why it is set aside."""

from __future__ import annotations

from tapedown.exchange.tables.lines import Known, TableLine
from tapedown.exchange.tables.mapping import TableMapping
from tapedown.exchange.tables.point_lines import point_lines
from tapedown.exchange.tables.reading import Table
from tapedown.exchange.tables.reading_lines import reading_lines
from tapedown.exchange.tables.well_lines import length_lines, well_lines
from tapedown.values.progress import Watch, unwatched
from tapedown.values.settings import Settings


def propose(
    table: Table, mapping: TableMapping, known: Known, settings: Settings, watch: Watch = unwatched
) -> list[TableLine]:
    """What is to become of every line, in the order of the file.

    known holds what the record says about wells; settings are the network's, for the checks. `watch` is told how many
    lines are read.

    Raises
    ------
    MappingDoesNotFit
        The mapping names a column that the table does not have, or has twice.
    """
    if mapping.makes == "readings":
        return reading_lines(table, mapping, known, settings, watch)
    makers = {"wells": well_lines, "points": point_lines, "screens": length_lines, "casings": length_lines}
    return makers[mapping.makes](table, mapping, known, watch)
