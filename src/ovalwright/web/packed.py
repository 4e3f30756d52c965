"""Text goes over packed to a browser that can unfold it: a phone has it sooner, and a page weighs less."""

from __future__ import annotations

import gzip
from collections.abc import Mapping

from fastapi import Response
from starlette.requests import Request


def pack(content: bytes) -> bytes:
    """Content packed, the same at every time."""
    return gzip.compress(content, mtime=0)


def sent(
    request: Request, content: bytes, kind: str, *, packed: bytes, headers: Mapping[str, str] | None = None
) -> Response:
    """An answer of some kind of content, packed where the browser takes it so."""
    told = {**(headers or {}), "Vary": "Accept-Encoding"}
    if "gzip" not in request.headers.get("accept-encoding", ""):
        return Response(content, media_type=kind, headers=told)
    return Response(packed, media_type=kind, headers={**told, "Content-Encoding": "gzip"})
