"""Who may speak to the app, and how: host names, where a write came from, signing in, how often, what a page may load."""

from __future__ import annotations

import json
import re
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect, cookie_parser
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from borewright.errors import Refused

if TYPE_CHECKING:
    from borewright.storage import Accounts

__all__ = ["LOOPBACK", "Access", "Guard", "NotAllowed", "Pace", "needed"]

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
# Pages load nothing but what this server sends. Drawings place themselves with style attributes; scripts and sheets are files.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; img-src 'self' data: blob:; "
    "font-src 'self' data:; connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
COOKIE = "borewright_session"
KEPT = 30 * 86400  # s: a rig phone may be out of coverage for weeks; the store's own sessions run as long
OPEN_PATHS = ("/sign-in", "/static/", "/phone", "/rig/manifest.webmanifest", "/rig/sw.js")
LARGEST_BODY = 32 * 2**20
_TOO_LARGE = (413, "body", "is larger than 32 MB", "fewer entries or a smaller file")


@dataclass(frozen=True, slots=True)
class Access:
    """Which host names are answered, and whether people sign in; nobody has to on this machine alone."""

    hosts: frozenset[str] = LOOPBACK
    sign_in: bool = False
    secure: bool = False
    addresses: tuple[str, ...] = ()  # full addresses to open on a phone, the best first
    fingerprint: str = ""
    authority: Path | None = None  # the certificate a phone has to trust


@dataclass(slots=True)
class Pace:
    """So many goes a minute for one address; a go is refused once they are used up."""

    a_minute: float
    burst: float
    _left: dict[str, tuple[float, float]] = field(default_factory=dict)

    def take(self, who: str, now: float | None = None) -> bool:
        """Return whether one more go is allowed."""
        now = time.monotonic() if now is None else now
        left, since = self._left.get(who, (self.burst, now))
        left = min(self.burst, left + (now - since) * self.a_minute / 60)
        allowed = left >= 1
        if len(self._left) > 10_000:
            self._left.clear()
        self._left[who] = (left - 1 if allowed else left, now)
        return allowed


class NotAllowed(Refused):
    """The role of who is signed in does not allow it."""

    def __init__(self, role: str, what: str):
        needs = {"rig": "writing rig entries", "write": "writing in the job book", "firm": "the firm's settings, rates and people"}[what]
        super().__init__(f"A {role} may not do that: it needs leave for {needs}. Ask an owner.")


_FIRM = re.compile(r"/(settings|rates|people)(/|$)")
_RIG = re.compile(r"/api/(entries|attachments)$|/jobs/[^/]+/(rig/|strike/)")
_READ = re.compile(r"/(api/)?bench(/|$)|/api/design/check$|/sign-out$|/people/mine$")


def needed(method: str, path: str) -> str:
    """Return what a request asks leave for: "read", "rig", "write" or "firm"."""
    reading = method in ("GET", "HEAD", "OPTIONS")
    if _READ.match(path):
        return "read"
    if _FIRM.match(path):
        return "read" if reading and not path.startswith("/people") else "firm"
    if reading:
        return "read"
    return "rig" if _RIG.match(path) else "write"


class Guard:
    """Wraps the app. Refuses in the API's own error shape under /api, in a plain sentence elsewhere."""

    def __init__(self, app: ASGIApp, access: Access, accounts: Accounts):
        self.app, self.access, self.accounts = app, access, accounts
        self.pace = Pace(a_minute=3000, burst=600)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope) or await self._who(scope)
        if refusal is not None:
            await _refuse(scope, send, *refusal)
            return

        taken, begun = 0, False

        async def measured() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            # A body sent in pieces names no length beforehand; one that grows too long is cut off as if the caller had gone.
            return message if taken <= LARGEST_BODY else {"type": "http.disconnect"}

        async def dressed(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                headers.setdefault("Content-Security-Policy", POLICY)
                headers["X-Content-Type-Options"] = "nosniff"
                headers["Referrer-Policy"] = "same-origin"
                headers["Cross-Origin-Opener-Policy"] = "same-origin"
                headers["Cross-Origin-Resource-Policy"] = "same-origin"
                headers["Permissions-Policy"] = "geolocation=(self), camera=(self), microphone=()"
                if not scope["path"].startswith("/static/"):
                    headers.setdefault("Cache-Control", "no-store")
                if self.access.secure:
                    headers["Strict-Transport-Security"] = "max-age=86400"
            await send(message)

        try:
            await self.app(scope, measured, dressed)
        except ClientDisconnect:
            if taken <= LARGEST_BODY or begun:
                raise
            await _refuse(scope, send, *_TOO_LARGE)

    def _refusal(self, scope: Scope) -> tuple[int, str, str, str] | None:
        """Return (status, field, problem, want) for a request that is not answered."""
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if _name(host) not in self.access.hosts:
            return 421, "Host", "is not a name of this machine", "one of " + ", ".join(sorted(self.access.hosts))
        if scope["method"] not in ("GET", "HEAD", "OPTIONS"):
            if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
                return 403, "Sec-Fetch-Site", "is another site's page", "a page of this app"
            origin = headers.get("origin")
            if origin is not None and urlsplit(origin).netloc != host:
                return 403, "Origin", "is another site", f"a page of {host}"
            length = headers.get("content-length", "0")
            if not length.isdigit() or int(length) > LARGEST_BODY:
                return _TOO_LARGE
        who = scope["client"][0] if scope.get("client") else "?"
        if who not in LOOPBACK and not self.pace.take(who):
            return 429, "requests", "come faster than they are answered", "a pause of a minute"
        return None

    async def _who(self, scope: Scope) -> tuple[int, str, str, str] | None:
        """Find who is signed in and whether the role allows the request; the store is asked off the loop."""
        if not self.access.sign_in:
            return None
        path = scope["path"]
        cookie = cookie_parser(Headers(scope=scope).get("cookie", "")).get(COOKIE, "")
        account = await run_in_threadpool(self.accounts.session, cookie) if cookie and not path.startswith("/static/") else None
        scope["account"] = account
        if path.startswith(OPEN_PATHS):
            return None
        if account is None:
            return 401, "session", "is not signed in", "a name and passphrase at /sign-in"
        what = needed(scope["method"], path)
        return None if account.may(what) else (403, "role", str(NotAllowed(account.role, what)), "an owner's leave")


def _name(host: str) -> str:
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.partition(":")[0].lower()


async def _refuse(scope: Scope, send: Send, status: int, field_name: str, problem: str, want: str) -> None:
    headers = [(b"content-security-policy", POLICY.encode()), (b"cache-control", b"no-store"), (b"x-content-type-options", b"nosniff")]
    if status == 401 and not scope["path"].startswith("/api/"):
        status, body = 303, b""
        headers += [(b"location", b"/sign-in")]
    elif scope["path"].startswith("/api/"):
        body = json.dumps({"error": {"field": field_name, "value": None, "problem": problem, "want": want}}).encode()
        headers += [(b"content-type", b"application/json")]
    else:
        body = f"{field_name}: {problem} (want {want})\n".encode()
        headers += [(b"content-type", b"text/plain; charset=utf-8")]
    await send({"type": "http.response.start", "status": status, "headers": [*headers, (b"content-length", str(len(body)).encode())]})
    await send({"type": "http.response.body", "body": body})
