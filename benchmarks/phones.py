"""Phones in the shop, for locust: each moves a slider of the turn five times a second.

Run by `python benchmarks/bench.py phones`.
"""

from __future__ import annotations

import random
import re

from locust import FastHttpUser, constant_pacing, task

MOVES_A_SECOND = 5.0
HTMX = {"HX-Request": "true", "HX-Target": "now"}


class Phone(FastHttpUser):
    """One phone: the page once, then its sliders."""

    wait_time = constant_pacing(1.0 / MOVES_A_SECOND)

    def on_start(self) -> None:
        """Open the page and read how far its sliders go."""
        page = self.client.get("/turn", name="the page").text
        self.most = {
            name: float(re.search(rf'id="{name}"[^>]* max="([0-9.]+)"', page)[1]) for name in ("at", "fuel")
        }

    @task
    def move(self) -> None:
        """A thumb somewhere on both."""
        told = "&".join(f"{name}={most * random.random():.2f}" for name, most in self.most.items())
        self.client.get(f"/turn?{told}&view=behind", headers=HTMX, name="a move")
