"""The receiving process: opens one port, reads it without pause, and passes on what comes.

A busy main thread costs frames, so reception has an interpreter of its own. What is sent to the parent are messages of
a kind, a size and a body; the parent's end of our standard input tells us when to stop. Where the parent does not
fetch, frames wait here up to a limit, and what is dropped beyond it is counted.
"""

from __future__ import annotations

import contextlib
import dataclasses
import json
import os
import signal
import struct
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any, BinaryIO

import numpy as np

from linkcheck.errors import LinkcheckError
from linkcheck.frames.records import RECORD, RECORD_FORMAT
from linkcheck.live.arrival import Backlog, spread
from linkcheck.live.clock import SteadyClock
from linkcheck.live.open_port import open_port
from linkcheck.live.port import Port, PortEvent, PortLostError, PortRefusedError, PortSpec

__all__ = ["EVENT", "FRAMES", "HEADER", "LOST", "READY", "REFUSED", "TICK", "Receiver", "main"]

HEADER = struct.Struct("<cI")
FRAMES, TICK, EVENT, READY, REFUSED, LOST = b"F", b"T", b"E", b"R", b"X", b"L"
FLUSH_S = 0.04
MOST_WAITING = 64 << 20  # bytes of records that wait for the parent: nearly a minute at 16,000 frames/s
_READ_S = 0.02
LATE_NS = 60_000_000  # without reading: gaps of that length may be ours

Send = Callable[[bytes, bytes], bool]  # kind, body; False: dropped


class Receiver:
    """Reads a port until told to stop.

    Args:
        spec: the port. send: takes messages; returns False where it had to drop one. stop: ends the reading.
        clock: of all time stamps.

    """

    def __init__(self, spec: PortSpec, send: Send, stop: threading.Event, clock: SteadyClock) -> None:
        self._spec, self._send, self._stop, self._clock = spec, send, stop, clock
        self._dropped = 0
        self._due = 0.0
        self._records = bytearray()
        self._read_ns = clock.now_ns()
        self._backlog = Backlog()
        self.orders: deque[dict[str, Any]] = deque()

    def run(self) -> None:
        """Open, read, close. Every end is told; nothing is raised for what a port can do."""
        try:
            port = open_port(self._spec, self._clock)
        except LinkcheckError as error:
            reason = error.reason if isinstance(error, PortRefusedError) else "usage"
            self._tell(REFUSED, {"what": error.what, "where": error.where, "todo": error.todo, "reason": reason})
            return
        self._tell(READY, dataclasses.asdict(port.facts))
        self._read_ns = self._clock.now_ns()
        try:
            while not self._stop.is_set():
                self._step(port)
            self._flush(port)
        except PortLostError as error:
            self._flush(port)
            self._tell(LOST, {"time_ns": self._clock.now_ns(), "text": error.sentence})
        finally:
            port.close()

    def _step(self, port: Port) -> None:
        while self.orders:
            self._obey(port, self.orders.popleft())
        intake = port.read(_READ_S)
        self._records += self._arrived(port, intake.records)
        for event in intake.events:
            self._event(event)
        if time.monotonic() >= self._due:
            self._flush(port)

    def _arrived(self, port: Port, block: bytearray) -> bytes | bytearray:
        """Look at when a block came: times spread out where the host made them, and delays on the way told."""
        now, before = self._clock.now_ns(), self._read_ns
        self._read_ns = now
        rate = port.facts.bit_rate or self._spec.bit_rate
        if now - before > LATE_NS:
            ms = (now - before) / 1e6
            self._event(PortEvent(now, "held_up", f"the computer was busy and did not read for {ms:.0f} ms"))
        if not block or not rate or port.facts.clock != "host":
            return block
        records = np.frombuffer(block, RECORD).copy()
        held_ns = self._backlog.add(records, rate, now - before)
        if held_ns and now - before <= LATE_NS:
            text = f"frames were held up on their way for at least {held_ns / 1e6:.0f} ms (adapter, USB or computer)"
            self._event(PortEvent(now, "held_up", text))
        spread(records, rate, before)
        return records.tobytes()

    def _obey(self, port: Port, order: dict[str, Any]) -> None:
        try:
            port.send(order["identifier"], order["flags"], bytes.fromhex(order["payload"]))
        except PortLostError:
            raise
        except LinkcheckError as error:
            self._event(PortEvent(self._clock.now_ns(), "refused", error.sentence))

    def _flush(self, port: Port) -> None:
        self._due = time.monotonic() + FLUSH_S
        step = self._clock.step_ns()
        if step:
            text = f"the computer's clock was set by {step / 1e9:+.3f} s; times here go on evenly"
            self._event(PortEvent(self._clock.now_ns(), "clock_step", text))
        if self._records:
            if not self._send(FRAMES, bytes(self._records)):
                self._dropped += len(self._records) // RECORD_FORMAT.size
            self._records.clear()
        counters = dataclasses.replace(port.counters(), ours=self._dropped)
        self._tell(TICK, {"now_ns": self._clock.now_ns(), "counters": dataclasses.asdict(counters)})

    def _event(self, event: PortEvent) -> None:
        self._tell(EVENT, dataclasses.asdict(event))

    def _tell(self, kind: bytes, content: dict[str, Any]) -> None:
        self._send(kind, json.dumps(content).encode())


class _Outbox:
    """Messages on their way to the parent, written by a thread of their own so that reading never waits."""

    def __init__(self, pipe: BinaryIO) -> None:
        self._pipe = pipe
        self._waiting: deque[bytes] = deque()
        self._size = 0
        self._more = threading.Condition()
        self._ended = False
        self._thread = threading.Thread(target=self._write, daemon=True)
        self._thread.start()

    def send(self, kind: bytes, body: bytes) -> bool:
        with self._more:
            if kind == FRAMES and self._size > MOST_WAITING:
                return False
            if kind == TICK and self._size > MOST_WAITING:
                return True  # the next one says the same and more
            self._waiting.append(HEADER.pack(kind, len(body)) + body)
            self._size += len(body)
            self._more.notify()
        return True

    def _write(self) -> None:
        while True:
            with self._more:
                while not self._waiting and not self._ended:
                    self._more.wait()
                if not self._waiting:
                    return
                message = self._waiting.popleft()
                self._size -= len(message) - HEADER.size
            try:
                self._pipe.write(message)
                self._pipe.flush()
            except OSError:
                return  # the parent is gone

    def close(self) -> None:
        with self._more:
            self._ended = True
            self._more.notify()
        self._thread.join(2.0)


def main(spec_json: str, clock_start: str) -> None:
    """The child: `spec_json` is a `PortSpec` as JSON, `clock_start` the `start` of the parent's clock."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # ctrl+c reaches the whole group; the parent decides
    with contextlib.suppress(AttributeError, OSError):
        os.nice(-10)  # an adapter's buffer overflows in a fraction of a second; granted to few users
    pipe, sys.stdout = sys.stdout.buffer, sys.stderr  # nothing else may write there
    outbox, stop = _Outbox(pipe), threading.Event()
    receiver = Receiver(PortSpec(**json.loads(spec_json)), outbox.send, stop, SteadyClock(int(clock_start)))
    threading.Thread(target=_hear_parent, args=(receiver, stop), daemon=True).start()
    receiver.run()
    outbox.close()


def _hear_parent(receiver: Receiver, stop: threading.Event) -> None:
    for line in sys.stdin.buffer:
        receiver.orders.append(json.loads(line))
    stop.set()
