"""From the wire to the bell: how long `linkcheck listen --wiggle` takes to ring, measured outside of it.

Run `python tests/benchmarks/bench_bell.py [--trials 30]`. An emulator process breaks a frame, or silences an address,
at a known time; the program runs on a pseudo-terminal, and the moment its bell comes out is noted. POSIX only.
"""

from __future__ import annotations

import argparse
import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "live"))

from soak import Emulator


def bell_at(end: int, patience_s: float) -> int | None:
    """When the next bell comes, in nanoseconds; None if none does."""
    until = time.monotonic() + patience_s
    while time.monotonic() < until:
        if select.select([end], [], [], 0.01)[0] and b"\a" in os.read(end, 65536):
            return time.time_ns()
    return None


def pause(end: int, seconds: float) -> None:
    """Wait, whatever rings."""
    until = time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0:
        bell_at(end, left)


def show(name: str, delays: list[int | None]) -> None:
    """Print one row."""
    heard = np.array([delay for delay in delays if delay is not None]) / 1e6
    figures = f"p50 {np.median(heard):.0f}, p95 {np.quantile(heard, 0.95):.0f}, most {heard.max():.0f} ms"
    print(f"{name:<44} {figures}; {len(delays) - len(heard)} of {len(delays)} not heard")


def main(trials: int) -> None:
    """Ring and measure."""
    emulator = Emulator(1)
    end, inside = pty.openpty()
    words = [sys.executable, "-m", "linkcheck", "listen", f"serial:{emulator.ports[0]}", "--wiggle"]
    child = subprocess.Popen(words, stdin=inside, stdout=inside, stderr=inside, start_new_session=True)
    while bell_at(end, 8.0) is not None:  # it learns, and the truck starts
        pass
    errors: list[int | None] = []
    silences: list[int | None] = []
    for trial in range(trials):
        pause(end, 1.6 + 0.013 * trial)
        begun = emulator.order("errors", count=1)
        rung = bell_at(end, 3.0)
        errors.append(None if rung is None else rung - begun)
        pause(end, 1.6 + 0.017 * trial)
        begun = emulator.order("silence", addresses=[11], seconds=0.6)
        rung = bell_at(end, 3.0)
        silences.append(None if rung is None else rung - begun)
    os.write(end, b"q\n\n")
    bell_at(end, 1.0)
    child.terminate()
    child.wait()
    emulator.close()
    show("error frame to bell", errors)
    show("address stops (10 ms period, late at 60) to bell", silences)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=30)
    main(parser.parse_args().trials)
