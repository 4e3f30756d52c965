"""A bench to try: over a notebook of its own or the demo's season, asked through a client or read as HTML."""

from __future__ import annotations

import os
import shutil
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from ovalwright.notebook import runs
from ovalwright.notebook.store import Store
from ovalwright.notebook.undo import last_entries

if TYPE_CHECKING:
    from fastapi.testclient import TestClient
    from httpx import Response

    from ovalwright.notebook.runs import RunRecord

LAPTOP, PHONE = "127.0.0.1", "192.168.7.20"
PASSCODE = "kfm7-2wqx"
VOID = {"meta", "link", "input", "br", "img", "hr", "path", "rect", "line", "circle", "use"}


class Element:
    """An element of a page: its tag, attributes, children, and all text in it."""

    def __init__(self, tag: str, attributes: dict[str, str]) -> None:
        self.tag, self.attributes = tag, attributes
        self.children: list[Element] = []
        self.pieces: list[str | Element] = []

    @property
    def text(self) -> str:
        """Its text and that of all below, spaces joined."""
        return " ".join(
            "".join(one if isinstance(one, str) else f" {one.text} " for one in self.pieces).split()
        )

    def all(self, tag: str = "", **wanted: str) -> list[Element]:
        """Every element below of a tag with these attributes; `class_` is one of its classes."""
        found = []
        for child in self.children:
            if (not tag or child.tag == tag) and all(child._has(*one) for one in wanted.items()):
                found.append(child)
            found += child.all(tag, **wanted)
        return found

    def one(self, tag: str = "", **wanted: str) -> Element:
        """The only such element."""
        found = self.all(tag, **wanted)
        assert len(found) == 1, f"{len(found)} of <{tag} {wanted}> on the page"
        return found[0]

    def __getitem__(self, name: str) -> str:
        return self.attributes.get(name, "")

    def _has(self, name: str, value: str) -> bool:
        if name == "class_":
            return value in self.attributes.get("class", "").split()
        return self.attributes.get(name.rstrip("_").replace("_", "-")) == value


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.root = Element("", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(element)
        self.open[-1].pieces.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if self.open[-1].tag == tag:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].pieces.append(data)


def read(html: str) -> Element:
    """A page or a fragment as elements; every tag in it is closed in order."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == [reader.root], f"<{reader.open[-1].tag}> is never closed"
    return reader.root


@contextmanager
def client(store: Store, folder: Path, *, phone: str = "", **options: Any) -> Iterator[TestClient]:
    """A browser of the laptop itself, or of a `phone` in the same shop, at a bench of a notebook."""
    from ovalwright.web.app import bench

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from fastapi.testclient import TestClient

    app = bench(store, folder=folder, **options)
    name = "http://192.168.7.2:8321" if phone else "http://localhost:8321"
    with TestClient(
        app,
        base_url=name,
        client=(phone or LAPTOP, 50000),
        raise_server_exceptions=False,
        follow_redirects=False,
    ) as found:
        yield found


def token(page: str) -> str:
    """The token of changes that a page carries."""
    return read(page).all("input", name="csrf")[0]["value"]


@pytest.fixture(scope="session")
def _season_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's season, entered once for all processes of this run of the tests."""
    base = tmp_path_factory.getbasetemp()
    path = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "the-season.sqlite"
    if not path.exists():
        from ovalwright.notebook import season

        beside = base / "season-being-entered.sqlite"
        with Store.open(beside, by=season.OWNER) as store:
            season.enter(store)
        beside.replace(path)
    return path


@pytest.fixture(scope="module")
def season_file(_season_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A notebook of the demo's season, of each file's own to write into."""
    return Path(shutil.copy(_season_once, tmp_path_factory.mktemp("season") / "season.sqlite"))


@pytest.fixture(scope="module")
def season_store(season_file: Path) -> Iterator[Store]:
    """The same, opened."""
    with Store.open(season_file, by="owner") as store:
        yield store


@pytest.fixture(scope="module")
def season_client(season_store: Store, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The laptop's own browser at the bench of the demo's season."""
    with client(season_store, tmp_path_factory.mktemp("bench")) as found:
        yield found


# ---------------- a notebook posted to


@pytest.fixture
def post(season_client: TestClient) -> Callable[..., Response]:
    """Send a form of the notebook with the token of its page."""
    return poster(season_client)


def poster(laptop: TestClient) -> Callable[..., Response]:
    """Sends forms of a bench with its token."""
    told = token(laptop.get("/notebook/share").text)

    def sent(path: str, **fields: Any) -> Response:
        return laptop.post(path, data={"csrf": told, **fields})

    return sent


@pytest.fixture
def last(season_store: Store) -> Callable[[], RunRecord]:
    """The last run of the season, as the notebook knows it now."""

    def record() -> RunRecord:
        with season_store.reading() as session:
            return runs.record(session, runs.run_of(session, "last"))

    return record


def done_last(store: Store, most: int = 1) -> list[str]:
    """What the last entries were, the latest first."""
    with store.reading() as session:
        return [one.what for one in last_entries(session, most)]


def said_wrong(answer: Response) -> str:
    """The one sentence of a form that came back."""
    assert answer.status_code == 422
    return read(answer.text).one("p", class_="mistake").text
