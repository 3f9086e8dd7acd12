"""Pairing a phone with the office: a code shown once, then a key that only the phone keeps.

The code is short because a person types it; so it is good once, for ten minutes, and few wrong tries are let through.
The key is 32 random bytes, so its plain SHA-256 gives nothing away; that alone is kept, in an entry that a strike
revokes.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
import threading
from collections import deque
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import NamedTuple

from tapedown.record import append, entries, entries_after, heads
from tapedown.values.errors import TapedownError
from tapedown.values.kinds import KINDS, about_device
from tapedown.values.ledger.entries import Entry
from tapedown.values.rounds import Device
from tapedown.work.authorship import Author, now
from tapedown.work.entry.entering import strike
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import WrittenWrong

ALPHABET = "ACDEFHJKMNPRTVWXY34679"
"""Letters and digits that are not taken for one another when read aloud or typed."""
HALF = 4
"""A code is two groups of this many."""
GOOD_FOR = timedelta(minutes=10)
TRIES, TRIES_WITHIN = 5, timedelta(minutes=1)
MOST_CODES = 50
"""Codes that wait at a time; the oldest gives way."""
LONGEST_LABEL = 80


class CodeUnknown(TapedownError):
    """A code that was not given out, was used, or is too old."""

    def __init__(self) -> None:
        super().__init__(
            "this code is not known: it was used, is older than ten minutes, or was mistyped",
            hint="make a new code in the office (page Pair a phone) and use it at once",
        )


class TooManyTries(TapedownError):
    """Too many wrong codes lately."""

    def __init__(self) -> None:
        super().__init__("too many wrong codes were tried", hint="wait a minute, then try again with a fresh code")


class KeyUnknown(TapedownError):
    """A key that belongs to no device, or to one that was revoked."""

    def __init__(self) -> None:
        super().__init__(
            "this device is not paired, or its key was revoked",
            hint="pair it again with a code from the office; what it holds is kept and can be sent afterwards",
        )


class NoSuchDevice(TapedownError):
    """There is no such device."""

    def __init__(self, name: str) -> None:
        super().__init__(f"no device {name!r}", hint="see the list of paired devices")


class Code(NamedTuple):
    """A pairing code, who made it, and until when it is good."""

    text: str
    by: str
    until: datetime


class Codes:
    """The codes that wait to be used, in the memory of the running office; safe to share between threads."""

    def __init__(self, clock: Callable[[], datetime] = now) -> None:
        self._clock = clock
        self._waiting: list[Code] = []
        self._wrong: deque[datetime] = deque()
        self._lock = threading.Lock()

    def make(self, by: str) -> Code:
        """A fresh code."""
        letters = "".join(secrets.choice(ALPHABET) for _ in range(2 * HALF))
        code = Code(f"{letters[:HALF]}-{letters[HALF:]}", by, self._clock() + GOOD_FOR)
        with self._lock:
            self._waiting = [*self._good()[-MOST_CODES + 1 :], code]
        return code

    def use(self, typed: str) -> Code:
        """The code that was typed, which is good no longer afterwards.

        Raises
        ------
        TooManyTries
            Five wrong codes within the last minute: nothing is looked up.
        CodeUnknown
        """
        with self._lock:
            moment = self._clock()
            while self._wrong and moment - self._wrong[0] >= TRIES_WITHIN:
                self._wrong.popleft()
            if len(self._wrong) >= TRIES:
                raise TooManyTries
            plain = _plain(typed)
            matching = [code for code in self._good() if hmac.compare_digest(_plain(code.text), plain)]
            if not matching:
                self._wrong.append(moment)
                raise CodeUnknown
            self._waiting.remove(matching[0])
            return matching[0]

    def _good(self) -> list[Code]:
        moment = self._clock()
        return [code for code in self._waiting if code.until > moment]


def _plain(typed: str) -> bytes:
    """A code as it is compared: however it was typed."""
    return "".join(typed.upper().replace("-", "").split()).encode("utf-8", "replace")


class Paired(NamedTuple):
    """What a device is told when it is paired, once."""

    device: str
    key: str


class DeviceNow(NamedTuple):
    """A paired device; last is the last entry it handed in."""

    entry: Entry
    device: Device
    struck_by: str | None
    last: Entry | None


def pair(network: OpenNetwork, codes: Codes, typed: str, label: str, author: Author) -> Paired:
    """Pair a device that shows a good code; its entry is written by the office in the name of whoever made the code.

    Raises
    ------
    WrittenWrong
        The label holds what cannot be kept.
    CodeUnknown, TooManyTries
    """
    name = f"phone-{secrets.token_hex(4)}"
    key = base64.urlsafe_b64encode(secrets.token_bytes(32)).rstrip(b"=").decode()
    given = {"name": name, "label": label[:LONGEST_LABEL], "key_sha256": _digest(key)}
    device, problems = KINDS["device"].read(given, network.unit)
    if device is None:
        raise WrittenWrong("the device", problems)
    writer = author._replace(by=codes.use(typed).by)
    draft = writer.draft("device", about_device(name), KINDS["device"].body(device))
    append(network.record, writer.device, [draft])
    return Paired(name, key)


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


def device_of_key(network: OpenNetwork, key: str) -> Device:
    """The device a key belongs to.

    Raises
    ------
    KeyUnknown
        No device's, or that of a revoked one.
    """
    digest = _digest(key).encode()
    matching = [
        d
        for _, d, struck_by in _held(network)
        if struck_by is None and hmac.compare_digest(d.key_sha256.encode(), digest)
    ]
    if not matching:
        raise KeyUnknown
    return matching[0]


def _held(network: OpenNetwork) -> list[tuple[Entry, Device, str | None]]:
    """Every device with its entry and what struck that, newest first."""
    held = entries(network.record, kinds=["device"], struck=True)
    read = [(h.entry, KINDS["device"].read(h.entry.data, network.unit)[0], h.struck_by) for h in reversed(held)]
    return [(entry, device, struck_by) for entry, device, struck_by in read if device is not None]


def devices(network: OpenNetwork) -> list[DeviceNow]:
    """All devices that were ever paired, newest first; struck_by is set for revoked ones."""
    held = _held(network)
    paired = {device.name for _, device, _ in held}
    ends = heads(network.record)
    before_last = [end._replace(sequence=end.sequence - 1) if end.device in paired else end for end in ends]
    last = {entry.device: entry for entry in entries_after(network.record, before_last)} if held else {}
    return [DeviceNow(entry, device, struck_by, last.get(device.name)) for entry, device, struck_by in held]


def revoke(network: OpenNetwork, name: str, reason: str, author: Author) -> None:
    """Strike a device's entry: its key opens nothing from now on. What it handed in stays.

    Raises
    ------
    NoSuchDevice, ReasonMissing, AlreadyStruck
    """
    pairings = [entry for entry, device, _ in _held(network) if device.name == name]
    if not pairings:
        raise NoSuchDevice(name)
    strike(network, pairings[0].id, reason, author)
