"""Bursts in, messages and damage out.

A message is MID, content and a checksum, at most 21 bytes (SAE J1708; longer only while the engine is off and the
vehicle stands). A burst that is not one is mended where its content leaves no doubt: time stamps of a serial port may
be too coarse to show the silence, so messages run together or come in two parts. What was mended is marked, what cannot
be is kept as damage: a lone byte is most often all that a collision leaves, for both senders withdraw after the MID.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from linkcheck.j1708.checksum import is_sound
from linkcheck.j1708.framing import CHARACTER_NS, Burst
from linkcheck.j1708.parameters import Parameter, parameters

__all__ = ["FIRST_J1587_MID", "LONGEST_MESSAGE", "Damage", "Heard", "Message", "MessageReader"]

LONGEST_MESSAGE = 21  # bytes, MID and checksum included
FIRST_J1587_MID = 128  # below, J1708 itself and older vehicle links give MIDs their own layouts
_SHORTEST = 4  # bytes of a J1587 message: MID, PID, data, checksum
_MEND_NS = 40_000_000  # parts further apart than a serial port's latency are not one message


@dataclass(frozen=True, slots=True)
class Message:
    """A sound message.

    Attributes:
        start_ns, end_ns: its first start bit and last stop bit.
        data: MID to checksum. parameters: its parameters; None where it has none that can be cut.
        mended: it was put together or apart by its content, as the time stamps did not frame it.

    """

    start_ns: int
    end_ns: int
    data: bytes
    parameters: tuple[Parameter, ...] | None
    mended: bool = False

    @property
    def mid(self) -> int:
        """Who sent it."""
        return self.data[0]

    @property
    def too_long(self) -> bool:
        """Whether it is longer than a moving vehicle allows."""
        return len(self.data) > LONGEST_MESSAGE


@dataclass(frozen=True, slots=True)
class Damage:
    """A burst that is no message. Kinds: "lone byte", "checksum", "too long", "held" (nothing but 00)."""

    start_ns: int
    end_ns: int
    data: bytes
    kind: str


Heard = Message | Damage


class MessageReader:
    """Tells messages from damage, burst by burst."""

    def __init__(self) -> None:
        self._parts: list[Burst] = []  # bursts that may be the beginning of a message

    def take(self, burst: Burst) -> list[Heard]:
        """What is certain after this burst, in the order heard."""
        whole = _messages(burst)
        if whole:
            return [*self.finish(), *whole]
        heard: list[Heard] = []
        if self._parts and burst.start_ns - self._parts[-1].end_ns > _MEND_NS:
            heard = self.finish()
        self._parts.append(burst)
        for first in range(len(self._parts) - 1):
            joined = _joined(self._parts[first:])
            if len(joined.data) <= LONGEST_MESSAGE and _certain(joined.data):
                heard += [_damage(part) for part in self._parts[:first]]
                self._parts.clear()
                return [*heard, _message(joined, mended=True)]
        while sum(len(part.data) for part in self._parts) >= LONGEST_MESSAGE:
            heard.append(_damage(self._parts.pop(0)))
        return heard

    def finish(self) -> list[Heard]:
        """What was held back, as nothing more will come that belongs to it."""
        heard: list[Heard] = [_damage(part) for part in self._parts]
        self._parts.clear()
        return heard


def _messages(burst: Burst) -> list[Heard]:
    """The message or messages a burst is made of, or nothing."""
    data = burst.data
    sound = is_sound(data) and any(data)
    if sound and len(data) <= LONGEST_MESSAGE and _exact(data):
        return [_message(burst)]
    ends = _cut(data)
    if len(ends) > 1:
        starts = [0, *ends]
        return [_message(_slice(burst, a, b), mended=True) for a, b in zip(starts, ends, strict=False)]
    return [_message(burst)] if sound else []


def _message(burst: Burst, *, mended: bool = False) -> Message:
    inner = parameters(burst.data[1:-1]) if burst.data[0] >= FIRST_J1587_MID else None
    return Message(burst.start_ns, burst.end_ns, burst.data, tuple(inner) if inner is not None else None, mended)


def _exact(data: bytes) -> bool:
    """Whether the lengths inside come out even, as far as they can be known."""
    return data[0] < FIRST_J1587_MID or parameters(data[1:-1]) is not None


def _certain(data: bytes) -> bool:
    """Whether checksum and lengths both fit, which chance seldom does: what mending asks for."""
    return data[0] >= FIRST_J1587_MID and is_sound(data) and _exact(data)


def _cut(data: bytes) -> list[int]:
    """Ends of the most sound messages that fill `data`; nothing where there is no such cut.

    The most, as two messages in a row often pass for one (their checksums add up), and one seldom for two.
    """

    @cache
    def ends_from(start: int) -> tuple[int, ...] | None:
        if start == len(data):
            return ()
        best: tuple[int, ...] | None = None
        for end in range(start + _SHORTEST, min(start + LONGEST_MESSAGE, len(data)) + 1):
            part = data[start:end]
            if _certain(part):
                rest = ends_from(end)
                if rest is not None and (best is None or len(rest) + 1 > len(best)):
                    best = (end, *rest)
        return best

    return list(ends_from(0) or ())


def _slice(burst: Burst, first: int, last: int) -> Burst:
    start = burst.start_ns + first * CHARACTER_NS
    return Burst(start, start + (last - first) * CHARACTER_NS, burst.data[first:last])


def _joined(parts: list[Burst]) -> Burst:
    return Burst(parts[0].start_ns, parts[-1].end_ns, b"".join(part.data for part in parts))


def _damage(burst: Burst) -> Damage:
    if not any(burst.data):
        kind = "held"
    elif len(burst.data) == 1:
        kind = "lone byte"
    else:
        kind = "too long" if len(burst.data) > LONGEST_MESSAGE else "checksum"
    return Damage(burst.start_ns, burst.end_ns, burst.data, kind)
