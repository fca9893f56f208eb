"""A bench supply and a bench meter over SCPI, through pyvisa (with pyvisa-py where no vendor library is installed).

Only commands of the SCPI-1999 standard every such instrument knows: VOLT, CURR, OUTP ON, MEAS:CURR?, MEAS:RES?. What
they cannot do is left to whoever stands behind (`Hands`).
"""

from __future__ import annotations

import contextlib
import warnings
from typing import Any

from linkcheck.bench.hands import Hands
from linkcheck.bench.limits import SUPPLY_MOST_V
from linkcheck.errors import DataError, UsageError

__all__ = ["Instrument", "InstrumentHands"]

_LIMIT_A = 1.0  # adapters draw a fraction; a shorted harness must not burn
_REST_V = 13.8
_OVERRANGE = 9e36  # SCPI-1999: 9.9E37 stands for infinity


class Instrument:
    """An instrument by its VISA name ("TCPIP::192.168.0.5::INSTR", "ASRL/dev/ttyUSB1::INSTR").

    Args:
        name: VISA name.
        library: which VISA library; "@py" is pyvisa-py, a file ending in "@sim" a simulation.

    Raises:
        UsageError: pyvisa is not installed.
        DataError: the instrument cannot be reached.

    """

    def __init__(self, name: str, library: str = "@py") -> None:
        try:
            import pyvisa  # noqa: PLC0415  # an extra, needed by few
        except ImportError as error:
            raise UsageError(
                "Instruments need pyvisa, which is not installed.", todo='Install it: pip install "linkcheck[bench]"'
            ) from error
        self.name = name
        self._wrong = (pyvisa.Error, OSError, ValueError, UserWarning)
        try:
            self._manager = pyvisa.ResourceManager(library)
            open_resource: Any = self._manager.open_resource  # typed as any resource, which cannot be asked
            self._device = open_resource(name, read_termination="\n", write_termination="\n")
            self._device.timeout = 3000
            self.identity = self._query("*IDN?")
        except self._wrong as error:
            raise DataError(
                f"The instrument does not answer: {error}.", where=name, todo="Check its name, cable and remote mode."
            ) from error

    def _query(self, question: str) -> str:
        with warnings.catch_warnings():
            warnings.simplefilter("error", UserWarning)  # pyvisa warns of an answer cut short; it is none
            return str(self._device.query(question)).strip()

    def tell(self, command: str) -> None:
        """Send a command.

        Raises:
            DataError: it did not take it.

        """
        try:
            self._device.write(command)
        except self._wrong as error:
            raise DataError(f"The instrument does not take {command!r}: {error}.", where=self.name) from error

    def ask(self, question: str) -> float:
        """Ask for a figure.

        Raises:
            DataError: no figure came.

        """
        try:
            return float(self._query(question))
        except self._wrong as error:
            raise DataError(f"The instrument does not answer {question!r}: {error}.", where=self.name) from error

    def close(self) -> None:
        """Let go; never raises."""
        with contextlib.suppress(*self._wrong):
            self._device.close()
            self._manager.close()


class InstrumentHands:
    """Hands with instruments: the supply is set and read, the meter read; the rest is done by whoever stands behind.

    Args:
        behind: does everything else.
        supply: feeds A; None where it is set by hand.
        meter: reads ohms across A's pins; None where they are read by hand.

    """

    def __init__(self, behind: Hands, supply: Instrument | None, meter: Instrument | None) -> None:
        self._behind, self._supply, self._meter = behind, supply, meter
        self.no_vehicle = behind.no_vehicle
        self.unplug, self.replug = behind.unplug, behind.replug
        self.short_pair, self.open_pair = behind.short_pair, behind.open_pair
        if supply:
            supply.tell(f"CURR {_LIMIT_A:g}")
            self.set_volts(_REST_V)
            supply.tell("OUTP ON")

    def set_volts(self, volts: float) -> bool:
        """Set the supply, or have it set."""
        if self._supply is None:
            return self._behind.set_volts(volts)
        if not 0 <= volts <= SUPPLY_MOST_V:
            raise UsageError(f"{volts:g} V is beyond what an adapter may be fed with.")
        self._supply.tell(f"VOLT {volts:g}")
        return True

    def amps(self) -> float | None:
        """The supply's current."""
        return self._behind.amps() if self._supply is None else self._supply.ask("MEAS:CURR?")

    def ohms(self) -> float | None:
        """The meter's ohms, once the adapter is alone; infinite where it is over range."""
        if self._meter is None:
            return self._behind.ohms()
        value = self._meter.ask("MEAS:RES?")
        return float("inf") if value > _OVERRANGE else value
