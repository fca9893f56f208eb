"""An emulated serial-line adapter: characters in and out on one side, an emulated bus on the other, and faults.

It speaks the open ASCII protocol from the adapter's side (see `serial_protocol`). All chance comes from a seed. What
carries the characters (a pseudo-terminal, a test) is not its business.
"""

from __future__ import annotations

import random
from collections import deque
from dataclasses import dataclass

from linkcheck.errors import UsageError
from linkcheck.frames import BRS, EXTENDED, FD, REMOTE
from linkcheck.live.emulated_bus import EmulatedBus, Frame
from linkcheck.live.serial_protocol import RATE_COMMANDS, frame_command

__all__ = ["EmulatedAdapter", "Faults"]

_RATES = {command: rate for rate, command in RATE_COMMANDS.items()}
_OK, _NO = b"\r", b"\a"
_WARNING, _PASSIVE = 96, 128  # error counters: ISO 11898-1
_MS = 1_000_000


@dataclass(slots=True)
class Faults:
    """What is wrong with an adapter; may be changed while it runs. Probabilities are per frame, 0 to 1.

    Attributes:
        mute: answers no command and passes no frame. takes_silently: does what it is told, and answers nothing.
        refuse_rate, refuse_listen_only, refuse_open, no_status: answers those commands with a refusal.
        acknowledges_anyway: takes part in the bus although told to listen only (and confirms that it listens).
        no_acknowledge: takes part, sends, and never acknowledges others.
        wrong_rate: really runs at this bit rate, whatever it was told.
        corrupt: flips a payload bit. damage: garbles a character on the serial line. drop, duplicate: a frame.
        swap: exchanges a frame with the next. lose_sent: confirms a frame to send and forgets it.
        alter_sent: sends with a payload bit flipped. echo: also reports its own frames as received.
        delay_s: holds every frame back. jitter_s: up to so much more, at random, order kept.
        stamps_back: its own time stamps go backward now and then (with Z1).

    """

    mute: bool = False
    takes_silently: bool = False
    refuse_rate: bool = False
    refuse_listen_only: bool = False
    refuse_open: bool = False
    no_status: bool = False
    acknowledges_anyway: bool = False
    no_acknowledge: bool = False
    wrong_rate: int | None = None
    corrupt: float = 0.0
    damage: float = 0.0
    drop: float = 0.0
    duplicate: float = 0.0
    swap: float = 0.0
    lose_sent: float = 0.0
    alter_sent: float = 0.0
    echo: bool = False
    delay_s: float = 0.0
    jitter_s: float = 0.0
    stamps_back: bool = False


class EmulatedAdapter:
    """One adapter on a bus.

    Args:
        bus: where it hangs. faults: what is wrong with it. seed: of its chance.
        buffer: characters it can hold for the host; more are lost, and it says so.
        reports_errors: sends error and state lines (not every adapter does).

    """

    def __init__(
        self,
        bus: EmulatedBus,
        faults: Faults | None = None,
        *,
        seed: int = 1,
        buffer: int = 65_536,
        reports_errors: bool = True,
        version: str = "V1013",
    ) -> None:
        self.bus, self.faults = bus, faults or Faults()
        self.chance = random.Random(seed)  # noqa: S311  # chance for tests, not for secrets
        self.buffer, self.reports_errors, self.version = buffer, reports_errors, version
        self.bit_rate: int | None = None
        self.active = False
        self.listening = False
        self.tx_errors = self.rx_errors = 0
        self.lost = 0  # frames that found the buffer full
        self.stalled_until_ns = 0
        self._told_rate: int | None = None
        self._stamps = False
        self._command = b""
        self._out: deque[tuple[int, bytes]] = deque()  # due time, characters
        self._held: Frame | None = None
        self._size = 0
        self._flags = 0
        self._level = "a"
        self._pending = 0  # own frames on their way
        bus.nodes.append(self)

    # -- the host's side

    def take_characters(self, block: bytes) -> None:
        """Characters from the host."""
        *commands, self._command = (self._command + block).split(b"\r")
        for command in commands:
            answer = self._obey(command)
            if not (self.faults.mute or self.faults.takes_silently):
                self._say(answer)

    @property
    def due_ns(self) -> int | None:
        """When the next characters for the host are due; None where there are none."""
        if not self._out or self.faults.mute:
            return None
        return max(self._out[0][0], self.stalled_until_ns)

    def characters(self, most: int = 4096) -> bytes:
        """Characters for the host that are due by now; at most about `most`."""
        now = self.bus.now_ns
        if now < self.stalled_until_ns or self.faults.mute:
            return b""
        parts, size = [], 0
        while self._out and self._out[0][0] <= now and size < most:
            part = self._out.popleft()[1]
            parts.append(part)
            size += len(part)
        self._size -= size
        return b"".join(parts)

    def stall(self, seconds: float) -> None:
        """Say nothing for a while; what comes meanwhile waits."""
        self.stalled_until_ns = self.bus.now_ns + int(seconds * 1e9)

    def reset(self) -> None:
        """What losing its supply does."""
        self._leave()
        self._told_rate, self._command, self._held = None, b"", None
        self._out.clear()
        self._size = 0

    def _obey(self, command: bytes) -> bytes:
        letter = command[:1]
        if command in _RATES:
            return self._set_rate(_RATES[command])
        if command in (b"O", b"L"):
            return self._open(listen=command == b"L")
        if letter and letter in b"tTrRdDbB":
            return self._send(command)
        if command in (b"Z0", b"Z1"):
            self._stamps = command == b"Z1"
            return _OK
        answers = {b"": lambda: _OK, b"C": self._close, b"F": self._tell_status}
        answers |= {b"V": lambda: self.version.encode() + _OK, b"N": lambda: b"N0001" + _OK}
        return answers.get(command, lambda: _NO)()

    def _set_rate(self, rate: int) -> bytes:
        if self.faults.refuse_rate or self.bit_rate:
            return _NO
        self._told_rate = rate
        return _OK

    def _close(self) -> bytes:
        was_open = self.bit_rate is not None
        self._leave()
        return _OK if was_open else _NO

    def _tell_status(self) -> bytes:
        if self.faults.no_status or self.bit_rate is None:
            return _NO
        flags, self._flags = self._flags | self._standing(), 0
        return b"F%02X\r" % flags

    def _open(self, *, listen: bool) -> bytes:
        if self._told_rate is None or self.bit_rate or self.faults.refuse_open:
            return _NO
        if listen and self.faults.refuse_listen_only:
            return _NO
        self.bit_rate = self.faults.wrong_rate or self._told_rate
        self.listening = listen
        self.active = not self.faults.no_acknowledge and (not listen or self.faults.acknowledges_anyway)
        self.tx_errors = self.rx_errors = 0
        self._level = "a"
        return _OK

    def _leave(self) -> None:
        self.bit_rate, self.active, self._flags, self._pending = None, False, 0, 0
        self.bus.withdraw(self)

    def _send(self, command: bytes) -> bytes:
        frame = _frame_of(command)
        if self.bit_rate is None or self.listening or frame is None or self._pending >= 64:
            return _NO
        if not self._happens(self.faults.lose_sent):
            self._pending += 1
            self.bus.put(self._flipped(frame, self.faults.alter_sent), self)
        return b"Z\r" if frame.flags & EXTENDED else b"z\r"

    # -- the bus's side

    def hear(self, time_ns: int, frame: Frame) -> None:
        """A whole frame was on the bus."""
        self.rx_errors = max(0, self.rx_errors - 1)
        self._change_level()
        if self._happens(self.faults.drop):
            return
        frame = self._flipped(frame, self.faults.corrupt)
        if self._held is None and self._happens(self.faults.swap):
            self._held = frame
            return
        self._pass(time_ns, frame)
        if self._happens(self.faults.duplicate):
            self._pass(time_ns, frame)
        if self._held is not None:
            held, self._held = self._held, None
            self._pass(time_ns, held)

    def hear_error(self, _time_ns: int) -> None:
        """A frame was destroyed: what a receiver sees of it."""
        self.rx_errors = min(self.rx_errors + 1, 135)
        self._flags |= 0x80
        if self.reports_errors:
            self._say(b"e1s\r")
        self._change_level()

    def sent(self, time_ns: int, frame: Frame, *, acknowledged: bool) -> None:
        """One of this adapter's own frames was on the bus."""
        if acknowledged:
            self._pending -= 1
            self.tx_errors = max(0, self.tx_errors - 1)
            if self.faults.echo:
                self._pass(time_ns, frame)
        else:
            # Without an acknowledgement a sender stops counting once it is error-passive: ISO 11898-1.
            self.tx_errors = min(self.tx_errors + 8, _PASSIVE)
            self._flags |= 0x80
            if self.reports_errors and self.tx_errors < _PASSIVE:
                self._say(b"e1a\r")
        self._change_level()

    def _standing(self) -> int:
        worst = max(self.tx_errors, self.rx_errors)
        return (0x24 if worst >= _PASSIVE else 0x04 if worst >= _WARNING else 0) | (0x02 if self._pending >= 64 else 0)

    def _change_level(self) -> None:
        worst = max(self.tx_errors, self.rx_errors)
        level = "p" if worst >= _PASSIVE else "w" if worst >= _WARNING else "a"
        if level != self._level:
            self._level = level
            if self.reports_errors:
                self._say(f"s{level}{self.rx_errors:03d}{self.tx_errors:03d}\r".encode())

    def _pass(self, time_ns: int, frame: Frame) -> None:
        line = frame_command(frame.identifier, frame.flags, frame.payload, frame.length)
        if self._stamps:
            ms = time_ns // _MS
            if self.faults.stamps_back and self._happens(0.01):
                ms -= 500
            line += b"%04X" % (ms % 60_000)
        if self._happens(self.faults.damage):
            place = self.chance.randrange(len(line))
            line = line[:place] + bytes([self.chance.choice(b"#?gxq")]) + line[place + 1 :]
        if self._size + len(line) > self.buffer:
            self.lost += 1
            self._flags |= 0x09
            return
        due = time_ns + int((self.faults.delay_s + self.faults.jitter_s * self.chance.random()) * 1e9)
        self._say(line + b"\r", due)

    def _say(self, characters: bytes, due_ns: int = 0) -> None:
        if self._out:
            due_ns = max(due_ns, self._out[-1][0])
        self._out.append((due_ns, characters))
        self._size += len(characters)

    def _happens(self, probability: float) -> bool:
        return probability > 0 and self.chance.random() < probability

    def _flipped(self, frame: Frame, probability: float) -> Frame:
        if not frame.payload or not self._happens(probability):
            return frame
        bit = self.chance.randrange(8 * len(frame.payload))
        payload = bytearray(frame.payload)
        payload[bit // 8] ^= 1 << bit % 8
        return frame._replace(payload=bytes(payload))


def _frame_of(command: bytes) -> Frame | None:
    """The frame a line asks to send; None where it makes no sense."""
    letter = command[:1].decode("ascii", "replace")
    digits = 8 if letter.isupper() else 3
    flags = (EXTENDED if digits == 8 else 0) | {"t": 0, "r": REMOTE, "d": FD, "b": FD | BRS}[letter.lower()]
    try:
        identifier, code = int(command[1 : digits + 1], 16), int(command[digits + 1 : digits + 2], 16)
        payload = bytes.fromhex(command[digits + 2 :].decode("ascii"))
        frame = Frame(identifier, flags, code if flags & REMOTE else len(payload), payload)
        good = frame_command(*frame[:2], payload, code).upper() == command.upper()
    except (ValueError, UsageError):
        return None
    return frame if good else None
