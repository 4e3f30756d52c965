"""What was found once is kept, and asked for by many at once it is still found only once."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any, Generic, TypeVar, overload

T = TypeVar("T")
_LOCK = threading.Lock()


class Lately(Generic[T]):
    """The last few answers to what never changes, for all threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[object, Future[T]] = OrderedDict()
        self._lock = threading.Lock()

    def __len__(self) -> int:
        return len(self._kept)

    def of(self, key: object, make: Callable[[], T]) -> T:
        """What was made for a key, made now when it is not there; who asks meanwhile waits for it.

        What `make` raises is raised by all who wait, and not kept.
        """
        with self._lock:
            found = self._kept.get(key)
            mine = found is None
            if found is None:
                found = self._kept[key] = Future()
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        if mine:
            self._make(key, found, make)
        return found.result()

    def _make(self, key: object, told: Future[T], make: Callable[[], T]) -> None:
        try:
            told.set_result(make())
        except BaseException as problem:
            with self._lock:
                if self._kept.get(key) is told:
                    del self._kept[key]
            told.set_exception(problem)


class once(Generic[T]):
    """A property that is found once for each object, by the first who asks while the others wait.

    `functools.cached_property` of Python 3.11 holds one lock for all objects of a class meanwhile.
    """

    def __init__(self, find: Callable[[Any], T]) -> None:
        self._find, self.__doc__ = find, find.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, held: None, owner: type) -> once[T]: ...
    @overload
    def __get__(self, held: object, owner: type) -> T: ...
    def __get__(self, held: object | None, owner: type) -> once[T] | T:
        if held is None:
            return self
        with _LOCK:
            kept = held.__dict__.setdefault(f"{self._name} kept", Lately[T](1))
        found: T = kept.of(self._name, lambda: self._find(held))
        held.__dict__[self._name] = found
        return found
