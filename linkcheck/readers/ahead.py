"""`ReadAhead`: an iterator worked off by a thread of its own, a few items ahead of whoever takes them."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from typing import Generic, TypeVar

__all__ = ["ReadAhead"]

T = TypeVar("T")
_STUCK_S = 1.0  # a pipe that nobody writes to may never come back


class ReadAhead(Generic[T]):
    """Items of an iterator, in order. What the iterator raises is raised where its next item is taken.

    Args:
        items: run to its end in the thread, or until `stop`.
        depth: most items waiting to be taken.

    """

    def __init__(self, items: Iterator[T], depth: int) -> None:
        self._queue: queue.Queue[T | BaseException | None] = queue.Queue(depth)
        self._stop = threading.Event()
        self._ended = False
        self._thread = threading.Thread(target=self._run, args=(items,), daemon=True)
        self._thread.start()

    def _run(self, items: Iterator[T]) -> None:
        try:
            for item in items:
                if not self._put(item):
                    return
        except BaseException as error:  # noqa: BLE001  # handed on, not handled
            self._put(error)
        self._put(None)

    def _put(self, item: T | BaseException | None) -> bool:
        while not self._stop.is_set():
            try:
                self._queue.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def take(self, timeout_s: float | None = None) -> T | None:
        """The next item, or None at the end.

        Raises:
            TimeoutError: none came in time.

        """
        if self._ended:
            return None
        try:
            item = self._queue.get(timeout=timeout_s)
        except queue.Empty:
            raise TimeoutError from None
        self._ended = item is None or isinstance(item, BaseException)
        if isinstance(item, BaseException):
            raise item
        return item

    def stop(self) -> bool:
        """End the thread. Returns False if it is stuck in the iterator, which then must be left alone."""
        self._stop.set()
        self._thread.join(_STUCK_S)
        return not self._thread.is_alive()
