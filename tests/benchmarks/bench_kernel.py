"""Frames a second of the candump reader and the tracker, alone and together, on one core.

Run `python tests/benchmarks/bench_kernel.py [--frames N] [--layout NAME] [--pure]`. The text repeats the traffic of an
invented truck with about 100 identifiers. Nothing here is asserted.
"""

from __future__ import annotations

import argparse
import io
import random
import re
import time

from linkcheck.frames import Tracker
from linkcheck.frames.kernel import kernel_name
from linkcheck.readers.candump import open_candump


def truck_text(frames: int, seed: int = 1) -> bytes:
    """candump lines of `frames` 29-bit frames with 8 bytes each."""
    rng = random.Random(seed)  # noqa: S311 - traffic, no secrets
    identifiers = [
        rng.choice([0x0CF00000, 0x18FE0000, 0x18F00000]) | rng.randrange(256) << 8 | rng.choice([0, 3, 11, 49])
        for _ in range(100)
    ]
    payloads = [bytearray(rng.randbytes(4) + b"\xff" * rng.randrange(5)).ljust(8, b"\x7d") for _ in identifiers]
    lines, now = [], 1_436_509_052_249_713
    for _ in range(frames):
        which = min(int(rng.expovariate(0.04)), 99)
        payloads[which][rng.randrange(8)] = rng.randrange(256)
        now += rng.randrange(540, 2000)
        data = payloads[which].hex().upper()
        lines.append(f"({now // 1_000_000}.{now % 1_000_000:06d}) can0 {identifiers[which]:08X}#{data}\n")
    return "".join(lines).encode()


LAYOUTS = {
    "common": lambda text: text,
    "crlf": lambda text: text.replace(b"\n", b"\r\n"),
    "lower case": lambda text: text.lower(),
    "nanoseconds": lambda text: text.replace(b") ", b"123) "),
    "direction": lambda text: text.replace(b"\n", b" R\n"),
    "four interfaces": lambda text: b"\n".join(
        line.replace(b"can0", b"can%d" % (i * 7 % 4)) for i, line in enumerate(text.split(b"\n"))
    ),
    "long names": lambda text: text.replace(b"can0", b"interface_one"),
    "padded names": lambda text: text.replace(b"can0", b"  can0"),
    "11 bits": lambda text: re.sub(rb" .{4}(..)..#", rb" 1\g<1>#", text),
    "CAN FD": lambda text: text.replace(b"#", b"##1").replace(b"\n", b"00" * 24 + b"\n"),
    "odd lengths": lambda text: (
        b"\n".join(line[: len(line) - i * 5 % 9 * 2] for i, line in enumerate(text.split(b"\n")[:-1])) + b"\n"
    ),
}


def measure(text: bytes, *, kernel: bool | None, batch_frames: int, repeat: int) -> tuple[float, float, float]:
    """Best frames a second of reading, marking, and both, with the text in memory."""
    best = [0.0, 0.0, 0.0]
    for _ in range(repeat):
        parse_s = mark_s = 0.0
        frames, tracker = 0, Tracker(kernel=kernel)
        log = open_candump("-", io.BytesIO(text), batch_frames=batch_frames, kernel=kernel).batches()
        while True:
            start = time.perf_counter()
            batch = next(log, None)
            middle = time.perf_counter()
            parse_s += middle - start
            if batch is None:
                break
            tracker.annotate(batch)
            mark_s += time.perf_counter() - middle
            frames += len(batch)
        for i, seconds in enumerate((parse_s, mark_s, parse_s + mark_s)):
            best[i] = max(best[i], frames / seconds)
    return best[0], best[1], best[2]


def main() -> None:
    """Print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--frames", type=int, default=1_000_000)
    parser.add_argument("--batch", type=int, default=65536)
    parser.add_argument("--repeat", type=int, default=5)
    parser.add_argument("--layout", choices=LAYOUTS, action="append")
    parser.add_argument("--pure", action="store_true", help="measure the twin")
    options = parser.parse_args()
    text = truck_text(options.frames)
    print(f"{'pure Python' if options.pure else kernel_name()}, {options.frames} frames, millions a second")
    print(f"{'layout':18}{'read':>8}{'mark':>8}{'both':>8}{'GB/s':>8}")
    for name in options.layout or LAYOUTS:
        laid = LAYOUTS[name](text)
        read, mark, both = measure(
            laid, kernel=False if options.pure else None, batch_frames=options.batch, repeat=options.repeat
        )
        size = len(laid) / options.frames
        print(f"{name:18}{read / 1e6:8.2f}{mark / 1e6:8.2f}{both / 1e6:8.2f}{read * size / 1e9:8.2f}")


if __name__ == "__main__":
    main()
