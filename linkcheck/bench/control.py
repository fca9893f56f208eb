"""A test that runs in a thread while somebody looks on: how far it is, pause, stop. What is tested is in `run`.

It pauses between two tests and between two slices of the long run, never within one: a pause inside a measurement
would show as a gap of the adapter. It stops at once, and what was measured so far is kept.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field

from linkcheck.bench.bench import PLANS, Bench
from linkcheck.bench.hands import BENCH_WORD, NoHands
from linkcheck.bench.harness import Harness
from linkcheck.bench.live_bench import LiveBench
from linkcheck.bench.result import BenchResult, Row
from linkcheck.bench.run import run_bench
from linkcheck.bench.simulation import FAULTS, SimulatedBench, SimulatedHands

__all__ = ["WatchedRun", "live_run", "simulated_run"]


@dataclass(slots=True)
class WatchedRun:
    """A run, as seen by another thread.

    Attributes:
        bench: what is tested on. adapter: what A is called in its record. simulated: what is wrong, where simulated.
        rows: so far. title: of the test that runs. share: of it, 0-1, where known.
        held: it pauses now; `paused` alone: it will after the test that runs.

    """

    bench: Bench
    adapter: str = ""
    simulated: str = ""
    rows: list[Row] = field(default_factory=list)
    title: str = "Is the harness silent?"
    share: float | None = None
    held: bool = False
    _go: threading.Event = field(default_factory=threading.Event)
    _stop: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        """It goes until it is paused."""
        self._go.set()

    @property
    def paused(self) -> bool:
        """Whether it was told to pause."""
        return not self._go.is_set()

    @property
    def stopping(self) -> bool:
        """Whether it was told to stop."""
        return self._stop.is_set()

    def pause(self) -> None:
        """Pause after the test that runs."""
        self._go.clear()

    def go_on(self) -> None:
        """End the pause."""
        self._go.set()

    def stop(self) -> None:
        """Stop now."""
        self._stop.set()
        self._go.set()

    def run(self) -> BenchResult:
        """Make every test; blocks.

        Raises:
            UsageError, PortRefusedError: nothing was begun.

        """
        self.bench.tick = self._tick
        return run_bench(
            self.bench,
            self.rows.append,
            self._next,
            adapter=self.adapter,
            simulated=self.simulated,
            keep_soak=lambda _state: self._wait(),
        )

    def _tick(self, share: float | None) -> None:
        self.share = share
        if self._stop.is_set():
            raise KeyboardInterrupt  # as ctrl+c at the command: the run keeps what it has

    def _next(self, title: str) -> None:
        self._wait()
        self.title, self.share = title, None

    def _wait(self) -> None:
        self.held = self.paused
        self._go.wait()
        self.held = False
        self._tick(self.share)


def simulated_run(fault: str, seed: int = 1) -> WatchedRun:
    """A quick run on emulated adapters; `fault` is a name of `FAULTS`."""
    bench = SimulatedBench(FAULTS[fault], seed)
    return WatchedRun(Bench(Harness(bench), PLANS["quick"], SimulatedHands(bench), seed), simulated=FAULTS[fault].words)


def live_run(a: str, b: str, plan: str, *, adapter: str, word: str) -> WatchedRun:
    """A run on two real interfaces, without hand work.

    Args:
        a: under test, INTERFACE:CHANNEL. b: the trusted one.
        b: see there.
        plan: a name of `PLANS`.
        adapter: what A is called in its record.
        word: what was typed when asked whether this is a bench; only `BENCH_WORD` goes on.

    Raises:
        UsageError: they are no ports, or the same.

    """
    hands = NoHands(bench_confirmed=word.strip().lower() == BENCH_WORD)
    return WatchedRun(Bench(Harness(LiveBench(a, b)), PLANS[plan], hands, seed=1), adapter)
