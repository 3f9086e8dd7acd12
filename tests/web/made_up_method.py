"""A method, a field of a visit and a format that nobody uses, put into a copy of the source as CONTRIBUTING tells."""

from __future__ import annotations

import itertools
import shutil
from pathlib import Path

import tapedown

SOURCE = Path(tapedown.__file__).parent

VALUE = '''
class GraduatedPole(NamedTuple):
    """Depth to water by a pole in a shallow well: its value at the measuring point, less what its foot has lost."""

    readings: tuple[Written, ...]
    pole: str = ""
    foot_worn: Written | None = None
    bent: bool = False
    point: str = ""
    chosen: Written | None = None
    why_chosen: str = ""
    remarks: str = ""


class AirLine('''

FORM = """METHODS: dict[str, Form] = {
    "graduated pole": Form(
        "graduated pole",
        GraduatedPole,
        "depth to water by graduated pole",
        (
            Field("readings", "length", "pole value at the measuring point, one for each try", True, True),
            Field("pole", "text", "serial number of the pole", gear=("other",)),
            Field("foot_worn", "length", "length its foot has lost", asked="first", possible=(0.0, 0.1)),
            Field("bent", "flag", "yes when the pole is bent", asked="seldom"),
            *COMMON,
        ),
    ),
"""

REDUCER = '''"""Depth to water by graduated pole: its value at the measuring point, less what its foot has lost."""

from __future__ import annotations

from tapedown.engine.methods.stages import Worked, finish
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.repeats.sets import agreed, mean_of, read_as, resolution_m, units_mixed
from tapedown.engine.context import ReadingContext
from tapedown.engine.uncertainty.budget import last_digit
from tapedown.values.readings import GraduatedPole
from tapedown.values.results import Reduction, Step


def reduce_graduated_pole(read: GraduatedPole, context: ReadingContext) -> Reduction:
    """Depth to water from one or more readings of a pole."""
    shown = [reading.si for reading in read.readings]
    agreement = agreed(shown, tolerance_m(max(shown), context.settings), read, context)
    digit = resolution_m(read.readings)
    parts = (last_digit(digit), agreement.part)
    told = read_as(read.readings, agreement)
    steps = [Step("pole at the measuring point", mean_of(shown, agreement), parts, "", told)]
    if (worn := read.foot_worn) is not None:
        steps.append(Step("worn foot", -worn.si, (last_digit(worn.resolution_si),), "", str(worn)))
    return finish(Worked("graduated pole", steps, agreement, digit, findings=units_mixed(read.readings)), context)
'''

EDITS: dict[str, tuple[tuple[str, str], ...]] = {
    "values/readings.py": (
        ("\nclass AirLine(", VALUE),
        ("ReadingSet = (\n", "ReadingSet = (\n    GraduatedPole |"),
    ),
    "values/reading_forms.py": (
        ("    FlowingGauge,\n    Hanging,", "    FlowingGauge,\n    GraduatedPole,\n    Hanging,"),
        ("METHODS: dict[str, Form] = {\n", FORM),
    ),
    "engine/methods/graduated_pole.py": (("", REDUCER),),
    "engine/methods/registry.py": (
        (
            "from tapedown.engine.methods.logger_check",
            "from tapedown.engine.methods.graduated_pole import reduce_graduated_pole\n"
            "from tapedown.engine.methods.logger_check",
        ),
        ('    "oil on water": reduce', '    "graduated pole": reduce_graduated_pole,\n    "oil on water": reduce'),
    ),
}
"""Files of the source, each with what stands there and what is put in its place; a new file has nothing there."""

FIELD_EDITS: dict[str, tuple[tuple[str, str], ...]] = {
    "values/readings.py": (
        (
            '    point_checked: str = ""\n    cleaning: str = ""',
            '    point_checked: str = ""\n    wind: str = ""\n    cleaning: str = ""',
        ),
    ),
    "values/reading_forms.py": (
        (
            '            Field("cleaning", "text", "how tape',
            '            Field("wind", "text", "how hard it blew"),\n            Field("cleaning", "text", "how tape',
        ),
    ),
}

FORMAT = '''"""Names of wells, a line each."""

from __future__ import annotations

from collections.abc import Iterator

from tapedown.exchange.delivery.tables import Tables


def names_files(made: Tables) -> Iterator[tuple[str, bytes]]:
    """One file of names."""
    yield "names.txt", "".join(f"{well.code}\\n" for well in made.delivery.wells).encode()
'''

FORMAT_EDITS: dict[str, tuple[tuple[str, str], ...]] = {
    "exchange/formats/names.py": (("", FORMAT),),
    "exchange/formats/registry.py": (
        (
            '        Format("xlsx", ',
            '        Format("names", "codes of wells, a line each", "formats.names", "names_files"),\n'
            '        Format("xlsx", ',
        ),
    ),
}


def copy_with_method(folder: Path) -> Path:
    """A copy of the package in `folder` that knows all three; what to put on the path of Python."""
    shutil.copytree(SOURCE, folder / "tapedown", ignore=shutil.ignore_patterns("__pycache__"))
    for name, changes in itertools.chain(EDITS.items(), FIELD_EDITS.items(), FORMAT_EDITS.items()):
        path = folder / "tapedown" / name
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        for before, after in changes:
            if text.count(before) != 1 and before:
                raise ValueError(f"{name} does not hold {before!r} once")
            text = text.replace(before, after, 1) if before else after
        path.write_text(text, encoding="utf-8")
    return folder
