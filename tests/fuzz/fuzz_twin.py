"""Fuzz the compiled kernel against its twin: damaged candump text, read and marked by both, field by field.

Run `python tests/fuzz/fuzz_twin.py [--seconds 60] [--seed N]`. Leaves with 0 when they agreed throughout, 1 with the
text they disagreed on, and 77 where the kernel is not built.
"""
# ruff: noqa: T201 - a script that prints

from __future__ import annotations

import argparse
import io
import random
import sys
import time
from dataclasses import astuple
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from lines import damaged_text

from linkcheck.frames import Tracker
from linkcheck.frames.kernel import KERNEL
from linkcheck.readers.candump import open_candump

MISSING = 77


class Trickle(io.RawIOBase):
    """A stream that gives a little at a time."""

    def __init__(self, text: bytes, rng: random.Random) -> None:
        self._text, self._rng = io.BytesIO(text), rng

    def readinto(self, buffer: memoryview) -> int:
        part = self._text.read(min(len(buffer), self._rng.choice([1, 7, 100, 5000])))
        buffer[: len(part)] = part
        return len(part)


def account(text: bytes, *, kernel: bool, batch_frames: int, rng: random.Random) -> list[object]:
    """Everything reader and tracker say about a text, joined over the batches."""
    log = open_candump("-", Trickle(text, rng), batch_frames=batch_frames, kernel=kernel)  # type: ignore[arg-type]
    tracker = Tracker(7 if rng.random() < 0.2 else 65536, kernel=kernel)
    columns: list[list[np.ndarray]] = []
    payloads, channels = [], ()
    for batch in log.batches():
        marks = tracker.annotate(batch)
        fast = np.zeros(len(batch), np.uint16) if marks.fast_bits is None else marks.fast_bits
        read = [batch.time_ns, batch.channel, batch.identifier, batch.flags, batch.length, batch.data]
        gaps = [marks.gap_ns, marks.source_gap_ns, marks.bus_gap_ns]
        columns.append([*read, marks.wire_bits, marks.dominant_bits, fast, marks.key, *gaps])
        payloads += [batch.payload(row) for row in range(len(batch))]
        channels = batch.channels
    tally = log.tally
    assert tally.lines == tally.frames + tally.skipped + tally.comments
    joined = [np.concatenate(some).tolist() for some in zip(*columns, strict=True)]
    keys = [tracker.key_channel.tolist(), tracker.key_identifier.tolist(), tracker.key_flags.tolist()]
    return [*joined, *keys, payloads, channels, astuple(tally)]


def disagreement(seed: int) -> bytes | None:
    """The text kernel and twin disagree on, if they do."""
    rng = random.Random(seed)  # noqa: S311 - test data
    text = damaged_text(rng, rng.choice([1, 5, 60, 300]), rng.choice([0, 0.1, 0.5, 1]))
    batch_frames = rng.choice([1, 3, 64, 65536])
    kernel = account(text, kernel=True, batch_frames=batch_frames, rng=random.Random(seed))  # noqa: S311
    twin = account(text, kernel=False, batch_frames=batch_frames, rng=random.Random(seed))  # noqa: S311
    return None if kernel == twin else text


def main() -> int:
    """Read the options, run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if not KERNEL:
        print("the kernel is not built here")
        return MISSING
    seed, end = options.seed, time.monotonic() + options.seconds
    while time.monotonic() < end:
        text = disagreement(seed)
        if text is not None:
            print(f"kernel and twin disagree, seed {seed}: {text!r}")
            return 1
        seed += 1
    print(f"{seed - options.seed} texts, no disagreement")
    return 0


if __name__ == "__main__":
    sys.exit(main())
