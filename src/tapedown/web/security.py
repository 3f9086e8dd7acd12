"""Who may ask what: hosts, origins, sizes, headers, tokens against forged forms, the key of a shared office.

A page of another site can make a browser send requests here. It cannot read our cookies, it cannot fake `Origin` and
`Sec-Fetch-Site`, and it cannot name a `Host` that we do not answer to; so all of these are looked at.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
from collections.abc import Callable, Collection
from http.cookies import SimpleCookie
from typing import NamedTuple
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from tapedown.values.errors import TapedownError

FORM_COOKIE = "tapedown-form"
KEY_COOKIE = "tapedown-key"
LARGEST_FORM = 1_000_000
LARGEST_UPLOAD = 34_000_000
UPLOAD_PATHS = ("/import", "/loggers/", "/sheet/", "/take-in")
"""Where larger bodies are taken."""
OWN_KEYS = ("/sheet/", "/services/")
"""Rooms that look at their visitors themselves; the office's key is not asked for at their door."""
OPEN_PATHS = ("/enter", "/static/")
LOCAL_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})

HEADERS = {
    "content-security-policy": "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(self), camera=(self), microphone=()",
    "cache-control": "no-store",
}
_SAFE = {"GET", "HEAD", "OPTIONS"}


class StrangeHost(TapedownError):
    """The request names a host that this office is not."""

    def __init__(self) -> None:
        super().__init__("this office does not answer to that name", hint="use the address that was printed at start")


class ForeignOrigin(TapedownError):
    """A request that changes something comes from another site, or does not say where from."""

    def __init__(self) -> None:
        super().__init__(
            "the request did not come from a page of this office",
            hint="open the page here and send the form from it; a program sends Origin or Sec-Fetch-Site",
        )


class ForgedForm(TapedownError):
    """A form without the token of its page."""

    def __init__(self) -> None:
        super().__init__(
            "the form does not carry the token of its page: the office was started anew, or it came from elsewhere",
            hint="go back (what you typed is still there), reload the page in another tab, and send it again",
        )


class TooLarge(TapedownError):
    """A request with more in it than is taken."""

    def __init__(self, limit: int) -> None:
        super().__init__(
            f"more than {limit // 1_000_000} MB was sent", hint="send less at once; cut the table into parts"
        )


class NoKey(TapedownError):
    """The office asks for a key and none was shown."""

    def __init__(self) -> None:
        super().__init__(
            "this office asks for its key", hint="open the address with the key that was printed when it was started"
        )


class Doors(NamedTuple):
    """How an office is guarded.

    names     host names it answers to; `any_address` lets any bare IP address in as well (no site can be made to
              point a browser at us by name then, which is what the check is for)
    key_sha256  sha256 of the access key, "" when none is asked for
    secret    signs form tokens and key cookies; a new one at each start
    """

    names: Collection[str] = LOCAL_NAMES
    any_address: bool = False
    key_sha256: str = ""
    secret: bytes = b""
    tls: bool = False

    def known_host(self, host: str) -> bool:
        """Whether a Host header names this office."""
        name = (urlsplit(f"//{host}").hostname or "") if _plain(host) else ""
        return name in self.names or (self.any_address and _is_address(name))

    def opens(self, key: str) -> bool:
        """Whether this is the access key."""
        digest = hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()
        return bool(self.key_sha256) and hmac.compare_digest(digest, self.key_sha256)

    def sealed(self, words: str) -> str:
        """A seal on words that only this office can make."""
        return hmac.new(self.secret, words.encode("utf-8", "replace"), hashlib.sha256).hexdigest()

    def let_in(self, cookies: dict[str, str]) -> bool:
        """Whether a browser has shown the key before."""
        return not self.key_sha256 or hmac.compare_digest(
            cookies.get(KEY_COOKIE, "").encode("utf-8", "replace"), self.sealed("key " + self.key_sha256).encode()
        )


def new_doors(
    *, names: Collection[str] = LOCAL_NAMES, any_address: bool = False, key: str = "", tls: bool = False
) -> Doors:
    """Doors with a fresh secret; the key is kept as its digest only."""
    digest = hashlib.sha256(key.encode()).hexdigest() if key else ""
    return Doors(names, any_address, digest, secrets.token_bytes(32), tls)


def form_token(doors: Doors, cookie: str) -> str:
    """The token that a page's forms carry, bound to the browser's cookie."""
    return doors.sealed("form " + cookie)


def check_form_token(request: Request, given: str) -> None:
    """Raises ForgedForm unless the token belongs to the browser's cookie."""
    cookie = request.cookies.get(FORM_COOKIE, "")
    doors: Doors = request.app.state.office.doors
    good = form_token(doors, cookie).encode()
    if not cookie or not hmac.compare_digest(given.encode("utf-8", "replace"), good):
        raise ForgedForm


class Guard:
    """Wraps the application: looks at every request before it, and puts the headers on every answer.

    `refused` makes the page that says why a request is not served.
    """

    def __init__(self, app: ASGIApp, doors: Doors, refused: Callable[[Request, TapedownError], Response]) -> None:
        self.app, self.doors, self.refused = app, doors, refused

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer why not."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        cookies = {name: morsel.value for name, morsel in _cookies(headers).items()}
        fresh = "" if cookies.get(FORM_COOKIE) else secrets.token_urlsafe(32)
        scope["form_cookie"] = cookies.get(FORM_COOKIE) or fresh
        limit = LARGEST_UPLOAD if scope["path"].startswith(UPLOAD_PATHS) else LARGEST_FORM
        answering = self._answering(send, fresh, scope["path"])
        refusal = self.refusal(scope, headers, cookies, limit)
        if refusal is None:
            await self.app(scope, _counted(receive, limit), answering)
        else:
            await self.refused(Request(scope), refusal)(scope, receive, answering)

    def refusal(self, scope: Scope, headers: Headers, cookies: dict[str, str], limit: int) -> TapedownError | None:
        """Why the request is not served, None when it is."""
        if not self.doors.known_host(headers.get("host", "")):
            return StrangeHost()
        if scope["method"] not in _SAFE and not _same_origin(headers, tls=self.doors.tls):
            return ForeignOrigin()
        length = headers.get("content-length", "0")
        if length.isascii() and length.isdigit() and int(length) > limit:
            return TooLarge(limit)
        free = scope["path"].startswith((*OPEN_PATHS, *OWN_KEYS))
        return None if free or self.doors.let_in(cookies) else NoKey()

    def _answering(self, send: Send, fresh: str, path: str) -> Send:
        async def answered(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if path.startswith("/static/"):
                    headers["cache-control"] = "max-age=3600"
                if fresh:
                    headers.append("set-cookie", cookie_line(FORM_COOKIE, fresh, tls=self.doors.tls))
            await send(message)

        return answered


def cookie_line(name: str, value: str, *, tls: bool, age_s: int = 0) -> str:
    """A cookie that no script reads and no other site sends."""
    lasting = f"; Max-Age={age_s}" if age_s else ""
    return f"{name}={value}; Path=/; HttpOnly; SameSite=Strict{lasting}{'; Secure' if tls else ''}"


def _cookies(headers: Headers) -> SimpleCookie:
    found = SimpleCookie()
    for part in headers.get("cookie", "").split(";"):
        name, _, value = part.strip().partition("=")
        if name in {FORM_COOKIE, KEY_COOKIE}:
            found[name] = value
    return found


def _same_origin(headers: Headers, *, tls: bool) -> bool:
    """Whether a browser says the request comes from a page of ours; one that says nothing is not believed."""
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is None and origin is None:
        return False
    ours = f"{'https' if tls else 'http'}://{headers.get('host', '')}"
    return site in (None, "same-origin") and origin in (None, ours)


def _counted(receive: Receive, limit: int) -> Receive:
    """Stops a body that is longer than it said."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            raise TooLarge(limit)
        return message

    return counted


def _plain(host: str) -> bool:
    return host.isascii() and not any(c in host for c in "/@?#\\ ")


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True
