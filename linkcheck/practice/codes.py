"""A module's trouble codes: whom it misses, since when, and how it tells (DM1 and DM2 of SAE J1939-73).

A module that has not heard another one for half a second sets its codes against it; two seconds after it is back they
are no longer active, but remembered. (How long real modules wait differs; these times are invented.)
"""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Code", "CodeMemory"]

MS = 1_000_000
MISSING_NS = 500 * MS
HEALED_NS = 2000 * MS
PATIENCE_NS = 2000 * MS  # after power-up, while the others may still be waking
AMBER, NO_LAMP = 0x04, 0x00
MOST = 126  # occurrences; 127 means not available


@dataclass(frozen=True, slots=True)
class Code:
    """A trouble code: parameter and failure mode."""

    spn: int
    fmi: int

    def to_bytes(self, count: int) -> bytes:
        """Four bytes as in DM1, conversion method 0."""
        return bytes([self.spn & 0xFF, self.spn >> 8 & 0xFF, self.spn >> 16 << 5 | self.fmi, min(count, MOST)])


@dataclass(slots=True)
class CodeMemory:
    """What a module holds against others.

    Attributes:
        watches: address of another module to the codes set when that one falls silent.
        set_at: every time a code became active, with the time in nanoseconds.

    """

    watches: dict[int, tuple[Code, ...]]
    set_at: list[tuple[int, Code]] = field(default_factory=list)
    _counts: dict[Code, int] = field(default_factory=dict)
    _active: list[Code] = field(default_factory=list)
    _heard_ns: dict[int, int] = field(default_factory=dict)
    _back_since_ns: dict[int, int] = field(default_factory=dict)

    def wake(self, now_ns: int) -> None:
        """Power is back: give everybody time to speak."""
        self._heard_ns = dict.fromkeys(self.watches, now_ns + PATIENCE_NS)
        self._back_since_ns = {}

    def heard(self, address: int, now_ns: int) -> None:
        """A frame came from an address."""
        if address in self._heard_ns:
            self._heard_ns[address] = max(now_ns, self._heard_ns[address])

    def look(self, now_ns: int) -> bool:
        """Set and clear codes; whether anything changed."""
        before = list(self._active)
        for address, codes in self.watches.items():
            if now_ns - self._heard_ns[address] > MISSING_NS:
                self._back_since_ns.pop(address, None)
                for code in codes:
                    if code not in self._active:
                        self._active.append(code)
                        self._counts[code] = self._counts.get(code, 0) + 1
                        self.set_at.append((now_ns, code))
            elif now_ns - self._back_since_ns.setdefault(address, now_ns) > HEALED_NS:
                self._active = [code for code in self._active if code not in codes]
        return self._active != before

    def active_message(self) -> bytes:
        """DM1: the codes active now."""
        return self._message(self._active)

    def past_message(self) -> bytes:
        """DM2: the codes that were active before."""
        return self._message([code for code in self._counts if code not in self._active])

    def _message(self, codes: list[Code]) -> bytes:
        lamp = AMBER if self._active else NO_LAMP
        if not codes:
            return bytes([lamp, 0xFF, 0, 0, 0, 0, 0xFF, 0xFF])
        rows = b"".join(code.to_bytes(self._counts[code]) for code in codes)
        return (bytes([lamp, 0xFF]) + rows).ljust(8, b"\xff")
