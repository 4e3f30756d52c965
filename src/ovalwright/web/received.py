"""Bundles that came in and were looked at, a few of them kept until they are taken in."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from dataclasses import dataclass, field

from ovalwright.notebook.sharing.box import Box, read_box
from ovalwright.notebook.trouble import NotebookTrouble

MOST = 4
"""Bundles kept at a time."""
LARGEST = 16 * 2**20
"""Most bytes of a bundle that is sent to the bench."""


@dataclass
class Received:
    """Bundles as they were sent, the latest last."""

    _sent: OrderedDict[str, tuple[str, bytes]] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def keep(self, name: str, raw: bytes) -> tuple[str, Box]:
        """Keep a bundle; returns by what it is found again, and what it holds. Raises NotebookTrouble."""
        box = read_box(raw, name=name)
        digest = hashlib.sha256(raw).hexdigest()
        with self._lock:
            self._sent.pop(digest, None)
            self._sent[digest] = (name, raw)
            while len(self._sent) > MOST:
                self._sent.popitem(last=False)
        return digest, box

    def of(self, digest: str) -> Box:
        """One that was kept. Raises NotebookTrouble when it is no longer here."""
        with self._lock:
            found = self._sent.get(digest)
        if found is None:
            raise NotebookTrouble("that bundle is no longer at hand; choose its file and look at it again.")
        return read_box(found[1], name=found[0])
