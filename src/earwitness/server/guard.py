"""Before any page: whom this server answers, from where a deed may come, and what the browser may do with an answer.

- Host: where nobody signs in, only names of this machine are answered, so that a foreign name that is made to lead here
  (DNS rebinding) reads nothing.
- Origin: a deed comes from a page of this server. What has no Origin must be JSON, which no foreign page can send
  without being asked first, and this server never gives leave to that.
- Headers: a Content-Security-Policy without inline script or style, and the rest of the usual locks.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from earwitness.server.house import House
from earwitness.server.refusal import Refusal, as_json

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "media-src 'self' blob:",
        "connect-src 'self'",
        "font-src 'self'",
        "frame-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
FILE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; media-src data:; sandbox"
LOCKS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(self), geolocation=(), payment=(), usb=()",
}
SAFE = frozenset({"GET", "HEAD"})
DEFAULT_PORTS = {"http": 80, "https": 443}


class Guard:
    def __init__(self, app: ASGIApp, house: House) -> None:
        self.app, self.house = app, house

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def locked(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.setdefault("Content-Security-Policy", POLICY)
                for name, value in LOCKS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
                if scope["scheme"] == "https":
                    headers.setdefault("Strict-Transport-Security", "max-age=31536000")
            await send(message)

        refused = self._refused(scope)
        answer = self.app if refused is None else _plain(refused, scope)
        await answer(scope, receive, locked)

    def _refused(self, scope: Scope) -> Refusal | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self.house.accounts and not _is_ours(host, self.house):
            text = "This server answers on this machine only, as localhost; not as “{host}”."
            return Refusal(421, "host-foreign", text, host=host[:80])
        if scope["method"] in SAFE:
            return None
        origin = headers.get("origin")
        if origin is not None:
            came = (urlsplit(origin).scheme, *_split(urlsplit(origin).netloc, urlsplit(origin).scheme))
            if came != (scope["scheme"], *_split(host, scope["scheme"])):
                return Refusal(403, "origin-foreign", "A page of another server may not do this.")
        elif headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return Refusal(403, "origin-foreign", "A page of another server may not do this.")
        elif scope["method"] == "POST" and headers.get("content-type", "").partition(";")[0] != "application/json":
            text = "A form must say from which page it comes (Origin); a program sends JSON."
            return Refusal(403, "origin-missing", text)
        return None


def _plain(refused: Refusal, scope: Scope) -> ASGIApp:
    if scope["path"].startswith("/api"):
        return JSONResponse(as_json(refused.sentence), refused.status)
    return PlainTextResponse(refused.sentence.text, refused.status)


def _split(netloc: str, scheme: str) -> tuple[str, int | None]:
    try:
        parts = urlsplit(f"//{netloc}")
        return (parts.hostname or "").lower(), parts.port or DEFAULT_PORTS.get(scheme)
    except ValueError:
        return "", None


def _is_ours(host: str, house: House) -> bool:
    name, port = _split(host, "http")
    return name in house.hosts and (house.port is None or port == house.port)
