"""What holds for every request and answer: who may ask from where, and what a browser may do with the answer."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from firstrocker.web.options import Options

PAGE_POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "frame-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=()",
    "cache-control": "no-store",
}
SAFE = ("GET", "HEAD", "OPTIONS")


class Guard:
    """Refuses foreign hosts and foreign forms; puts the security headers on every answer."""

    def __init__(self, app: ASGIApp, options: Options) -> None:
        self.app, self.options = app, options

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if scope["path"].startswith("/static/"):
                    headers.setdefault("cache-control", "no-cache")  # kept, and asked for whether it changed
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if self.options.secure:
                    headers.setdefault("strict-transport-security", "max-age=31536000")
            await send(message)

        refusal = self._refusal(scope)
        if refusal:
            await PlainTextResponse(refusal, status_code=403)(scope, receive, send_guarded)
        else:
            await self.app(scope, receive, send_guarded)

    def _refusal(self, scope: Scope) -> str:
        headers = Headers(scope=scope)
        if headers.get("host", "").lower() not in self.options.hosts:
            # A foreign name that was made to point here would otherwise pass for this origin.
            return "This page is not served under that name."
        if scope["method"] in SAFE:
            return ""
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        if (origin is not None and origin not in self.options.origins) or site not in (None, "same-origin", "none"):
            return "Forms of other pages are not taken."
        return ""
