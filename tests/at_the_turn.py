"""A bench at the turn: two setups and a track to take in hand, what a page of it says, and one press more."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from benches import Element, client, read

from ovalwright.notebook import shelf
from ovalwright.notebook.store import Store
from ovalwright.web import hand as hands

DEMO = Path(__file__).parents[1] / "src" / "ovalwright" / "demo"
PARTS = {"HX-Request": "true", "HX-Target": "now"}
ALL = {"HX-Request": "true", "HX-Target": "turn"}
UP = "RR.tire.cold up"


@pytest.fixture(scope="module")
def turn_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A notebook of two setups and a track."""
    with Store.open(tmp_path_factory.mktemp("turn") / "notebook.sqlite", by="Owner") as opened:
        with opened.entry("two cars and a track") as session:
            shelf.keep_setup(session, DEMO / "setup_soft_front.toml")
            shelf.keep_setup(session, DEMO / "setup_conventional.toml")
            shelf.keep_file(session, DEMO / "track_three_eighths.toml")
        yield opened


@pytest.fixture
def turn(turn_store: Store, tmp_path: Path) -> Iterator[Any]:
    """A bench with nothing in hand."""
    with client(turn_store, tmp_path) as found:
        yield found
        page = read(found.get("/turn").text)
        for _ in page.all("form", action="/turn/hold") or [page]:
            page = read(found.get("/turn").text)
            if field(page, "hand"):
                told = {
                    "csrf": field(page, "csrf"),
                    "hand": field(page, "hand"),
                    "version": field(page, "version"),
                }
                found.post("/turn/away", data=told)


def field(page: Element, name: str) -> str:
    """What the first such field of a page holds."""
    return page.all("input", name=name)[0]["value"]


def press_on(turn: Any, what: str, **more: object) -> Element:
    """The page after one press."""
    page = read(turn.get("/turn").text)
    told = {name: field(page, name) for name in ("csrf", "hand", "version")}
    answer = turn.post("/turn/press", data={**told, "press": what, **more})
    assert answer.status_code == 303, read(answer.text).text
    return read(turn.get(answer.headers["location"]).text)


def said_on(page: Element) -> list[str]:
    """The presses that stand, as a page lists them."""
    return [item.text for item in page.one("ol").all("li")]


def hands_said(turn_store: Store) -> list[str]:
    """What is changed of the first hand."""
    with turn_store.reading() as session:
        held = hands.in_hand(session)
    return [press.said for press in held.changes] if held else []
