"""Why a package of files is refused."""

from __future__ import annotations

from tapedown.values.errors import TapedownError


class NotADelivery(TapedownError):
    """What is there is not a delivery, or its manifest cannot be read."""

    def __init__(self, why: str) -> None:
        super().__init__(
            f"this is not a delivery: {why}", hint="name the folder or the zip file that `tapedown deliver` made"
        )


class HostileZip(TapedownError):
    """A zip file that is broken or was made to do harm."""

    def __init__(self, why: str) -> None:
        super().__init__(f"the zip file is not taken: {why}", hint="nothing was written; ask for the files again")


class DeliveryUnsound(TapedownError):
    """A delivery whose files are not as its manifest says."""

    def __init__(self, first: str, count: int) -> None:
        super().__init__(
            f"the delivery was changed since it was made: {first}" + (f", and {count - 1} more" if count > 1 else ""),
            hint="nothing was written; ask for it again, or look at it with `tapedown verify --delivery`",
        )
