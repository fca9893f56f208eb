"""Emulated adapters as a bench: the real driver, an emulated bus, and time that passes only when somebody waits.

So `linkcheck bench --simulate` shows what each fault looks like on the sheet, on any system and within seconds, and the
tests prove that every fault is caught. Adapter, bus and their faults are those of `linkcheck.live`; here are a serial
line without a device, hands without a person, and the list of faults.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from linkcheck.bench.harness import Side, Spy
from linkcheck.live.clock import SteadyClock
from linkcheck.live.emulated_adapter import EmulatedAdapter, Faults
from linkcheck.live.emulated_bus import EmulatedBus, Frame
from linkcheck.live.port import Port, PortSpec
from linkcheck.live.serial_port import SerialPort

__all__ = ["FAULTS", "SimulatedBench", "SimulatedFault", "SimulatedHands"]

_STEP_NS = 250_000  # as fine as the emulated bus is asked while something happens
_START_NS = 1_700_000_000_000_000_000


@dataclass(frozen=True, slots=True)
class SimulatedFault:
    """What is wrong with a simulated adapter.

    Attributes:
        words: in plain words. adapter: faults of the emulated adapter. reports_errors, buffer: as `EmulatedAdapter`.
        stalls_s: every second it hangs for so long. dies_after_s: unplugs itself then. stays_away: is not found again
            after it was pulled. hangs_after_short: does not come back from a shorted bus. least_volts: resets below.
            amps: supply current. ohms: across its CAN pins. truck: the bench is no bench, traffic runs on it.

    """

    words: str
    adapter: dict[str, Any] = field(default_factory=dict)
    reports_errors: bool = True
    buffer: int = 65_536
    stalls_s: float = 0.0
    dies_after_s: float | None = None
    stays_away: bool = False
    hangs_after_short: bool = False
    least_volts: float = 6.0
    amps: float = 0.12
    ohms: float = 38_000.0
    truck: bool = False


FAULTS: dict[str, SimulatedFault] = {
    "none": SimulatedFault("nothing is wrong"),
    "mute": SimulatedFault("answers no command", {"mute": True}),
    "unconfirmed": SimulatedFault("does as told and confirms nothing", {"takes_silently": True}),
    "refuses-rate": SimulatedFault("refuses every bit rate", {"refuse_rate": True}),
    "refuses-open": SimulatedFault("refuses to open", {"refuse_open": True}),
    "refuses-listen-only": SimulatedFault("refuses to listen only", {"refuse_listen_only": True}),
    "not-silent": SimulatedFault("acknowledges although it confirmed listen-only", {"acknowledges_anyway": True}),
    "no-acknowledge": SimulatedFault("never acknowledges what it hears", {"no_acknowledge": True}),
    "wrong-rate": SimulatedFault("confirms the bit rate and runs at another", {"wrong_rate": 125_000}),
    "no-status": SimulatedFault("does not tell its status", {"no_status": True}),
    "hides-errors": SimulatedFault("reports no error at all", {"no_status": True}, reports_errors=False),
    "corrupts-received": SimulatedFault("flips a bit in 1 of 100 frames received", {"corrupt": 0.01}),
    "corrupts-sent": SimulatedFault("flips a bit in 1 of 100 frames sent", {"alter_sent": 0.01}),
    "garbles-line": SimulatedFault("garbles 1 of 100 lines to the host", {"damage": 0.01}),
    "drops-received": SimulatedFault("drops 1 of 100 frames received", {"drop": 0.01}),
    "drops-sent": SimulatedFault("confirms 1 of 100 frames and never sends it", {"lose_sent": 0.01}),
    "doubles": SimulatedFault("passes on 1 of 100 frames twice", {"duplicate": 0.01}),
    "swaps": SimulatedFault("exchanges 1 of 100 frames with the next", {"swap": 0.01}),
    "echoes": SimulatedFault("reports its own frames as received", {"echo": True}),
    "slow": SimulatedFault("hands frames on 80 ms late", {"delay_s": 0.08}),
    "uneven": SimulatedFault("hands frames on up to 300 ms late, at random", {"jitter_s": 0.3}),
    "stamps-go-back": SimulatedFault("its time stamps step backward", {"stamps_back": True}),
    "small-buffer": SimulatedFault("loses frames at full load", {"delay_s": 0.02}, buffer=120),
    "stalls": SimulatedFault("hangs for 1.5 s now and then", stalls_s=1.5),
    "goes-away": SimulatedFault("drops off the host in the middle of the test", dies_after_s=5.5),
    "stays-away": SimulatedFault("is not found again after unplugging", stays_away=True),
    "stuck-bus-off": SimulatedFault("does not come back after the pair was shorted", hangs_after_short=True),
    "low-voltage": SimulatedFault("resets below 10.5 V", least_volts=10.5),
    "terminator-inside": SimulatedFault("has a terminator inside", ohms=120.0),
    "truck-connected": SimulatedFault("the harness is not a bench: modules talk on it", truck=True),
}


class SimulatedBench:
    """An `Opener` of two emulated adapters: A with the fault, B sound.

    Args:
        fault: a value of `FAULTS`.
        seed: of all chance.

    """

    def __init__(self, fault: SimulatedFault, seed: int = 1) -> None:
        self.fault = fault
        traffic = _truck_traffic() if fault.truck else None
        self.bus = EmulatedBus(250_000, _START_NS, traffic)
        self.adapters: dict[Side, EmulatedAdapter] = {
            "a": EmulatedAdapter(
                self.bus,
                Faults(**fault.adapter),
                seed=seed,
                buffer=fault.buffer,
                reports_errors=fault.reports_errors,
                version="V1001",
            ),
            "b": EmulatedAdapter(self.bus, Faults(), seed=seed + 1, version="V1002"),
        }
        self.pulled: set[Side] = set()
        self.volts = 13.8
        self.now = _START_NS
        self._clock = SteadyClock(wall_ns=self.now_ns, steady_ns=self.now_ns)
        self._next_stall = _START_NS + 1_000_000_000

    def now_ns(self) -> int:
        """The simulated time."""
        return self.now

    def spec(self, side: Side) -> PortSpec:
        """A simulated adapter's spec."""
        return PortSpec("serial", f"simulated-{side}")

    def open(self, side: Side, bit_rate: int, *, active: bool, accept_unproven: bool, spy: Spy | None) -> Port:
        """Open an emulated adapter with the real driver."""
        if side == "b" and not self.fault.truck:
            self.bus.bit_rate = bit_rate  # on a harness the trusted side says what is right; a truck has its own rate
        spec = PortSpec("serial", f"simulated-{side}", bit_rate, active, accept_unproven)
        return SerialPort(spec, self._clock, lambda *_args, **_kw: _SimulatedLine(self, side, spy))

    def wait(self, seconds: float) -> None:
        """Let simulated time pass."""
        self.pass_time(round(seconds * 1e9), lambda: False)

    def pass_time(self, most_ns: int, enough: Callable[[], bool]) -> None:
        """Let time pass, at most so long, until it is enough."""
        until = self.now + most_ns
        while not enough() and self.now < until:
            due = [at for adapter in self.adapters.values() if (at := adapter.due_ns) is not None and at > self.now]
            step = _STEP_NS if not self.bus.idle else min([until, *due]) - self.now
            self.now = min(until, self.now + max(1, step))
            self._misbehave()
            self.bus.advance(self.now)

    def _misbehave(self) -> None:
        fault = self.fault
        if fault.dies_after_s is not None and self.now > _START_NS + fault.dies_after_s * 1e9:
            self.pulled.add("a")
        if fault.stalls_s and self.now > self._next_stall:
            self.adapters["a"].stall(fault.stalls_s)
            self._next_stall = self.now + round((fault.stalls_s + 1.0) * 1e9)
        if self.volts < fault.least_volts:
            self.adapters["a"].reset()


class _SimulatedLine:
    """What the driver takes for a pyserial port."""

    def __init__(self, bench: SimulatedBench, side: Side, spy: Spy | None) -> None:
        self._bench, self._side, self._spy = bench, side, spy
        self._buffer = b""
        self.timeout = 0.0
        self._alive()

    def _alive(self) -> EmulatedAdapter:
        if self._side in self._bench.pulled:
            raise OSError("no such device")
        return self._bench.adapters[self._side]

    def _fill(self) -> bool:
        block = self._alive().characters()
        if block and self._spy:
            self._spy(self._bench.now, block)
        self._buffer += block
        return bool(self._buffer)

    @property
    def in_waiting(self) -> int:
        """Characters that can be read at once."""
        self._fill()
        return len(self._buffer)

    def read(self, most: int) -> bytes:
        """Characters, waiting for the first as long as `timeout` says."""
        if not self._fill() and most:
            self._bench.pass_time(round(self.timeout * 1e9), self._fill)
        taken, self._buffer = self._buffer[:most], self._buffer[most:]
        return taken

    def write(self, characters: bytes) -> int:
        """Characters to the adapter."""
        self._alive().take_characters(characters)
        return len(characters)

    def flush(self) -> None:
        """Nothing waits."""

    def close(self) -> None:
        """Leave the line."""

    def fileno(self) -> int:
        """There is no file."""
        raise OSError


class SimulatedHands:
    """Does what a person at the bench would do."""

    def __init__(self, bench: SimulatedBench) -> None:
        self._bench = bench

    def no_vehicle(self) -> bool:
        """The truck of `truck-connected` was overlooked, as it would be."""
        return True

    def unplug(self) -> bool:
        """Pull A from the host."""
        self._bench.pulled.add("a")
        self._bench.adapters["a"].reset()
        return True

    def replug(self) -> bool:
        """Put A back."""
        if not self._bench.fault.stays_away:
            self._bench.pulled.discard("a")
        return True

    def short_pair(self) -> bool:
        """Short high to low for a moment: whatever is sent is destroyed."""
        self._bench.bus.break_frames(40)
        if self._bench.fault.hangs_after_short:
            self._bench.adapters["a"].stall(3600.0)
        return True

    def open_pair(self) -> bool:
        """Take the short away."""
        self._bench.wait(0.2)
        return True

    def ohms(self) -> float | None:
        """Across A's CAN pins, alone and without supply."""
        return self._bench.fault.ohms

    def set_volts(self, volts: float) -> bool:
        """Supply A with so many volts."""
        self._bench.volts = volts
        self._bench.wait(0.1)
        return True

    def amps(self) -> float | None:
        """What A draws."""
        return round(self._bench.fault.amps * 13.8 / self._bench.volts, 3)


def _truck_traffic() -> Any:  # noqa: ANN401  # an endless iterator of (time, frame)
    return ((n * 20_000_000, Frame(0x0CF00400, 1, 8, bytes(8))) for n in range(1 << 40))
