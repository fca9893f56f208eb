"""Two real interfaces as a bench: an `Opener` over the drivers of `linkcheck.live`, both on one clock."""

from __future__ import annotations

import dataclasses
from typing import Any

from linkcheck.bench.harness import Side, Spy
from linkcheck.errors import UsageError
from linkcheck.live.clock import SteadyClock
from linkcheck.live.open_port import SERIAL, open_port, parse_port
from linkcheck.live.port import Port, PortSpec
from linkcheck.live.serial_port import SerialPort

__all__ = ["LiveBench"]

_SHARED = ("virtual", "udp_multicast")  # both sides join one channel


class LiveBench:
    """Two interfaces named on the command line.

    Args:
        a: the one under test, INTERFACE:CHANNEL.
        b: the trusted one.

    Raises:
        UsageError: they are no ports, or the same.

    """

    def __init__(self, a: str, b: str) -> None:
        self._clock = SteadyClock()
        self._specs: dict[Side, PortSpec] = {"a": parse_port(a, 0), "b": parse_port(b, 1)}
        one, two = self._specs.values()
        if (one.interface, one.channel) == (two.interface, two.channel) and one.interface not in _SHARED:
            raise UsageError(f"A and B are the same interface: {a}.", todo="The bench test needs two.")

    def spec(self, side: Side) -> PortSpec:
        """What was named."""
        return self._specs[side]

    def open(self, side: Side, bit_rate: int, *, active: bool, accept_unproven: bool, spy: Spy | None) -> Port:
        """Open a side anew."""
        spec = dataclasses.replace(self._specs[side], bit_rate=bit_rate, active=active, accept_unproven=accept_unproven)
        if spy is None or spec.interface not in SERIAL:
            return open_port(spec, self._clock)
        return SerialPort(spec, self._clock, lambda *args, **kw: _Tapped(args, kw, self._clock, spy))

    def now_ns(self) -> int:
        """The clock of both ports."""
        return self._clock.now_ns()


class _Tapped:
    """A serial line whose characters are shown to somebody else as well."""

    def __init__(self, args: Any, options: Any, clock: SteadyClock, spy: Spy) -> None:  # noqa: ANN401  # pyserial's
        import serial  # noqa: PLC0415  # devices are opened by few commands

        self._line = serial.serial_for_url(*args, **options)
        self._clock, self._spy = clock, spy

    def read(self, most: int) -> bytes:
        """As the line reads."""
        block: bytes = self._line.read(most)
        if block:
            self._spy(self._clock.now_ns(), block)
        return block

    @property
    def timeout(self) -> float:
        """Of the line."""
        return float(self._line.timeout)

    @timeout.setter
    def timeout(self, seconds: float) -> None:
        self._line.timeout = seconds

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401  # whatever else the line has
        return getattr(self._line, name)
