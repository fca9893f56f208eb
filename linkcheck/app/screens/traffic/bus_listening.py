"""Listening to a bus beside the screen: orders in, snapshots and news out, and everything ended in order.

One thread takes the steps of a live capture and obeys orders between them, so nothing of the capture is shared. What
it tells must not wait for the screen: a snapshot is made only after the last one was taken.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from linkcheck.errors import LinkcheckError
from linkcheck.survey.listening import capture_ends, event_line, gauge_words
from linkcheck.survey.recorder import Plan, Recorder
from linkcheck.traffic.wiggle import WiggleWatch

if TYPE_CHECKING:
    from linkcheck.survey.live_capture import LiveCapture, LiveEvent
    from linkcheck.traffic.result import TrafficResult
    from linkcheck.traffic.wiggle import WiggleEvent

__all__ = ["BusListening", "Ending", "News", "Snapshot", "WatchOver"]

EVERY_S = 0.5
MOST_SHARE = 0.2  # of the thread's time may go into snapshots; the rest is for the bell


@dataclass(frozen=True, slots=True)
class Snapshot:
    """How it stands: the result so far, and a line about now. `lost`: ports that are away; `recording`: a file."""

    result: TrafficResult
    now: str
    lost: tuple[str, ...]
    recording: str
    watching: bool


@dataclass(frozen=True, slots=True)
class News:
    """Lines about what has just happened; `alarm` is for the bell. `error`: an order could not be obeyed."""

    lines: tuple[str, ...] = ()
    alarm: bool = False
    error: LinkcheckError | None = None


@dataclass(frozen=True, slots=True)
class WatchOver:
    """A wiggle watch that is no longer fed, with its first and last nanosecond."""

    watch: WiggleWatch
    start_ns: int
    end_ns: int


@dataclass(frozen=True, slots=True)
class Ending:
    """The last result, sentences on what was lost and recorded, and the watch that still ran."""

    result: TrafficResult
    lines: list[str]
    watch: WatchOver | None


Told = Snapshot | News | WatchOver


class BusListening:
    """Listens until stopped.

    Args:
        capture: opened; belongs to the thread that calls `run` from then on.
        tell: takes what there is to say; called in that thread, and must not wait.

    """

    def __init__(self, capture: LiveCapture, tell: Callable[[Told], None]) -> None:
        self._capture, self._tell = capture, tell
        self._orders: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._stop, self._taken = threading.Event(), threading.Event()
        self._taken.set()
        self._marks = 0
        self._watch_from_ns = 0

    # Any thread may call these -----------------------------------------------------------------------------------

    def stop(self) -> None:
        """Stop as soon as can be; `run` then answers."""
        self._stop.set()

    def taken(self) -> None:
        """The last snapshot is drawn; another may come."""
        self._taken.set()

    def mark(self) -> None:
        """Set a mark."""
        self._orders.put(self._mark)

    def reconnect(self) -> None:
        """Try lost ports again now."""
        self._orders.put(self._capture.listener.reconnect)

    def record(self, path: str) -> None:
        """Record to a file from now on."""
        self._orders.put(lambda: self._record(path))

    def end_record(self) -> None:
        """End the record; the listening goes on."""
        self._orders.put(self._end_record)

    def watch(self) -> None:
        """Begin a wiggle watch, or end the one that runs."""
        self._orders.put(self._switch_watch)

    def learn_again(self) -> None:
        """Let the watch learn the addresses' habits anew."""
        self._orders.put(self._learn_again)

    # In the listening thread -------------------------------------------------------------------------------------

    def run(self) -> Ending:
        """Listen until stopped."""
        due = 0.0
        try:
            while not self._stop.is_set():
                self._obey()
                step = self._capture.step()
                if step.alarms:
                    self._tell_lines(*step.alarms, alarm=True)
                if step.events:
                    self._tell_lines(*step.events)
                if (begin := time.monotonic()) >= due and self._taken.is_set():
                    self._taken.clear()
                    self._tell(self._snapshot())
                    due = begin + max(EVERY_S, (time.monotonic() - begin) / MOST_SHARE)
            self._obey()  # a mark set just before the end counts
        finally:
            self._capture.close()
        result = self._capture.result()
        return Ending(result, capture_ends(self._capture, result), self._watch_over())

    def _obey(self) -> None:
        while not self._orders.empty():
            try:
                self._orders.get()()
            except LinkcheckError as error:
                self._tell(News(error=error))

    def _tell_lines(self, *events: LiveEvent | WiggleEvent, alarm: bool = False) -> None:
        self._tell(News(tuple(event_line(each, self._capture.started_ns) for each in events), alarm))

    def _snapshot(self) -> Snapshot:
        capture = self._capture
        seconds = (capture.now_ns - capture.started_ns) / 1e9
        recorder, recording = capture.recorder, ""
        if recorder is not None:
            recording = "NOT RECORDING" if recorder.problem else f"{recorder.written:,} recorded"
        now = f"{seconds:.0f} s  " + "   ".join(gauge_words(gauge) for gauge in capture.gauges())
        lost = tuple(sorted(capture.listener.lost))
        return Snapshot(capture.result(), now, lost, recording, capture.watch is not None)

    def _mark(self) -> None:
        self._marks += 1
        self._tell_lines(self._capture.mark(f"mark {self._marks}"))

    def _record(self, path: str) -> None:
        self._capture.recorder = Recorder(Plan(str(Path(path).expanduser())))

    def _end_record(self) -> None:
        recorder, self._capture.recorder = self._capture.recorder, None
        if recorder is not None:
            recorder.close()
            files = ", ".join(map(str, recorder.files))
            self._tell(News((f"Recorded {recorder.written:,} frames to {files}.",)))

    def _switch_watch(self) -> None:
        over = self._watch_over()
        if over is not None:
            self._capture.watch = None
            self._tell(over)
        else:
            self._capture.watch, self._watch_from_ns = WiggleWatch(), self._capture.now_ns

    def _learn_again(self) -> None:
        if self._capture.watch is not None:
            self._capture.watch.learn_again()
            self._tell_lines(self._capture.mark("learning again: hold still"))

    def _watch_over(self) -> WatchOver | None:
        watch = self._capture.watch
        return None if watch is None else WatchOver(watch, self._watch_from_ns, self._capture.now_ns)
