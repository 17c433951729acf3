"""What stands before every screen: the name it is asked for under, the session, the size of what is sent, headers."""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from finishmatch.bench.bench import Bench
from finishmatch.bench.sessions import Session
from finishmatch.bench.sheets import sheet_allowed, static

COOKIE = "finishmatch-bench"
LARGEST_FORM = 1_000_000
LARGEST_UPLOAD = 40_000_000
LARGEST_BEFORE_PAIRING = 4_000

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' {sheet}; img-src 'self' blob: data:; connect-src 'self'; "
    "manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",  # with none at all a form without a script has no origin
    "permissions-policy": "camera=(self), microphone=(self), geolocation=(), payment=(), usb=(), interest-cohort=()",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


class Guard:
    """Lets through what may pass, and puts the headers on what goes out.

    Parameters
    ----------
    app : ASGIApp
    bench : Bench
    """

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        self._app, self._bench = app, bench

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers, path, method = Headers(scope=scope), scope["path"], scope["method"]
        answer = _Answer(send, _kept_for(path))
        if not self._asked_for_here(headers, scope):
            await answer.refuse(421, "this page isn't served under that name")
            return
        open_to_all = path.startswith("/static/") or path == "/pair"
        session = self._session(headers)
        if session is None and not self._bench.served.lan and not open_to_all:
            secret = self._bench.devices.here()
            session = self._bench.devices.session(secret)
            answer.cookie = cookie(secret)
        if session is None and not open_to_all:
            await answer.to_pairing(method, headers)
            return
        if method not in ("GET", "HEAD") and _from_elsewhere(headers):
            await answer.refuse(403, "what is sent from another page isn't taken")
            return
        scope.setdefault("state", {})["session"] = session
        limit = LARGEST_BEFORE_PAIRING if session is None else _largest(headers)
        if int(headers.get("content-length") or 0) > limit:
            await answer.refuse(413, f"more than {limit / 1e6:g} MB is too much")
            return
        await self._app(scope, _Bounded(receive, limit), answer.send)

    def _asked_for_here(self, headers: Headers, scope: Scope) -> bool:
        """Return whether the page is asked for under a name of its own: another page may lead here by its own name.

        Where devices may come, so is the address of this machine by which one came, of however many networks it is on.
        """
        host = headers.get("host", "").lower()
        name = host[: host.index("]") + 1] if host.startswith("[") and "]" in host else host.partition(":")[0]
        if name in self._bench.served.hosts:
            return True
        came_by = (scope.get("server") or ("",))[0]
        return self._bench.served.lan and name == came_by and _is_address(name)

    def _session(self, headers: Headers) -> Session | None:
        return self._bench.devices.session(secret_in(headers.get("cookie", "")))


def secret_in(cookies: str) -> str:
    """Return the secret of a device from what its browser sends, or ""."""
    try:
        found = SimpleCookie(cookies[:4000]).get(COOKIE)
    except CookieError:
        return ""
    return "" if found is None else found.value


def cookie(secret: str, days: int | None = None) -> str:
    """Return the header that has a browser keep a secret; without days until it is closed."""
    kept = "" if days is None else f"; Max-Age={days * 86400}"
    return f"{COOKIE}={secret}; Path=/; HttpOnly; SameSite=Strict{kept}"


def _is_address(name: str) -> bool:
    """Return whether a name is an address, which nobody else can have lead here."""
    try:
        return bool(ip_address(name))
    except ValueError:
        return False


def _kept_for(path: str) -> str:
    """Return how long a browser may keep something: pages not at all, what has an address that tells its content."""
    if not path.startswith("/static/"):
        return "no-store"
    return "public, max-age=31536000, immutable" if path.startswith(static("")) else "no-cache"


def _from_elsewhere(headers: Headers) -> bool:
    """Return whether a browser says that something is sent from another page than ours."""
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return True
    origin = headers.get("origin")
    return origin is not None and origin.partition("://")[2] != headers.get("host", "")


def _largest(headers: Headers) -> int:
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    return LARGEST_UPLOAD if kind in ("multipart/form-data", "application/octet-stream") else LARGEST_FORM


class TooMuchError(Exception):
    """More is sent than is taken."""


class _Bounded:
    """Takes no more of a body than is allowed, whatever its length is said to be."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self._receive, self._left = receive, limit

    async def __call__(self) -> Message:
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            raise TooMuchError
        return message


class _Answer:
    """What goes out, with the headers on it."""

    def __init__(self, send: Send, kept_for: str) -> None:
        self._send, self._kept_for = send, kept_for
        self.cookie = ""

    async def send(self, message: Message) -> None:
        """Send on, with the headers put on."""
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers["content-security-policy"] = POLICY.format(sheet=sheet_allowed())
            if "cache-control" not in headers:
                headers["cache-control"] = self._kept_for
            if self.cookie:
                headers.append("set-cookie", self.cookie)
        await self._send(message)

    async def refuse(self, status: int, what: str) -> None:
        """Say in one line what isn't served."""
        await self._plain(status, what, ())

    async def to_pairing(self, method: str, headers: Headers) -> None:
        """Lead a browser that isn't paired to where it can be; tell anything else that it isn't."""
        if method == "GET" and "text/html" in headers.get("accept", ""):
            await self._plain(303, "pair this device first", [(b"location", b"/pair")])
        else:
            await self._plain(401, "this device isn't paired", ())

    async def _plain(self, status: int, what: str, further: object) -> None:
        more = list(further) if isinstance(further, list) else []
        headers = [(b"content-type", b"text/plain; charset=utf-8"), *more]
        await self.send({"type": "http.response.start", "status": status, "headers": headers})
        await self.send({"type": "http.response.body", "body": f"{what}\n".encode()})
