"""A long message in packets, both ways at once: what a tool does when it reads codes or a calibration."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Literal

from linkcheck.bench.bench import NOTHING_PASSES, Bench, Measured, rate_words, row
from linkcheck.bench.frames import BenchFrame
from linkcheck.bench.harness import Side
from linkcheck.bench.limits import TRANSPORT_GAP_S, TRANSPORT_SOURCE
from linkcheck.bench.result import Row
from linkcheck.frames import EXTENDED
from linkcheck.j1939.identifier import GLOBAL
from linkcheck.j1939.transport import Reassembly
from linkcheck.j1939.transport_events import Completed

__all__ = ["broadcast_frames", "long_messages"]

_PACKET = 7  # payload bytes in a packet
_PGN = 65226  # the trouble codes' group, which is what most often comes in packets
_MOST_GAP_MS = 200.0
_KINDS: dict[int, Literal["cm", "dt"]] = {0xECFF00: "cm", 0xEBFF00: "dt"}  # to everyone
_TOOLS: dict[Side, int] = {"a": 0xF9, "b": 0xFA}  # addresses of off-board tools


def broadcast_frames(source: int, payload: bytes) -> list[BenchFrame]:
    """A broadcast announcement and its packets (TP.CM and TP.DT of SAE J1939-21)."""
    packets = -(-len(payload) // _PACKET)
    announcement = (
        bytes([32]) + len(payload).to_bytes(2, "little") + bytes([packets, 0xFF]) + _PGN.to_bytes(3, "little")
    )
    frames = [BenchFrame(0x1CECFF00 | source, EXTENDED, 8, announcement)]
    for number in range(packets):
        part = payload[_PACKET * number : _PACKET * (number + 1)].ljust(_PACKET, b"\xff")
        frames.append(BenchFrame(0x1CEBFF00 | source, EXTENDED, 8, bytes([number + 1]) + part))
    return frames


def long_messages(bench: Bench) -> Iterator[Row]:
    """A broadcast from each side."""
    rate = min(bench.usable)
    directions: tuple[tuple[Side, str], ...] = (("b", "receives"), ("a", "sends"))
    for sender, verb in directions:
        size = bench.plan.transport_bytes
        yield row(
            f"long_message_{verb}",
            f"{verb.capitalize()} a message in packets",
            f"intact, packets at most {_MOST_GAP_MS:g} ms apart",
            NOTHING_PASSES if (rate, sender) in bench.dead else _carried(bench, rate, sender, size),
            source=TRANSPORT_SOURCE,
            conditions=f"{rate_words(rate)}, {size} bytes in {-(-size // _PACKET)} packets",
        )
    bench.harness.close()


def _carried(bench: Bench, rate: int, sender: Side, size: int) -> Measured:
    payload = random.Random(bench.seed).randbytes(size)  # noqa: S311  # test data
    bench.harness.open_both(rate)
    frames = broadcast_frames(_TOOLS[sender], payload)
    pace_s = TRANSPORT_GAP_S + 0.001
    carried = bench.harness.carry(frames, sender, pace_s=pace_s, while_waiting=lambda: bench.tick(None))
    reassembly = Reassembly()
    whole: list[Completed] = []
    for heard in carried.arrived:
        kind = _KINDS.get(heard.frame.identifier & 0x3FFFF00)
        if kind is not None:
            events = reassembly.feed(heard.time_ns, heard.frame.identifier & 0xFF, GLOBAL, kind, heard.frame.payload)
            whole += [event for event in events if isinstance(event, Completed)]
    if not whole or whole[0].payload != payload:
        return Measured("fail", "did not arrive whole" if not whole else "arrived changed", {"intact": False})
    most_ms = (whole[0].gap_max_ns or 0) / 1e6
    figure, numbers = f"intact, longest gap {most_ms:.0f} ms", {"intact": True, "longest_gap_ms": round(most_ms, 1)}
    return Measured("pass" if most_ms <= _MOST_GAP_MS else "fail", figure, numbers)
