"""Emulated adapters behind pseudo-terminals, in real time: what `serial:` ports are tried out on without hardware.

One thread carries characters between the terminals and the adapters and lets the bus's time pass. POSIX only.
"""

from __future__ import annotations

import contextlib
import os
import select
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

from linkcheck.errors import UsageError
from linkcheck.live.emulated_adapter import EmulatedAdapter, Faults
from linkcheck.live.emulated_bus import EmulatedBus, Frame

__all__ = ["Emulation"]

_TICK_S = 0.001


class Emulation:
    """Adapters on one bus, each behind a serial device. Use as a context manager.

    Args:
        faults: one `Faults` for each adapter. bit_rate, traffic, modules: of the bus, see `EmulatedBus`.
        seed: of all chance. options: more for `EmulatedAdapter`.

    Attributes:
        bus, adapters: to be touched only inside `call`. paths: the serial devices, stable over unplug and replug.

    Raises:
        UsageError: this system has no pseudo-terminals.

    """

    def __init__(
        self,
        *faults: Faults,
        bit_rate: int = 250_000,
        traffic: Iterator[tuple[int, Frame]] | None = None,
        modules: bool | None = None,
        seed: int = 1,
        reports_errors: bool = True,
        buffer: int = 65_536,
    ) -> None:
        if not hasattr(os, "openpty"):
            raise UsageError("Emulated adapters need pseudo-terminals, which this system does not have.")
        self.bus = EmulatedBus(bit_rate, time.time_ns(), traffic, modules=modules)
        self.adapters = [
            EmulatedAdapter(self.bus, fault, seed=seed + i, reports_errors=reports_errors, buffer=buffer)
            for i, fault in enumerate(faults or (Faults(),))
        ]
        self._folder = tempfile.TemporaryDirectory(prefix="linkcheck-emulation-")
        self.paths = [str(Path(self._folder.name) / f"adapter{i}") for i in range(len(self.adapters))]
        self._masters: list[int | None] = [None] * len(self.adapters)
        self._slaves: list[int | None] = [None] * len(self.adapters)
        self._left = [b""] * len(self.adapters)
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._start_wall, self._start_steady = time.time_ns(), time.monotonic_ns()
        for number in range(len(self.adapters)):
            self._plug(number)
        self._thread = threading.Thread(target=self._run, name="emulation", daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Stop the bus and remove the devices."""
        self._stop.set()
        self._thread.join()
        for number in range(len(self.adapters)):
            self._unplug(number)
        self._folder.cleanup()

    def call(self, action: Callable[[EmulatedBus], None]) -> int:
        """Do something to bus or adapters between two ticks; returns the bus's time then."""
        with self._lock:
            action(self.bus)
            return self.bus.now_ns

    def unplug(self, number: int) -> None:
        """Pull an adapter: its device is gone, and it forgets everything."""
        with self._lock:
            self._unplug(number)
            self.adapters[number].reset()

    def replug(self, number: int) -> None:
        """Put it back under the same path."""
        with self._lock:
            if self._masters[number] is None:
                self._plug(number)

    def _plug(self, number: int) -> None:
        import tty  # noqa: PLC0415  # not on Windows

        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        link = Path(self.paths[number])
        link.unlink(missing_ok=True)
        link.symlink_to(os.ttyname(slave))
        # The slave stays open: a terminal nobody has open hangs up, and an adapter on a desk does not.
        self._masters[number], self._slaves[number], self._left[number] = master, slave, b""

    def _unplug(self, number: int) -> None:
        Path(self.paths[number]).unlink(missing_ok=True)
        for ends in (self._slaves, self._masters):
            end, ends[number] = ends[number], None
            if end is not None:
                os.close(end)

    def _run(self) -> None:
        while not self._stop.is_set():
            open_masters = [master for master in self._masters if master is not None]
            with contextlib.suppress(OSError, ValueError):  # one may be pulled just now
                select.select(open_masters, [], [], _TICK_S)
            with self._lock:
                for number, adapter in enumerate(self.adapters):
                    self._from_host(number, adapter)
                self.bus.advance(self._start_wall + time.monotonic_ns() - self._start_steady)
                for number, adapter in enumerate(self.adapters):
                    self._to_host(number, adapter)

    def _from_host(self, number: int, adapter: EmulatedAdapter) -> None:
        master = self._masters[number]
        if master is not None:
            with contextlib.suppress(OSError):
                while block := os.read(master, 4096):
                    adapter.take_characters(block)

    def _to_host(self, number: int, adapter: EmulatedAdapter) -> None:
        master = self._masters[number]
        if master is None:
            return
        with contextlib.suppress(OSError):  # full: the host does not read, and the rest waits in the adapter
            while waiting := self._left[number] or adapter.characters():
                self._left[number] = waiting
                self._left[number] = waiting[os.write(master, waiting) :]
                if self._left[number]:
                    return
