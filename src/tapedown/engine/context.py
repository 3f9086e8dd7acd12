"""What stood around a reading when it was taken: the facts the engine needs beside the reading itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.physics.hole import Direction
from tapedown.engine.physics.water import normal_gravity_m_s2
from tapedown.engine.uncertainty.digits import spoken
from tapedown.values.gear import Calibration, Gear
from tapedown.values.results import Finding
from tapedown.values.seen import NOTHING_SEEN, Seen
from tapedown.values.settings import Settings
from tapedown.values.units import STANDARD_GRAVITY_M_S2
from tapedown.values.wells import Construction, PointHeight, Position


class Calibrated(NamedTuple):
    """A calibration with the date it was made."""

    on: str
    calibration: Calibration


class ReadingContext(NamedTuple):
    """Facts in force at the time of a reading.

    when           as measured_at of the reading: ISO 8601 with offset, or a date
    point          measuring point then in force, None when none is recorded
    position, construction  as known for the well, None when not recorded
    gear           serial number -> gear
    calibrations   serial number -> latest calibration not after the reading
    seen           what goes on at the well
    vertical_datum the network's
    """

    settings: Settings = Settings()
    when: str = ""
    point: PointHeight | None = None
    position: Position | None = None
    construction: Construction | None = None
    gear: Mapping[str, Gear] = {}
    calibrations: Mapping[str, Calibrated] = {}
    seen: Seen = NOTHING_SEEN
    vertical_datum: str = ""

    def say(self, length_m: float, step: float = 0.0) -> str:
        """A length in the network's unit, for messages (see `engine.uncertainty.digits.spoken`)."""
        return spoken(length_m, self.settings, step)

    @property
    def gravity_m_s2(self) -> float:
        """Gravity at the well.

        Returns
        -------
        float
            m/s2, by latitude and height when they are known, else the standard one.
        """
        if self.position is None or self.position.latitude is None:
            return STANDARD_GRAVITY_M_S2
        height = self.position.land_surface.si if self.position.land_surface else 0.0
        return normal_gravity_m_s2(self.position.latitude.si, height)

    @property
    def stations(self) -> tuple[Direction, ...]:
        """The hole's directional survey, () when there is none."""
        survey = self.construction.survey if self.construction else ()
        return tuple(Direction(s.along.si, s.inclination.si, s.azimuth.si if s.azimuth else 0.0) for s in survey)

    def with_gear(self, serial: str) -> ReadingContext:
        """The context with the settings that differ for one piece of gear; they win over the network's.

        Parameters
        ----------
        serial
            Serial number of the gear.

        Returns
        -------
        ReadingContext
            As it is where the gear is not known or has no settings of its own.
        """
        gear = self.gear.get(serial)
        if gear is None or not gear.settings:
            return self
        changed = {**self.settings.changed, **{row.name: row.value for row in gear.settings}}
        return self._replace(settings=self.settings._replace(changed=changed))

    def known_gear(self, serial: str, findings: list[Finding]) -> Gear | None:
        """The gear with this serial number.

        Parameters
        ----------
        serial
            Serial number, "" when none was named.
        findings
            Is added to when gear was named that is not known.

        Returns
        -------
        Gear or None
            None when it was not named or is not known.
        """
        if serial and serial not in self.gear:
            findings.append(
                finding(
                    "gear-not-known",
                    f"no gear {serial} in the record: its length, weight and calibration are not used",
                    "check the serial number, or enter the gear",
                    f"gear/{serial}",
                )
            )
        return self.gear.get(serial)
