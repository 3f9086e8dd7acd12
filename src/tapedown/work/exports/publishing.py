"""What strangers may see of a delivery: nothing until the network's settings publish it, and never names of people."""

from __future__ import annotations

from tapedown.exchange.delivery.contents import Delivered, DeliveredWell, Delivery
from tapedown.values.errors import TapedownError
from tapedown.values.settings import Settings

NOTHING, WELLS, READINGS = "nothing", "wells", "wells and readings"


class NotPublished(TapedownError):
    """The network shows nothing to strangers."""

    def __init__(self) -> None:
        super().__init__(
            "this network publishes nothing", hint="show the office's key, or ask its people to change setting publish"
        )


def for_strangers(delivery: Delivery, settings: Settings) -> Delivery:
    """The part of a delivery that the setting `publish` opens.

    Who read and who wrote, gear, remarks, how to find a well and every other word that somebody typed freely stay
    inside: they were written for colleagues.

    Raises
    ------
    NotPublished
    """
    what = settings.text("publish")
    if what == NOTHING:
        raise NotPublished
    network = delivery.network._replace(remarks="")
    wells = tuple(_well(well, readings=what == READINGS) for well in delivery.wells)
    return delivery._replace(network=network, wells=wells)


def _well(well: DeliveredWell, *, readings: bool) -> DeliveredWell:
    identity, at, built = well.identity, well.position, well.construction
    return well._replace(
        identity=identity._replace(place="", remarks="", other_names=()) if identity else None,
        position=at._replace(source="") if at else None,
        construction=built._replace(source="", remarks="") if built else None,
        points=tuple(p._replace(point=p.point._replace(description="", why="")) for p in well.points),
        readings=tuple(_reading(row) for row in well.readings) if readings else (),
        bottom=well.bottom if readings else None,
        series=well.series if readings else (),
    )


def _reading(row: Delivered) -> Delivered:
    entry = row.entry._replace(by="", body="{}", reason="", device="")
    review = row.review._replace(why="") if row.review else None
    return row._replace(entry=entry, review=review, remarks="")
