"""Hands at a terminal: the bench test says what to do, and whoever is there does it, or leaves it out."""

from __future__ import annotations

import textwrap
from collections.abc import Callable

from linkcheck.bench.hands import BENCH_WARNING, BENCH_WORD
from linkcheck.cli.output import Progress, say, width
from linkcheck.errors import DataError
from linkcheck.quantities.entry import read_reading
from linkcheck.quantities.registry import in_unit

__all__ = ["TerminalHands"]


class TerminalHands:
    """Asks for what takes a hand. Enter means done; n leaves it out.

    Args:
        bench_confirmed: it was said on the command line that no vehicle is connected.
        work: ask for hand work at all.

    """

    def __init__(self, *, bench_confirmed: bool, work: bool) -> None:
        self._confirmed, self._work = bench_confirmed, work

    def no_vehicle(self) -> bool:
        """Ask whether this is a bench; only a typed "bench" goes on."""
        if self._confirmed:
            return True
        return _ask(BENCH_WARNING).lower() == BENCH_WORD

    def unplug(self) -> bool:
        """Ask for A to be pulled."""
        return self._do("Unplug adapter A from this computer")

    def replug(self) -> bool:
        """Ask for A to be put back."""
        return self._do("Plug adapter A in again and wait until the computer has found it")

    def short_pair(self) -> bool:
        """Ask for a short."""
        return self._do("Short CAN high to CAN low on the harness and keep them shorted")

    def open_pair(self) -> bool:
        """Ask for its end."""
        return self._do("Take the short away")

    def ohms(self) -> float | None:
        """Ask for ohms across A's pins."""
        return self._reading("Adapter A alone, without supply: ohms between its CAN high and low", _ohms)

    def set_volts(self, volts: float) -> bool:
        """Ask for a supply voltage."""
        return self._do(f"Set adapter A's supply to {volts:g} V")

    def amps(self) -> float | None:
        """Ask for the current."""
        return self._reading("What does adapter A draw, in A", _amps)

    def _do(self, what: str) -> bool:
        return self._work and _ask(f"{what}. Enter when done, n to leave it out.").lower() not in ("n", "no", "q")

    def _reading(self, what: str, read: Callable[[str], float]) -> float | None:
        while self._work:
            text = _ask(f"{what}? Enter alone leaves it out.")
            if not text:
                return None
            try:
                return read(text)
            except DataError as error:
                say(error.sentence)
        return None


def _ask(question: str) -> str:
    Progress("").clear()
    say(textwrap.fill(question, width()))
    try:
        return input("> ").strip()
    except EOFError:
        return "n"


def _ohms(text: str) -> float:
    return read_reading(text, "ohms").value


def _amps(text: str) -> float:
    return in_unit(text if text[-1].isalpha() else f"{text} A", "A", where="current")
