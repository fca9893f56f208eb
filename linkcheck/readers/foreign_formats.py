"""One driver for each format that is read in the child process: it accounts for all that goes in and comes out.

ASC and CSV are fed line by line; BLF objects are counted before python-can takes them apart, and a size that would
make it go round for ever is found there; SQLite rows are read one by one; MF4 goes through python-can as it is.

An ASC file also holds states of the controller and, in some error frames, the controller's error code register (ECC:
kind, direction, place; as in the SJA1000 data sheet, from memory). Both become error frames (see `controller`).
"""

from __future__ import annotations

import re
import sqlite3
import struct
import zlib
from collections.abc import Callable, Iterator
from typing import Any, ClassVar
from urllib.parse import quote

import can

from linkcheck.errors import DataError
from linkcheck.frames import ERROR
from linkcheck.readers import controller
from linkcheck.readers.account import Account
from linkcheck.readers.feed import Feed, describe
from linkcheck.readers.layout import NO_CHANNEL
from linkcheck.readers.source import Source

__all__ = ["DRIVERS"]

_BLANK = re.compile("")
_ASC_HEADER = re.compile(r"(?i)date\s|base\s|//")
_ASC_REMARK = re.compile(r"(?i)date\s|base\s|//|(?:no\s+)?internal events|(?:begin|end)\s+triggerblock|-?\d+\.\d+\s+\S")
_ASC_FRAME = re.compile(r"(?i)-?\d+\.\d+\s+(?:CANFD\b|\d+\s+(?:[0-9A-F]+x?(?:\s|$)|ErrorFrame))")
_ASC_STATE = re.compile(
    r"(?i)(\d{1,9}\.\d{1,9})\s+CAN\s+(\d{1,3})\s+Status:\s*chip status "
    r"(error active|error passive|warning level|bus ?off)(?:\s+-\s+TxErr:\s*(\d{1,5})\s+RxErr:\s*(\d{1,5}))?"
)
_ASC_LEVELS = {"active": "active", "passive": "passive", "level": "warning"}
_ASC_ECC = re.compile(r"ECC:\s*([01]{8})\b")
_ECC_KINDS = ("bit", "form", "stuff", "")
RELATIVE = "times are those since the event before; they were added up"


def _read_asc(source: Source, account: Account) -> None:
    def unread(line: str) -> str | None:
        if status := _ASC_STATE.match(line):
            return _asc_state(status, account)
        if _ASC_FRAME.match(line):
            return "looks like a frame, but cannot be read as one"
        return None if _ASC_REMARK.match(line) else "not a line of an ASC file"

    feed = Feed(source, account, restart="internal events logged", header=_ASC_HEADER, remark=_BLANK, unread=unread)
    reader = can.ASCReader(feed)  # type: ignore[arg-type,unused-ignore]  # it only iterates over lines
    clock_s = 0.0
    for message in feed.messages(reader):
        if reader.timestamps_format == "relative":
            if not clock_s:
                account.notes.append(RELATIVE)
            clock_s = message.timestamp = clock_s + message.timestamp
        if feed.unfinished:
            feed.answer("the last line has no end; it may be cut short")
            continue
        channel = _channel(message)
        if message.is_error_frame and (ecc := _ASC_ECC.search(feed.line)):
            feed.answer(account.frame(channel, _asc_error(message.timestamp, int(ecc[1], 2))))
        else:
            feed.answer(account.message(channel, message))


def _channel(message: can.Message) -> str:
    """The channel's number as it stands in the file; python-can counts from 0."""
    return str(message.channel + 1) if isinstance(message.channel, int) else NO_CHANNEL


def _asc_error(time_s: float, code: int) -> tuple[int, int, int, int, bytes]:
    classes, data = controller.protocol_error(_ECC_KINDS[code >> 6], code & 0x1F, sending=not code & 0x20)
    return round(time_s * 1e9), classes, ERROR, 8, data


def _asc_state(match: re.Match[str], account: Account) -> str:
    level = _ASC_LEVELS.get(match[3].lower().split()[-1], "off")
    report = controller.state(level, transmit=int(match[4] or 0), receive=int(match[5] or 0))
    if report is None:
        return "a controller state that is not known"
    return account.frame(match[2], (round(float(match[1]) * 1e9), report[0], ERROR, 8, report[1]))


def _read_csv(source: Source, account: Account) -> None:
    remark = re.compile(r"|timestamp,.*")
    feed = Feed(source, account, restart="-", header=None, remark=remark, unread=lambda _: "gives no frame")
    for message in feed.messages(can.CSVReader(feed)):  # type: ignore[arg-type,unused-ignore]  # as above
        feed.answer(account.message(NO_CHANNEL, message))


class _CountedBlf(can.BLFReader):
    """python-can's BLF reader, with every object counted and checked before it is taken apart."""

    _OBJECT: ClassVar = struct.Struct("<4sHHLL")  # signature, header size, header version, object size, object type
    _SMALLEST: ClassVar = 32  # bytes of an object's two headers
    _LARGEST: ClassVar = 1 << 26  # bytes; only a damaged size is larger
    _FRAMES: ClassVar = frozenset({1, 73, 86, 100, 101})  # object types that python-can makes messages of

    def __init__(self, source: Source, account: Account) -> None:
        super().__init__(source.stream)
        self._account = account
        self.expected = 0
        self.lost = False  # the last block broke off inside an object

    def _parse_container(self, data: bytes) -> Iterator[Any]:
        self._account.tick()
        if self.lost:  # this block begins with the rest of the lost object
            self._tail, self.lost = b"", False
            data = data[max(0, data.find(b"LOBJ")) :]
        end = self._check(self._tail + data)
        if end is None:
            yield from super()._parse_container(data)
            return
        yield from super()._parse_container(data[: max(0, end - len(self._tail))])
        self.lost = True
        self._account.lines += 1
        self._account.skip("an object with an impossible size; the rest of its block is lost")

    def _check(self, data: bytes) -> int | None:
        """Count the objects. Returns where the first damaged one begins, or None."""
        place = 0
        while True:
            start = data.find(b"LOBJ", place, place + 8)
            if start < 0:
                return None if place + 8 > len(data) else place
            if start + self._OBJECT.size > len(data):
                return None
            _, _, _, size, kind = self._OBJECT.unpack_from(data, start)
            if not self._SMALLEST <= size <= self._LARGEST:
                return start
            if start + size > len(data):
                return None
            self._account.lines += 1
            self.expected += kind in self._FRAMES
            place = start + size


def _read_blf(source: Source, account: Account) -> None:
    reader = _CountedBlf(source, account)
    messages, answered = iter(reader), 0
    while True:
        try:
            message = next(messages)
        except StopIteration:
            break
        except zlib.error as error:
            account.lines += 1
            account.skip(f"a block that cannot be unpacked ({error})")
            reader.lost = True
            messages = iter(reader)
            continue
        except Exception as error:  # noqa: BLE001  # the edge to foreign code
            account.error = f"damaged or cut short after object {account.lines}: {describe(error)}"
            break
        answered += 1
        if message.is_error_frame:  # identifier and data are those of the frame that was hit
            message.arbitration_id = 0
        if reason := account.message(_channel(message), message):
            account.skip(reason)
    for _ in range(reader.expected - answered):
        account.skip("an object python-can could not read")
    account.comments = account.lines - account.frames - account.skipped
    if account.lines < reader.object_count:
        account.notes.append(f"the header promises {reader.object_count} objects, {account.lines} were found")


_QUERY = "SELECT ts, arbitration_id, extended, remote, error, dlc, data FROM messages"


def _read_sqlite(source: Source, account: Account) -> None:
    database = sqlite3.connect(f"file:{quote(source.path)}?mode=ro", uri=True)
    database.text_factory = bytes
    try:
        rows = database.execute("SELECT max(rowid) FROM messages").fetchone()[0] or 1
        for row in database.execute(_QUERY):
            account.lines += 1
            account.progress = account.lines / rows
            if reason := _row(row, account):
                account.skip(reason)
    except sqlite3.Error as error:
        raise DataError(f"the database cannot be read after row {account.lines} ({error})") from error
    finally:
        database.close()


def _row(row: tuple[Any, ...], account: Account) -> str:
    timestamp, identifier, extended, remote, error, dlc, data = row
    try:
        message = can.Message(
            timestamp=timestamp,
            arbitration_id=identifier,
            is_extended_id=bool(extended),
            is_remote_frame=bool(remote),
            is_error_frame=bool(error),
            dlc=dlc,
            data=data,
        )
    except (TypeError, ValueError, OverflowError) as fault:
        return f"a row that makes no sense: {fault}"
    return account.message(NO_CHANNEL, message)


def _read_mf4(source: Source, account: Account) -> None:
    try:
        reader = can.MF4Reader(source.path)
    except NotImplementedError:
        raise DataError("MF4 files need the package asammdf; install it with `pip install asammdf`") from None
    for message in reader:
        account.lines += 1
        if reason := account.message(str(message.channel or NO_CHANNEL), message):
            account.skip(reason)


DRIVERS: dict[str, Callable[[Source, Account], None]] = {
    "asc": _read_asc,
    "csv": _read_csv,
    "blf": _read_blf,
    "sqlite": _read_sqlite,
    "mf4": _read_mf4,
}
