"""From a truck that lived through its day to a capture and the truth about it."""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.practice.day import Day
from linkcheck.practice.recorder import Recorder, as_batch
from linkcheck.practice.truck import Truck
from linkcheck.practice.truth import CodeSet, Silence, Truth

__all__ = ["START_NS", "Channel", "Recording", "live", "record"]

SECOND = 1_000_000_000
START_NS = 1_700_000_000 * SECOND  # by the recorder's clock: 14 November 2023, 22:13:20 UTC
TOLD_NS = 1_500_000_000  # a code set later than this before the end may not have been told any more
AFTERMATH_NS = 1_000_000  # frames already on their way when something happened


@dataclass(frozen=True, slots=True)
class Recording:
    """A simulated capture and what is hidden in it, by interface."""

    batch: FrameBatch
    truths: dict[str, Truth]


@dataclass(slots=True)
class Channel:
    """What one recorder wrote and what is hidden in it, which the scenario completes."""

    recorder: Recorder
    truth: Truth

    def gap(self, time_ns: int) -> tuple[float, float]:
        """The silence of everybody around a time of the simulation."""
        return _gap_around(self.recorder, time_ns)

    def silence(self, addresses: tuple[int, ...], lost_ns: int, cause: str) -> Silence:
        """Modules that lost the bus together at a time of the simulation."""
        return _silence(self.recorder, addresses, lost_ns, cause)


def live(day: Day, truck: Truck) -> Channel:
    """Let a truck live through the day, and note what the simulation itself knows of it."""
    truck.bus.run(day.end_ns)
    recorder = truck.recorder
    codes = {
        CodeSet(address, code.spn, code.fmi)
        for address, module in truck.modules.items()
        for set_ns, code in module.codes.set_at
        if set_ns < day.end_ns - TOLD_NS
    }
    silences = [
        _silence(recorder, (address,), lost_ns, "its controller went bus-off")
        for address, module in truck.modules.items()
        for lost_ns in module.bus_offs_ns
    ]
    truth = Truth(
        bit_rate=truck.bus.bit_rate,
        addresses=tuple(sorted({ident & 0xFF for _, ident, flags, _ in recorder.rows if flags == EXTENDED})),
        silences=tuple(sorted(silences, key=lambda silence: silence.from_s)),
        codes=tuple(sorted(codes, key=lambda code: (code.address, code.spn))),
        error_frames=sum(flags == ERROR for _, _, flags, _ in recorder.rows),
        states=tuple(dict.fromkeys(state.name.lower().replace("_", "-") for state in recorder.states)),
    )
    return Channel(recorder, truth)


def record(**channels: Channel) -> Recording:
    """Put the buses of a day into one capture."""
    batch = as_batch({name: channel.recorder for name, channel in channels.items()}, START_NS)
    return Recording(batch, {name: channel.truth for name, channel in channels.items()})


def _gap_around(recorder: Recorder, time_ns: int, *addresses: int) -> tuple[float, float]:
    """The last J1939 frame (of these addresses) before a time and the first after it; else the start, the last row."""
    at_ns = time_ns + AFTERMATH_NS - recorder.begin_ns
    times = [
        row_ns
        for row_ns, identifier, flags, _ in recorder.rows
        if flags == EXTENDED and (not addresses or identifier & 0xFF in addresses)
    ]
    before = max((t for t in times if t <= at_ns), default=0)
    after = min((t for t in times if t > at_ns), default=recorder.rows[-1][0])
    return before / SECOND, after / SECOND


def _silence(recorder: Recorder, addresses: tuple[int, ...], lost_ns: int, cause: str) -> Silence:
    return Silence(addresses, *_gap_around(recorder, lost_ns, *addresses), cause)
