"""Who may ask: this computer's own browser, from our own pages, and nobody else.

The pages answer on the loopback address, where any website that the user has open can reach them too. Two checks keep
such a site out: the Host header must name this computer (a name that a stranger has pointed at 127.0.0.1 does not),
and what changes something, or opens a live line, must come from a page of ours (Origin, Fetch metadata).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from quarterjack.errors import error_document

OWN_NAMES: Final = frozenset({"localhost", "127.0.0.1", "[::1]"})
_HOST: Final = re.compile(r"(\[[0-9a-fA-F:]+\]|[\w.-]+)(?::\d{1,5})?", re.ASCII)
HARMLESS: Final = frozenset({"GET", "HEAD", "OPTIONS"})


def host_name(host: str) -> str | None:
    """The name in a Host header, without the port; "[::1]" keeps its brackets, and None is no header at all."""
    found = _HOST.fullmatch(host)
    return found[1].lower() if found else None


class Guard:
    """ASGI middleware: checks Host and Origin, and sets the headers that bind a page to its own scripts."""

    def __init__(self, app: ASGIApp, names: Iterable[str] = OWN_NAMES) -> None:
        self.app = app
        self.names = frozenset(names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if scope["type"] == "websocket":
            if refusal:
                await receive()
                await send({"type": "websocket.close", "code": 1008, "reason": refusal})
            else:
                await self.app(scope, receive, send)
            return

        host = headers.get("host", "")

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                self._dress(MutableHeaders(scope=message), host)
            await send(message)

        if refusal:
            answer = JSONResponse(error_document("refused", refusal), status_code=403)
            await answer(scope, receive, send_with_headers)
        else:
            await self.app(scope, receive, send_with_headers)

    def _refusal(self, scope: Scope, headers: Headers) -> str | None:
        host = headers.get("host", "")
        if host_name(host) not in self.names:
            return "This address is not one of this computer's own names; open the page as http://127.0.0.1."
        if scope["type"] == "http" and scope["method"] in HARMLESS:
            return None
        origin = headers.get("origin")
        if origin is not None:
            own = origin.partition("://")[2].lower() == host.lower()
            return None if own else "This was sent from another site; use quarterjack's own pages."
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return "This was sent from another site; use quarterjack's own pages."
        return None

    @staticmethod
    def _dress(headers: MutableHeaders, host: str) -> None:
        charts = headers.get("x-charts") is not None
        if charts:
            del headers["x-charts"]
        # Plotly writes its own style element; no other page may carry a style that is not in our file.
        style = "'self' 'unsafe-inline'" if charts else "'self'"
        headers["content-security-policy"] = (
            "default-src 'none'; script-src 'self'; "
            f"style-src {style}; img-src 'self' data: blob:; media-src 'self' blob:; "
            f"connect-src 'self' ws://{host}; worker-src 'self'; manifest-src 'self'; "
            "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        )
        headers["x-content-type-options"] = "nosniff"
        headers["cross-origin-opener-policy"] = "same-origin"
        headers["cross-origin-resource-policy"] = "same-origin"
        # Not "no-referrer": with it a browser sends "Origin: null" with our own forms.
        headers["referrer-policy"] = "same-origin"
        headers["permissions-policy"] = "microphone=(self), camera=(), geolocation=()"
        headers.setdefault("cache-control", "no-cache")
