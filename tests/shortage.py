"""What a racer is told when there is no room left or nothing may be written; run in a process of its own."""

from __future__ import annotations

import os
import resource
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import torture

from ovalwright.notebook import copies
from ovalwright.notebook.sharing.bundle import whole_bundle
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble

PAGE = 4096


def aside(do: Callable[..., Any], *words: Any) -> Any:
    """What a function returns in a new process, whose limits and rights end with it."""
    with ProcessPoolExecutor(1, mp_context=torture.processes) as process:
        return process.submit(do, *words).result()


def told(do: Callable[..., object], *words: Any) -> str:
    """The sentence that stops a racer, or nothing."""
    try:
        do(*words)
    except NotebookTrouble as trouble:
        return str(trouble)
    return ""


def enter_one(store: Store) -> int:
    """One more run."""
    with store.entry("run") as session:
        return torture.enter(session)


def open_and_enter(where: Path) -> None:
    """One more run, by a program that opens the notebook for it."""
    with Store.open(where) as store:
        torture.begin(store)
        enter_one(store)


def export(store: Store, file: Path) -> None:
    """Everything, as a bundle."""
    with store.reading() as session:
        bundle = whole_bundle(session)
    bundle.save(file)


@contextmanager
def no_file_larger_than(size: int) -> Iterator[None]:
    """The system refuses to let any file of this process grow beyond a size [bytes]."""
    most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, most[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, most)


def largest(where: Path) -> int:
    """Size of the largest file of a notebook [bytes]."""
    return max(path.stat().st_size for path in where.parent.glob(where.name + "*"))


def enter_with_little_room(where: Path, pages: int) -> list[str]:
    """What is told when an entry stops at its first page, its second and so on. Raises AssertionError."""
    sentences = []
    with Store.open(where) as store:
        torture.begin(store)
        acknowledged = {enter_one(store)}
        for page in range(pages):
            with no_file_larger_than(largest(where) + page * PAGE):
                try:
                    acknowledged.add(enter_one(store))
                except NotebookTrouble as trouble:
                    sentences.append(str(trouble))
                assert torture.runs_left(str(where)) == acknowledged
            acknowledged.add(enter_one(store))
            assert torture.runs_left(str(where)) == acknowledged
    return sentences


def open_with_little_room(where: Path, sizes: list[int]) -> list[str]:
    """What is told of making a new notebook where no file may grow beyond a size."""
    sentences = []
    for size in sizes:
        with no_file_larger_than(size):
            sentences.append(told(open_and_enter, where))
    return sentences


def copy_and_export_with_little_room(where: Path, place: Path, size: int) -> list[str]:
    """What is told of a copy, a bundle and a giving back that find no room."""
    with Store.open(where) as store:
        whole = copies.copy_now(store, place.parent / "whole")
        with no_file_larger_than(size):
            sentences = [
                told(copies.copy_now, store, place),
                told(export, store, place / "everything.zip"),
                told(copies.restore, whole, place / "notebook.sqlite"),
            ]
    return sentences


def step_down(user: int) -> None:
    """Become that user for good; who is not root stays who he is."""
    with tempfile.TemporaryDirectory() as place:  # Python reads here what it may not be able to read later
        open_and_enter(Path(place) / "notebook.sqlite")
        with Store.open(Path(place) / "notebook.sqlite") as store:
            copies.copy_now(store)
            export(store, Path(place) / "everything.zip")
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(user)
        os.setuid(user)


def work_without_rights(user: int, where: Path, shelf: Path) -> dict[str, str]:
    """What is told to a user who may read a notebook and write neither to it nor to the shelf."""
    step_down(user)
    sentences = {
        "enter": told(open_and_enter, where),
        "make": told(open_and_enter, shelf / "new.sqlite"),
        "make in a new folder": told(open_and_enter, shelf / "season" / "new.sqlite"),
        "give back": told(copies.restore, where, shelf / "notebook.sqlite"),
    }
    with Store.open(where) as store:
        sentences["copy"] = told(copies.copy_now, store, shelf)
        sentences["export"] = told(export, store, shelf / "everything.zip")
        with store.reading() as session, tempfile.TemporaryDirectory() as place:
            assert torture.look_at_rows(session) == {1}
            assert torture.runs_left(str(copies.copy_now(store, Path(place)))) == {1}
    return sentences
