"""What is hidden in a simulated capture: what a perfect analyst would say of it.

Facts only, taken from the simulation itself (which power was cut when, which codes were set) and from nothing that an
analyser computes. Times are seconds by the recorder's clock, from its start.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from linkcheck.j1939.addresses import address_name
from linkcheck.j1939.messages import pgn_name
from linkcheck.j1939.parameter_names import spn_name

__all__ = ["CodeSet", "Implausible", "Silence", "Truth", "Unanswered"]


@dataclass(frozen=True, slots=True)
class Silence:
    """Modules that fell silent together.

    Attributes:
        addresses: who, ascending. from_s: their last frame before. to_s: the first frame of any of them after, or
            the capture's end. cause: in a few words.

    """

    addresses: tuple[int, ...]
    from_s: float
    to_s: float
    cause: str


@dataclass(frozen=True, slots=True)
class CodeSet:
    """A trouble code that a module told of in DM1."""

    address: int
    spn: int
    fmi: int


@dataclass(frozen=True, slots=True)
class Implausible:
    """A reading that cannot be: parameter, who sends it, its value and unit."""

    spn: int
    address: int
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Unanswered:
    """A request that nobody answered, and how often it was sent."""

    address: int
    pgn: int
    times: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The truth about one channel of a capture.

    Attributes:
        bit_rate: bits per second. addresses: J1939 source addresses with at least one frame, ascending.
        silences: who fell silent, when; not those a flood keeps from the bus.
        gaps: times (from, to) in which the recorder heard nothing at all.
        codes: trouble codes told. shared: addresses that two devices use at once. missing: modules the truck should
            have and that never speak.
        unacknowledged: identifiers sent again and again because nobody acknowledges them.
        flood: identifier, from and to of a flood. implausible: readings that cannot be.
        eleven_bit: 11-bit identifiers beside J1939. unanswered: requests without an answer.
        error_frames: how many error frames the recorder wrote. states: those its own controller reached, each once.

    """

    bit_rate: int
    addresses: tuple[int, ...]
    silences: tuple[Silence, ...] = ()
    gaps: tuple[tuple[float, float], ...] = ()
    codes: tuple[CodeSet, ...] = ()
    shared: tuple[int, ...] = ()
    missing: tuple[int, ...] = ()
    unacknowledged: tuple[int, ...] = ()
    flood: tuple[int, float, float] | None = None
    implausible: tuple[Implausible, ...] = ()
    eleven_bit: tuple[int, ...] = ()
    unanswered: tuple[Unanswered, ...] = ()
    error_frames: int = 0
    states: tuple[str, ...] = ()

    def sentences(self) -> Iterator[str]:
        """The same in words."""
        yield f"Talking at {self.bit_rate} bit/s: {', '.join(map(address_name, self.addresses)) or 'nobody'}."
        for silence in self.silences:
            who = " and ".join(map(address_name, silence.addresses))
            yield f"Silent from {silence.from_s:.3f} s to {silence.to_s:.3f} s: {who} ({silence.cause})."
        for start_s, end_s in self.gaps:
            yield f"Nothing at all was heard from {start_s:.3f} s to {end_s:.3f} s."
        for code in self.codes:
            name = spn_name(code.spn)
            known = "" if name.startswith("SPN") else f" ({name})"
            yield f"The {address_name(code.address)} tells of SPN {code.spn} FMI {code.fmi}{known}."
        yield from (f"Two devices use the address of the {address_name(address)}." for address in self.shared)
        yield from (f"Never heard: {address_name(address)}." for address in self.missing)
        yield from (f"Nobody acknowledges {identifier:08X}." for identifier in self.unacknowledged)
        if self.flood:
            identifier, start_s, end_s = self.flood
            yield f"{identifier:08X} floods the bus from {start_s:.3f} s to {end_s:.3f} s."
        for reading in self.implausible:
            who = address_name(reading.address)
            yield f"The {who} says {spn_name(reading.spn)} is {reading.value:g} {reading.unit}: it cannot be."
        for request in self.unanswered:
            who = address_name(request.address)
            yield f"Asked {request.times} times and never answered: {pgn_name(request.pgn)} from the {who}."
        if self.eleven_bit:
            yield f"Beside J1939, 11-bit frames: {', '.join(f'{ident:03X}' for ident in self.eleven_bit)}."
        if self.error_frames:
            yield f"Error frames: {self.error_frames}."
        if self.states:
            yield f"The recorder's own controller became {', '.join(self.states)}."
