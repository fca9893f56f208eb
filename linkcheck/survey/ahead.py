"""Reading ahead: a second thread parses and marks the next frames while this one counts.

Both sides leave the interpreter's lock while they work on columns, so two cores are kept busy.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterable, Iterator
from typing import TypeVar

__all__ = ["read_ahead"]

_DEPTH = 4

Item = TypeVar("Item")


def read_ahead(items: Iterable[Item]) -> Iterator[Item]:
    """The same items, made in a thread of their own. An error in the maker is raised here, in its place."""
    line: queue.Queue[Item | BaseException | None] = queue.Queue(_DEPTH)
    stop = threading.Event()

    def put(item: Item | BaseException | None) -> bool:
        while not stop.is_set():
            try:
                line.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def make() -> None:
        try:
            for item in items:
                if not put(item):
                    return
            put(None)
        except BaseException as error:  # noqa: BLE001  handed over, whatever it is
            put(error)

    worker = threading.Thread(target=make, name="linkcheck-read-ahead", daemon=True)
    worker.start()
    try:
        while (item := line.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        stop.set()
        worker.join(timeout=2)
