"""Who may come in: anyone on the laptop itself; from the network who knows the passcode, and not in haste.

A phone that came in holds a signed cookie; every change carries a token that only a page of the bench knows.
"""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import ipaddress
import json
import os
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from fastapi import HTTPException
from starlette.requests import HTTPConnection, Request

LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
"""Without the ones that are read for another."""
GROUPS, GROUP = 2, 4
FREE_TRIES = 3
LONGEST_WAIT = 900.0
"""After the free tries each wrong one doubles the wait [s] of its address, up to this."""
MOST_COUNTED = 20
"""Wrong ones of an address are counted up to this; by then it waits longest."""
MOST_ADDRESSES = 1024
STAYS_IN = 3 * 24 * 3600
"""How long a phone stays in [s]: a race weekend."""
COOKIE = "ovalwright"
CSRF_FIELD, CSRF_HEADER = "csrf", "X-CSRF"
KEY_FILE, KEY_BYTES = "bench.json", 32
MOST_PUT_OUT = 256
READING = frozenset(("GET", "HEAD", "OPTIONS"))


def new_passcode() -> str:
    """A passcode for one evening: eight characters, about 40 bits, easy to read out over an engine."""
    groups = ("".join(secrets.choice(LETTERS) for _ in range(GROUP)) for _ in range(GROUPS))
    return "-".join(groups)


def with_passcode(address: str, passcode: str) -> str:
    """The address that brings the passcode along behind a #, which a browser never sends."""
    return f"{address}come-in#{passcode}"


# ---------------- the key


@dataclass
class Key:
    """The secret that signs, kept in a file that only its owner reads, and who was put out early."""

    path: Path
    secret: str
    out: list[str] = field(default_factory=list)

    @classmethod
    def kept_in(cls, folder: Path) -> Key:
        """The key of a folder, made on first use. Raises OSError."""
        path = folder / KEY_FILE
        with contextlib.suppress(FileNotFoundError, ValueError, KeyError, TypeError):
            told = json.loads(path.read_text(encoding="utf-8"))
            if len(bytes.fromhex(told["key"])) == KEY_BYTES:
                return cls(path, told["key"], [str(one) for one in told["out"]])
        key = cls(path, secrets.token_hex(KEY_BYTES))
        key.keep()
        return key

    def keep(self) -> None:
        """Write it, whole or not at all."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        beside = self.path.with_name(f"{self.path.name}.{secrets.token_hex(4)}")
        text = json.dumps({"key": self.secret, "out": self.out[-MOST_PUT_OUT:]})
        with open(
            os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
        ) as file:
            file.write(text)
        beside.replace(self.path)

    def sign(self, what: str) -> str:
        """A token that nobody without the key can make."""
        return hmac.new(bytes.fromhex(self.secret), what.encode(), "sha256").hexdigest()


# ---------------- haste


@dataclass
class Tries:
    """Wrong passcodes by address, each costing a longer wait than the one before. A try is counted before it
    is looked at, so that many at once are no more than one after the other.
    """

    clock: Callable[[], float] = time.monotonic
    _wrong: dict[str, tuple[int, float]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait(self, address: str) -> float:
        """Seconds that an address has still to wait."""
        return max(self._wrong.get(address, (0, 0.0))[1] - self.clock(), 0.0)

    def take(self, address: str) -> float:
        """One more try of an address, which counts as wrong until it is `right`; or the seconds [s] that it
        has still to wait for one.
        """
        with self._lock:
            if wait := self.wait(address):
                return wait
            count = min(self._wrong.pop(address, (0, 0.0))[0] + 1, MOST_COUNTED)
            pause = min(2.0 ** (count - FREE_TRIES), LONGEST_WAIT) if count >= FREE_TRIES else 0.0
            while len(self._wrong) >= MOST_ADDRESSES:
                del self._wrong[next(iter(self._wrong))]
            self._wrong[address] = (count, self.clock() + pause)
            return 0.0

    def right(self, address: str) -> None:
        """Forget what was wrong before."""
        with self._lock:
            self._wrong.pop(address, None)


# ---------------- the door


@dataclass
class Door:
    """The door of one bench; without a passcode nobody comes in from the network."""

    key: Key
    passcode: str = ""
    tries: Tries = field(default_factory=Tries)

    def is_open_to(self, request: HTTPConnection) -> bool:
        """Whether a request may see the pages: it comes from the laptop itself, or from a phone let in."""
        return is_here(request) or (bool(self.passcode) and bool(self.session_of(request)))

    def session_of(self, request: HTTPConnection) -> str:
        """The session of a phone that was let in and not put out, else nothing."""
        session = str(request.session.get("id", ""))
        return "" if session in self.key.out else session

    def knock(self, request: Request, said: str) -> str:
        """Let in who says the passcode; returns why not in one sentence, or nothing."""
        address = request.client.host if request.client else ""
        if wait := self.tries.take(address):
            return f"That was wrong too often; wait {wait:.0f} seconds, then type it again."
        if not self.passcode or not hmac.compare_digest(_plain(said), _plain(self.passcode)):
            return "That is not the passcode; it stands on the laptop, eight letters and figures."
        self.tries.right(address)
        request.session.clear()
        request.session["id"] = secrets.token_hex(16)
        return ""

    def leave(self, request: Request) -> None:
        """Put this phone out: its cookie is worth nothing from now on."""
        session = self.session_of(request)
        request.session.clear()
        if session:
            self.key.out.append(session)
            self.key.keep()

    def token(self, request: HTTPConnection) -> str:
        """The token that a change made from this device has to carry: one on the laptop, one for each phone
        that came in, and one that all strangers have for knocking.
        """
        where = "here" if is_here(request) else "there"
        return self.key.sign(f"change {where} {self.session_of(request)}")

    async def check_change(self, request: Request) -> None:
        """That a change comes from a page of this bench. Raises HTTPException."""
        origin = request.headers.get("origin")
        if origin is not None and urlsplit(origin).netloc != request.headers.get("host"):
            raise HTTPException(
                403, "That came from another page than one of this bench; nothing was changed."
            )
        told = request.headers.get(CSRF_HEADER) or str((await request.form()).get(CSRF_FIELD, ""))
        if not hmac.compare_digest(told.encode(), self.token(request).encode()):
            raise HTTPException(
                403, "This page is older than its sign-in; load it again, then send it again."
            )


def is_here(request: HTTPConnection) -> bool:
    """Whether a request comes from the laptop itself."""
    try:
        return request.client is not None and ipaddress.ip_address(request.client.host).is_loopback
    except ValueError:
        return False


def who(request: Request) -> str:
    """Who presses, as others are told: the laptop, or a phone by a mark of its own."""
    session = str(request.session.get("id", ""))
    if is_here(request) or not session:
        return "the laptop"
    return f"phone {hashlib.sha256(session.encode()).hexdigest()[:4]}"


def _plain(said: str) -> bytes:
    return "".join(c for c in said.lower() if c.isalnum()).encode()
