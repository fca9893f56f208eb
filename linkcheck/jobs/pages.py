"""Rows of a damaged SQLite file, read page by page without SQLite: what a rescue lives on.

Every leaf of a table that is still whole gives its rows, whatever happened to the header, to the inner pages or to
other leaves. Layout of pages, cells, records and of the write-ahead log: sqlite.org/fileformat2.html, sections 1.3,
1.6, 2.1 and 4.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

__all__ = ["Row", "rows_of"]

LEAF = 0x0D  # of a table
USUAL_PAGE = 4096
HEADER = 100  # bytes before the first page's own header
LOG_HEADER, FRAME_HEADER = 32, 24
INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
MOST_COLUMNS = 64

Value = int | float | str | bytes | None


class Row(NamedTuple):
    """A row: its number and its values."""

    rowid: int
    values: tuple[Value, ...]


def rows_of(path: Path) -> Iterator[Row]:
    """Every row that can be read, of whatever table, in no order and perhaps more than once.

    Raises:
        OSError: the file cannot be read at all.

    """
    data = path.read_bytes()
    size = _page_size(data)
    pages = {k // size + 1: data[k : k + size] for k in range(0, len(data), size)}
    log = path.with_name(path.name + "-wal")
    # Both the page and what the log has in its place: a leaf only ever gains rows, and either may be damaged.
    newer = _log_pages(log.read_bytes(), size) if log.exists() else {}
    for versions in (pages, pages | newer):
        for number in versions if versions is pages else newer:
            yield from _leaf_rows(versions[number], HEADER if number == 1 else 0, versions, size)


def _page_size(data: bytes) -> int:
    size = int.from_bytes(data[16:18], "big")
    size = 65536 if size == 1 else size
    return size if size >= 512 and size & (size - 1) == 0 else USUAL_PAGE


def _log_pages(log: bytes, size: int) -> dict[int, bytes]:
    """The last version of each page in the log, frames of an earlier run left out by their salt."""
    pages = {}
    for start in range(LOG_HEADER, len(log) - FRAME_HEADER - size + 1, FRAME_HEADER + size):
        number = int.from_bytes(log[start : start + 4], "big")
        if log[start + 8 : start + 16] == log[16:24]:
            pages[number] = log[start + FRAME_HEADER : start + FRAME_HEADER + size]
    return pages


def _leaf_rows(page: bytes, start: int, pages: Mapping[int, bytes], size: int) -> Iterator[Row]:
    if len(page) < size or page[start] != LEAF:
        return
    count = int.from_bytes(page[start + 3 : start + 5], "big")
    for k in range(min(count, size // 4)):
        where = start + 8 + 2 * k
        cell = int.from_bytes(page[where : where + 2], "big")
        try:
            yield _row(page, cell, pages, size)
        except (IndexError, ValueError, KeyError, struct.error):
            continue  # this row is damaged; its neighbours may be whole


def _row(page: bytes, cell: int, pages: Mapping[int, bytes], size: int) -> Row:
    length, cell = _varint(page, cell)
    rowid, cell = _varint(page, cell)
    payload = _payload(page, cell, length, pages, size)
    return Row(rowid, tuple(_values(payload)))


def _payload(page: bytes, start: int, length: int, pages: Mapping[int, bytes], size: int) -> bytes:
    """A cell's payload, its overflow pages followed."""
    largest, least = size - 35, (size - 12) * 32 // 255 - 23
    if length <= largest:
        return page[start : start + length]
    here = least + (length - least) % (size - 4)
    here = here if here <= largest else least
    payload, after = page[start : start + here], start + here
    following = int.from_bytes(page[after : after + 4], "big")
    while len(payload) < length:
        if not following or len(pages[following]) < size:
            raise ValueError("cut off")
        payload += pages[following][4:]
        following = int.from_bytes(pages[following][:4], "big")
    return payload[:length]


def _values(payload: bytes) -> Iterator[Value]:
    """The values of a record."""
    header, place = _varint(payload, 0)
    kinds = []
    while place < header:
        kind, place = _varint(payload, place)
        kinds.append(kind)
    if place != header or len(kinds) > MOST_COLUMNS:
        raise ValueError("no record")
    for kind in kinds:
        length = INTEGER_BYTES.get(kind, 8 if kind == 7 else (kind - 12) // 2 if kind >= 12 else 0)
        part = payload[place : place + length]
        if len(part) < length or kind in (10, 11):
            raise ValueError("no record")
        place += length
        yield _value(kind, part)


def _value(kind: int, part: bytes) -> Value:
    if kind == 0:
        return None
    if kind in INTEGER_BYTES:
        return int.from_bytes(part, "big", signed=True)
    if kind == 7:
        return float(struct.unpack(">d", part)[0])
    if kind in (8, 9):
        return kind - 8
    return part.decode() if kind % 2 else part


def _varint(data: bytes, place: int) -> tuple[int, int]:
    """A number of one to nine bytes, and where the next thing begins."""
    value = 0
    for k in range(8):
        byte = data[place + k]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, place + k + 1
    return value << 8 | data[place + 8], place + 9
