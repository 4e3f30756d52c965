"""Studies that take longer than a page may: done one after the other in a process of their own, so that
nobody's slider waits for them; looked at while they run, stopped, and kept for a while when done.
"""

from __future__ import annotations

import contextlib
import logging
import multiprocessing
import os
import secrets
import signal
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import Any, Literal

from ovalwright.documents import DocumentError

log = logging.getLogger("ovalwright.web")
Progress = Callable[[int, int], None]
Study = Callable[..., Any]
"""A function of a module, called with its documents and `progress`; its answer can be pickled."""
State = Literal["waiting", "running", "done", "stopped", "failed"]

MOST_WAITING = 8
MOST_KEPT = 24
KEPT_FOR = 3600.0
"""Finished work is kept so long [s], and so many of it."""
JOBS_OF_A_WORKER = 40
"""Then its process is begun anew, so that its memory cannot grow without end."""
PATIENCE = 2.0
"""How long [s] a stopped study has until its process is ended."""
NICE = 10


class TooBusy(Exception):
    """Why no study is begun now, in one sentence."""


class _Stopped(Exception):
    pass


@dataclass
class Job:
    """A study under way: `done` of `total` steps, then its `answer`, or in one sentence the `trouble`."""

    key: object
    told: str
    study: Study
    documents: tuple[Any, ...]
    id: str = field(default_factory=lambda: secrets.token_hex(8))
    state: State = "waiting"
    done: int = 0
    total: int = 0
    answer: Any = None
    trouble: str = ""
    began: float = 0.0
    ended: float = 0.0

    @property
    def is_over(self) -> bool:
        """Whether nothing more will come of it."""
        return self.state in ("done", "stopped", "failed")

    @property
    def seconds_left(self) -> float | None:
        """How long it will still take, by how long it took so far."""
        if self.state != "running" or not self.done or self.total <= self.done:
            return None
        return (time.monotonic() - self.began) * (self.total - self.done) / self.done


class LongWork:
    """The long work of one bench. Its process is begun with the first study that is asked for."""

    def __init__(self) -> None:
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._queue: deque[Job] = deque()
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None
        self._is_closed = False

    def submit(self, key: object, study: Study, *documents: Any, told: str) -> Job:
        """Begin a study, or find the one of that key that is under way or done. Raises TooBusy.

        `told` says what is worked at; `study(*documents, progress=...)` runs in the other process.
        """
        with self._changed:
            if self._is_closed:
                raise TooBusy("the bench is closing; nothing new is begun.")
            self._forget_old()
            for job in self._jobs.values():
                if job.key == key and job.state not in ("stopped", "failed"):
                    return job
            if len(self._queue) >= MOST_WAITING:
                raise TooBusy(f"{MOST_WAITING} studies are waiting already; stop one, or ask again later.")
            job = Job(key, told, study, documents)
            self._jobs[job.id] = job
            self._queue.append(job)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="long work", daemon=True)
                self._thread.start()
            self._changed.notify_all()
            return job

    def look(self, key: object) -> Job | None:
        """The newest study of a key, whatever became of it."""
        with self._changed:
            return next((job for job in reversed(self._jobs.values()) if job.key == key), None)

    def find(self, id: str) -> Job | None:
        """A study by its id."""
        with self._changed:
            return self._jobs.get(id)

    def jobs(self) -> tuple[Job, ...]:
        """All that are kept, the newest last."""
        with self._changed:
            return tuple(self._jobs.values())

    def stop(self, id: str) -> None:
        """Stop a study, wherever it is; nothing happens to one that is over."""
        with self._changed:
            job = self._jobs.get(id)
            if job is None or job.is_over:
                return
            if job in self._queue:
                self._queue.remove(job)
            job.state, job.ended = "stopped", time.monotonic()
            self._changed.notify_all()

    def close(self) -> None:
        """Stop everything and end the process."""
        with self._changed:
            self._is_closed = True
            for job in self._jobs.values():
                if not job.is_over:
                    job.state = "stopped"
            self._queue.clear()
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(2 * PATIENCE)

    def _forget_old(self) -> None:
        over = [job for job in self._jobs.values() if job.is_over]
        old = time.monotonic() - KEPT_FOR
        surplus = max(len(over) - MOST_KEPT + 1, 0)
        for number, job in enumerate(over):
            if number < surplus or job.ended < old:
                del self._jobs[job.id]

    def _work(self) -> None:
        worker = _Worker()
        try:
            while True:
                with self._changed:
                    self._changed.wait_for(lambda: self._queue or self._is_closed)
                    if self._is_closed:
                        return
                    job = self._queue.popleft()
                    job.state, job.began = "running", time.monotonic()
                worker.run(job)
                with self._changed:
                    job.ended, job.documents = time.monotonic(), ()
        finally:
            worker.end()


class _Worker:
    """The other process, begun when it is needed and ended when it does not listen."""

    def __init__(self) -> None:
        self.context: SpawnContext = multiprocessing.get_context("spawn")
        self.process: SpawnProcess | None = None
        self.jobs = 0

    def run(self, job: Job) -> None:
        """One study from its beginning to whatever becomes of it."""
        try:
            self._begin()
            self.pipe.send((job.study, job.documents))
            self._follow(job)
        except (EOFError, OSError):
            self._broke_off(job, "The study broke off, perhaps for want of memory; ask again, or for less.")
        except Exception:
            log.exception("long work: %s", job.told)
            self._broke_off(job, "What was asked cannot be handed to the study; ask for something else.")
        self.jobs += 1
        if self.jobs >= JOBS_OF_A_WORKER:
            self.end()

    def _broke_off(self, job: Job, trouble: str) -> None:
        """The process is of no more use, whatever it is at; the next study gets another."""
        self.end()
        if not job.is_over:
            job.trouble, job.state = trouble, "failed"

    def _begin(self) -> None:
        if self.process is not None and self.process.is_alive():
            return
        self.pipe, other = self.context.Pipe()
        self.stopped = self.context.Event()
        process = self.context.Process(target=_studies, args=(other, self.stopped), daemon=True)
        process.start()
        other.close()
        self.process, self.jobs = process, 0

    def _follow(self, job: Job) -> None:
        given_up: float | None = None
        while True:
            if job.state == "stopped" and given_up is None:
                self.stopped.set()
                given_up = time.monotonic() + PATIENCE
            if given_up is not None and time.monotonic() > given_up:
                self.end()
                return
            if not self.pipe.poll(0.1):
                continue
            what, told = self.pipe.recv()
            if what == "progress":
                job.done, job.total = told
                continue
            self.stopped.clear()
            if job.state == "running" and what == "done":
                job.answer, job.state = told, "done"
            elif job.state == "running":
                job.trouble, job.state = told, "failed"
            return

    def end(self) -> None:
        """End the process, which has nothing to lose."""
        if self.process is not None:
            self.process.terminate()
            self.process.join(PATIENCE)
            self.process = None
            self.pipe.close()


def _studies(pipe: Connection, stopped: Any) -> None:
    """What the other process does: one study after the other, politely, until the bench is gone."""
    if hasattr(os, "nice"):
        os.nice(NICE)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(EOFError, OSError):
        while True:
            _study(pipe, stopped)


def _study(pipe: Connection, stopped: Any) -> None:
    """The next study. Raises EOFError, OSError when nobody listens any more."""

    def progress(done: int, total: int) -> None:
        if stopped.is_set():
            raise _Stopped
        pipe.send(("progress", (done, total)))

    study, documents = pipe.recv()
    try:
        told = ("done", study(*documents, progress=progress))
    except _Stopped:
        told = ("stopped", "")
    except (DocumentError, ValueError, ArithmeticError) as problem:
        told = ("trouble", _sentence(problem))
    except Exception as problem:
        told = ("trouble", f"The study broke off ({type(problem).__name__}); ask with other values.")
    pipe.send(told)


def _sentence(problem: Exception) -> str:
    said = " ".join(str(problem).split())[:300] or type(problem).__name__
    return said if said.endswith((".", "!", "?")) else f"{said}."
