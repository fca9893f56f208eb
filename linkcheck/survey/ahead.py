"""Reading ahead: a second thread parses the next batches while this one analyses.

Both sides leave the interpreter's lock while they work on columns, so two cores are kept busy.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterable, Iterator

from linkcheck.frames import FrameBatch

__all__ = ["read_ahead"]

_DEPTH = 4


def read_ahead(batches: Iterable[FrameBatch]) -> Iterator[FrameBatch]:
    """The same batches, made in a thread of their own. An error in the maker is raised here, in its place."""
    line: queue.Queue[FrameBatch | BaseException | None] = queue.Queue(_DEPTH)
    stop = threading.Event()

    def put(item: FrameBatch | BaseException | None) -> bool:
        while not stop.is_set():
            try:
                line.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def make() -> None:
        try:
            for batch in batches:
                if not put(batch):
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
