"""Full load, latency, time stamps: figures that say how good an adapter is, not only whether it works."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from linkcheck.bench.bench import NOTHING_PASSES, Bench, Measured, rate_words, row
from linkcheck.bench.figures import WORST_DRIFT_ERROR_PPM, latency, stamp_figures
from linkcheck.bench.frames import bits_of, number_of, numbered
from linkcheck.bench.harness import Carried, Side, other
from linkcheck.bench.ledger import count_numbers
from linkcheck.bench.limits import LATENCY_MAX_MS, LATENCY_P99_MS, LOAD_RECEIVE, LOAD_SEND, LONGEST_GAP_S
from linkcheck.bench.result import Row
from linkcheck.live.serial_protocol import LineParser

__all__ = ["full_load", "latencies", "time_stamps"]

_BITS = 145  # about a numbered frame's mean length, to turn seconds into frames
_ROUND_MS = 60_000  # serial-line stamps run to 59,999 and start again
_STAMP_PACE_S = 0.01
_TR = "SAE J1939-21, Tr 200 ms; p99: common practice, no source"


def full_load(bench: Bench) -> Iterator[Row]:
    """Frames back to back, both directions, every rate."""
    directions: tuple[tuple[Side, str, float], ...] = (("b", "receives", LOAD_RECEIVE), ("a", "sends", LOAD_SEND))
    for rate in bench.rates():
        for sender, verb, least in directions:
            yield row(
                f"load_{verb}_{rate // 1000}k",
                f"{verb.capitalize()} at full load",
                f"nothing lost, at least {least:.0%} of the bit rate, no gap over {LONGEST_GAP_S:g} s",
                NOTHING_PASSES if (rate, sender) in bench.dead else _loaded(bench, rate, sender, least),
                conditions=f"{rate_words(rate)}, frames of 8 bytes back to back, bits counted exactly",
            )
    bench.harness.close()


def _loaded(bench: Bench, rate: int, sender: Side, least: float) -> Measured:
    run, count = bench.next_run(), max(50, round(bench.plan.load_s * rate / _BITS))
    bench.harness.open_both(rate)
    frames = list(numbered(run, count))
    carried = bench.harness.carry(frames, sender, window=bench.plan.window, while_waiting=lambda: bench.tick(None))
    account = count_numbers(run, 0, len(carried.sent), [heard.frame for heard in carried.arrived], carried.refused)
    load, gap_s = carried.load / rate, longest_gap_s(carried)
    span_s = (carried.ended_ns - carried.began_ns) / 1e9
    per_s = account.arrived / span_s if span_s > 0 else 0.0
    figure = f"{account.words}; {load:.0%} load, {per_s:,.0f} frames/s, longest gap {gap_s * 1e3:.0f} ms"
    numbers: dict[str, Any] = {"lost": account.lost, "doubled": account.doubled, "out_of_order": account.out_of_order}
    numbers |= {"changed": account.changed, "load": round(load, 4), "frames_per_s": round(per_s)}
    numbers |= {"longest_gap_s": round(gap_s, 4)}
    if not account.clean or len(carried.sent) < count or gap_s > LONGEST_GAP_S:
        return Measured("fail", figure, numbers, "; ".join(account.examples[:2]))
    refused = f"{carried.refused} frames refused by the sender's full buffer" if carried.refused else ""
    if load >= least:
        return Measured("pass", figure, numbers, refused)
    if sender == "b":
        return Measured("no verdict", figure, numbers, "the partner or this host could not fill the bus")
    return Measured("fail", figure, numbers, "too slow, or the host was busy")


def longest_gap_s(carried: Carried) -> float:
    """Longest time between two frames that arrived, or from the first sent to the first that arrived."""
    times = [carried.sent[0][0] if carried.sent else carried.began_ns, *(heard.time_ns for heard in carried.arrived)]
    return max((b - a for a, b in pairwise(times)), default=0) / 1e9


def latencies(bench: Bench) -> Iterator[Row]:
    """One frame at a time, both directions: from handing over to arriving, less its time on the wire."""
    rate = min(bench.usable)
    directions: tuple[tuple[Side, str], ...] = (("b", "B to A"), ("a", "A to B"))
    for sender, words in directions:
        yield row(
            f"latency_{sender}_to_{other(sender)}",
            f"Latency, {words}",
            f"p99 {LATENCY_P99_MS:g} ms, max {LATENCY_MAX_MS:g} ms",
            NOTHING_PASSES if (rate, sender) in bench.dead else _latency(bench, rate, sender),
            source=_TR,
            conditions=f"{rate_words(rate)}, one frame at a time; both adapters and this host are in it",
        )
    bench.harness.close()


def _latency(bench: Bench, rate: int, sender: Side) -> Measured:
    run = bench.next_run()
    bench.harness.open_both(rate)
    frames = list(numbered(run, bench.plan.latency_frames))
    carried = bench.harness.carry(frames, sender, window=1, while_waiting=lambda: bench.tick(None))
    sent = {number_of(run, frame): time_ns for time_ns, frame in carried.sent}
    delays = [
        heard.time_ns - sent[number] - bits_of([heard.frame]) * 1e9 / rate
        for heard in carried.arrived
        if (number := number_of(run, heard.frame)) in sent
    ]
    if not delays:
        return Measured("fail", "no frame arrived")
    figures = latency(delays)
    good = figures.p99_ms <= LATENCY_P99_MS and figures.max_ms <= LATENCY_MAX_MS
    numbers = {"p50_ms": figures.p50_ms, "p95_ms": figures.p95_ms, "p99_ms": figures.p99_ms}
    numbers |= {"max_ms": figures.max_ms, "frames": figures.frames}
    return Measured("pass" if good else "fail", figures.words, numbers)


def time_stamps(bench: Bench) -> Iterator[Row]:
    """The adapter's own time stamps against the host's clock."""
    if (min(bench.usable), "b") in bench.dead:
        found = NOTHING_PASSES
    else:
        found = _stamps(bench) if bench.is_serial("a") else _foreign_stamps(bench)
    yield row(
        "time_stamps",
        "Own time stamps",
        f"no step back; handed on within {LATENCY_MAX_MS:g} ms of it (99 %)",
        found,
        conditions=f"one frame every {_STAMP_PACE_S * 1e3:g} ms",
    )


def _stamps(bench: Bench) -> Measured:
    parser = LineParser()
    stamps: list[int] = []
    times: list[int] = []

    def spy(time_ns: int, block: bytes) -> None:
        found = parser.feed(block, time_ns)
        stamps.extend(found.stamps[number] for number in sorted(found.stamps))
        times.extend([time_ns] * len(found.stamps))

    rate = min(bench.usable)
    bench.harness.open("b", rate)
    port = bench.harness.open("a", rate, spy=spy)
    if port.command(b"Z1") != b"":  # type: ignore[attr-defined]  # serial-line ports have it
        return Measured("not measured", note="the adapter does not stamp its frames")
    frames = list(numbered(bench.next_run(), bench.plan.stamp_frames))
    bench.harness.carry(frames, "b", pace_s=_STAMP_PACE_S, while_waiting=lambda: bench.tick(None))
    port.command(b"Z0")  # type: ignore[attr-defined]
    bench.harness.close()
    if len(stamps) < 3:
        return Measured("not measured", note="no stamped frame came")
    found = stamp_figures(stamps, times, _ROUND_MS)
    told = found.drift_error_ppm <= WORST_DRIFT_ERROR_PPM
    numbers = {"backward": found.backward, "jitter_ms": found.jitter_ms}
    numbers |= {"drift_ppm": found.drift_ppm} if told else {}
    good = not found.backward and found.jitter_ms <= LATENCY_MAX_MS
    note = f"{found.frames} frames; the host's own is in it"
    return Measured("pass" if good else "fail", found.words, numbers, note)


def _foreign_stamps(bench: Bench) -> Measured:
    rate = min(bench.usable)
    bench.harness.open_both(rate)
    frames = list(numbered(bench.next_run(), bench.plan.stamp_frames))
    carried = bench.harness.carry(frames, "b", pace_s=_STAMP_PACE_S, while_waiting=lambda: bench.tick(None))
    clock = bench.harness.ports["a"].facts.clock
    bench.harness.close()
    times = [heard.time_ns for heard in carried.arrived]
    backward = sum(b < a for a, b in pairwise(times))
    figure, numbers = f"{backward} steps back, clock of the {clock}", {"backward": backward, "clock": clock}
    if clock == "host":
        return Measured("no verdict", figure, numbers, "the stamps are the host's, not the adapter's")
    return Measured("fail" if backward else "pass", figure, numbers)
