"""Phones in the shop, for locust: each moves a slider of the turn five times a second.

Run by `python benchmarks/bench.py phones`.
"""

from __future__ import annotations

import random
import re

from locust import FastHttpUser, constant_pacing, task

MOVES_A_SECOND = 5.0
HTMX = {"HX-Request": "true", "HX-Target": "now"}
SLIDER = r'id="{}"[^>]* max="([0-9.]+)" step="([0-9.]+)"'


class Phone(FastHttpUser):
    """One phone: the page once, then its sliders."""

    wait_time = constant_pacing(1.0 / MOVES_A_SECOND)

    def on_start(self) -> None:
        """Open the page and read how far its sliders go, and in which steps."""
        page = self.client.get("/turn", name="the page").text
        self.sliders = {}
        for name in ("at", "fuel"):
            most, step = map(float, re.search(SLIDER.format(name), page).groups())
            self.sliders[name] = int(most / step), step

    @task
    def move(self) -> None:
        """A thumb somewhere on both."""
        told = "&".join(
            f"{name}={step * random.randint(0, steps):g}" for name, (steps, step) in self.sliders.items()
        )
        self.client.get(f"/turn?{told}&view=behind", headers=HTMX, name="a move")
