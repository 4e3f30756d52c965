"""What every answer carries and every request must keep to, whatever page it is for."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ovalwright.web.door import Door

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
# With no-referrer a browser says `Origin: null` of the bench's own forms; same-origin tells others as little.
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
MOST_SENT = 2 * 2**20
"""Most bytes that a request may carry, unless its route says more."""
STATIC, COME_IN = "/static/", "/come-in"


class Shield:
    """Headers on every answer, even on one that never reached a page."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(HEADERS)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, send_with_headers if scope["type"] == "http" else send)


class Guard:
    """Pages only for those whom the door is open to, the rest see the door; and nothing for a page of another
    site, which could else make the bench work without anybody seeing it.
    """

    def __init__(self, app: ASGIApp, *, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or show it the door."""
        if scope["type"] != "http" or scope["path"].startswith((STATIC, COME_IN)):
            await self.app(scope, receive, send)
            return
        request = HTTPConnection(scope)
        answer: ASGIApp = self.app if self.door.is_open_to(request) else _to_the_door(request)
        if _is_fetched_by_another_site(request):
            answer = PlainTextResponse("That was asked for by another page than one of this bench.", 403)
        await answer(scope, receive, send)


def _is_fetched_by_another_site(request: HTTPConnection) -> bool:
    """By what browsers say of it (W3C, Fetch Metadata Request Headers). A link that is followed is no fetch;
    what else is served on the laptop, on other ports, is another site here.
    """
    told = request.headers.get
    is_followed = (told("sec-fetch-mode"), told("sec-fetch-dest")) == ("navigate", "document")
    return told("sec-fetch-site", "none") not in ("same-origin", "none") and not is_followed


def _to_the_door(request: HTTPConnection) -> Response:
    if "hx-request" in request.headers:
        return PlainTextResponse("Come in with the passcode first.", 401, headers={"HX-Redirect": COME_IN})
    return RedirectResponse(COME_IN, status_code=303)
