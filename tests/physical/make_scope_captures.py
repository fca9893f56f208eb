"""Makes the shipped scope traces with ngspice, each in another layout: `python tests/physical/make_scope_captures.py`.

Invented buses, invented frames. `test_scope_captures` makes them again and compares the volts.
"""

import gzip
import sys
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from physical.spice_scope import record, truck

FOLDER = Path(__file__).parents[2] / "captures"
FRAMES = (
    (0, 0x0CF00400, (0x61, 0x7D, 0x7D, 0xA6, 0x3B, 0x00, 0x0F, 0xA1), True),
    (1, 0x18F00503, (0xFF, 0xFF, 0x11, 0x7D, 0xFF, 0xFF, 0xFF, 0xFF), True),
    (2, 0x18FEBF0B, (0x00, 0x00, 0x7D, 0x7D, 0x7D, 0x7D, 0xFF, 0xFF), True),
)


@dataclass(frozen=True)
class Trace:
    """How a trace is made: ends of the bus, its length, where the scope sits, and the layout of the table."""

    terminators: tuple
    layout: str
    length: float = 24.0
    at: int = 3
    stubs: tuple = (1.0, 0.6, 1.5, 0.8)
    bit_rate: float = 250e3


TRACES = {
    "scope-sound": Trace((120.0, 120.0), "commas"),
    "scope-terminator-missing": Trace((120.0, None), "semicolons", length=38.0, at=0),
    "scope-no-terminator": Trace((None, None), "tabs"),
    "scope-long-stub": Trace((120.0, 120.0), "interval", stubs=(1.0, 14.0, 1.5, 0.8), bit_rate=500e3),
}


def trace(how):
    """Seconds, CAN high, CAN low."""
    bus = truck(how.terminators, length=how.length)
    bus["stubs"] = list(how.stubs)
    return record(bus, FRAMES, how.bit_rate, at=how.at)


def table(layout, seconds, high, low):
    """The trace as one of the layouts that scopes write."""
    rows = zip(seconds.tolist(), high.tolist(), low.tolist(), strict=True)
    if layout == "commas":
        head = ["invented trace", "Time (s),CAN high (V),CAN low (V)"]
        body = [f"{t:.6e},{h:.2f},{x:.2f}" for t, h, x in rows]
    elif layout == "semicolons":
        head = ["invented trace", "Time;CAN_H;CAN_L", "us;mV;mV"]
        body = [f"{t * 1e6:.2f};{h * 1e3:.1f};{x * 1e3:.1f}".replace(".", ",") for t, h, x in rows]
    elif layout == "tabs":
        head = ["t [ms]\tCAN-L [V]\tCAN-H [V]"]
        body = [f"{t * 1e3:.5f}\t{x:.2f}\t{h:.2f}" for t, h, x in rows]
    else:
        head = ["Sample interval,4.0e-08,s", "Points," + str(len(seconds)), "CAN high,CAN low"]
        body = [f"{h:.2f},{x:.2f}" for _, h, x in rows]
    return "\n".join([*head, *body, ""])


def main():
    """Write them all."""
    for name, how in TRACES.items():
        text = table(how.layout, *trace(how))
        FOLDER.joinpath(f"{name}.csv.gz").write_bytes(gzip.compress(text.encode(), mtime=0))


if __name__ == "__main__":
    main()
