"""Long parameters sent in sections (PIDs 192 and 448), put together again.

Layout as in the open decoder grimm-co/stm32-j1708 (j1708/pid_types.py, msg.py): the PID that is sent in parts (its low
byte), a byte with the number of the last section in its high half and of this one in its low half, in section 0 the
total length, then data.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from linkcheck.j1708.parameters import Parameter

__all__ = ["SECTION", "SECTION_PAGE_2", "Sections"]

SECTION, SECTION_PAGE_2 = 192, 448


@dataclass(slots=True)
class _Parts:
    last: int
    size: int | None = None
    data: dict[int, bytes] = field(default_factory=dict)


class Sections:
    """Keeps the sections of every sender until a parameter is whole."""

    def __init__(self) -> None:
        self._open: dict[tuple[int, int], _Parts] = {}

    def take(self, mid: int, parameter: Parameter) -> Parameter | None:
        """Take a section; returns the whole parameter with the last one missing. Nonsense is forgotten."""
        if parameter.pid not in (SECTION, SECTION_PAGE_2) or len(parameter.data) < 3:
            return None
        pid = parameter.data[0] + (256 if parameter.pid == SECTION_PAGE_2 else 0)
        last, current = parameter.data[1] >> 4, parameter.data[1] & 0x0F
        if current > last:
            return None
        key = (mid, pid)
        parts = self._open.get(key)
        if parts is None or current == 0 or parts.last != last:
            parts = self._open[key] = _Parts(last)
        if current == 0:
            parts.size = parameter.data[2]
        parts.data[current] = parameter.data[3 if current == 0 else 2 :]
        if len(parts.data) <= last or parts.size is None:
            return None
        del self._open[key]
        data = b"".join(parts.data[number] for number in range(last + 1))
        return Parameter(pid, data) if len(data) == parts.size else None
