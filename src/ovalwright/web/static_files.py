"""The files that pages need beside themselves, read once; no name from a request is ever opened."""

from __future__ import annotations

import hashlib
import mimetypes
from functools import cache
from importlib import resources
from typing import NamedTuple

from fastapi import HTTPException, Response
from starlette.requests import Request

from ovalwright.web.packed import pack, sent

FOR_A_YEAR = "public, max-age=31536000, immutable"
"""An address holds the hash of its file, so that a changed file has another address."""


class StaticFile(NamedTuple):
    """A file as it is sent, plain and packed where that is shorter, and the hash in its address."""

    content: bytes
    packed: bytes
    kind: str
    version: str


@cache
def static_files() -> dict[str, StaticFile]:
    """All of them by name."""
    found = {}
    for entry in resources.files("ovalwright.web").joinpath("static").iterdir():
        content = entry.read_bytes()
        kind = "font/woff2" if entry.name.endswith(".woff2") else mimetypes.guess_type(entry.name)[0]
        version = hashlib.sha256(content).hexdigest()[:12]
        found[entry.name] = StaticFile(content, _packed(entry.name, content), kind or "text/plain", version)
    return found


def _packed(name: str, content: bytes) -> bytes:
    """A font is packed already."""
    return b"" if name.endswith(".woff2") else pack(content)


def address(name: str) -> str:
    """Where a page finds one."""
    return f"/static/{name}?v={static_files()[name].version}"


def static(request: Request, name: str) -> Response:
    """One of them. Raises HTTPException."""
    file = static_files().get(name)
    if file is None:
        raise HTTPException(404, "There is no such file on the bench.")
    headers = {"Cache-Control": FOR_A_YEAR}
    if not file.packed:
        return Response(file.content, media_type=file.kind, headers=headers)
    return sent(request, file.content, file.kind, packed=file.packed, headers=headers)
