"""A scope's exported table (time, CAN high, CAN low) as a `Waveform`, in whatever layout it comes.

Taken as found: any number of lines above the table, a row of names and one of units or both in one, commas,
semicolons, tabs or spaces between columns, decimal commas, times in s, ms, us or ns, volts in V or mV, a comment
column beside the numbers, a last line cut short. What the columns are is asked of their names first and of their order
where those say nothing. Everything assumed is told in `notes`.
"""

from __future__ import annotations

import csv
import itertools
import math
import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.errors import DataError
from linkcheck.physical.waveform import Waveform
from linkcheck.readers.source import Source, open_source

__all__ = ["SECONDS", "ScopeFile", "read_scope"]

Array = npt.NDArray[Any]

MOST_BYTES = 400_000_000
LOOKED_AT = 200  # rows from which the columns are told
SECONDS = {"s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "ms": 1e-3, "us": 1e-6, "\u00b5s": 1e-6, "ns": 1e-9}
VOLTS = {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": 1e-3}
UNIT = re.compile(r"(?:^|[\[(/,_ ]) *([a-zA-Z\u00b5]+) *[\])]?$")
TIME_NAME = re.compile(r"\b(time|t|x)\b|time", re.IGNORECASE)
HIGH_NAME = re.compile(r"high|can[ _-]?h(?![a-z])|\bh\b", re.IGNORECASE)
LOW_NAME = re.compile(r"low|can[ _-]?l(?![a-z])|\bl\b", re.IGNORECASE)
INTERVAL_NAME = re.compile(r"increment|interval|sample (period|time)|\bdt\b", re.IGNORECASE)
# Delimiter and decimal mark, in the order tried; None is any white space.
BUILDS = ((";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", "."), (",", ","), (None, ","), (None, "."))
LIKELY_STEPS_S = (0.09e-9, 2.1e-6)  # between samples of a trace that shows CAN bits
UNEVEN_STEPS = 2.0
TODO = "Export time, CAN high and CAN low as a table (CSV) and try again."


@dataclass(frozen=True, slots=True)
class ScopeFile:
    """A trace and how its file was understood.

    Attributes:
        wave: the trace.
        notes: sentences about what was assumed or left out.

    """

    wave: Waveform
    notes: tuple[str, ...]


@dataclass(slots=True)
class _Layout:
    """How the table is built. `first` is the index of its first line; columns are indices into its cells."""

    delimiter: str | None
    mark: str
    first: int
    high: int = 0
    low: int = 0
    time: int | None = None
    seconds: float | None = None  # of one unit of the time column
    volts: tuple[float, float] = (1.0, 1.0)
    interval: float | None = None  # between samples, where the head says so and there is no time column
    notes: list[str] = field(default_factory=list)

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        if self.delimiter is None:
            return line.split()
        return [cell.strip() for cell in next(csv.reader([line], delimiter=self.delimiter, skipinitialspace=True), [])]

    def number(self, cell: str) -> float | None:
        """A cell's number, or None."""
        if self.mark == ",":
            cell = "" if "." in cell else cell.replace(",", ".")
        try:
            value = float(cell)
        except ValueError:
            return None
        return value if math.isfinite(value) and "_" not in cell else None


def read_scope(path: str, time_unit: str | None = None) -> ScopeFile:
    """Read a scope's table; packed as gz or zst too, "-" is standard input.

    Args:
        path: the file.
        time_unit: a key of `SECONDS` where the file does not say or says wrong.

    Raises:
        DataError: it cannot be read; with file, line and what to do.

    """
    source = open_source(path)
    try:
        lines = _text(source).splitlines()
    finally:
        source.close()
    layout = _layout(lines, path)
    if time_unit is not None:
        layout.seconds = SECONDS[time_unit]
    table = _figures(lines, layout, path)
    try:
        wave = _evenly(table, layout, path)
    except DataError as error:
        raise DataError(error.what, where=error.where or path, todo=error.todo) from error
    return ScopeFile(wave, (*layout.notes, *source.notes))


def _text(source: Source) -> str:
    raw = source.stream.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        raise DataError("The file is far larger than a scope's record.", where=source.path, todo="Export less of it.")
    if b"\0" in raw[:4096]:
        raise DataError("This is not text.", where=source.path, todo=TODO)
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _layout(lines: list[str], path: str) -> _Layout:
    """Where the table begins and what its columns are."""
    tried = [layout for build in BUILDS if (layout := _begins(lines, *build))]
    if not tried:
        raise DataError("No table with two columns of numbers or more is in this file.", where=path, todo=TODO)
    layout = min(tried, key=lambda each: each.first)
    rows = [layout.cells(line) for line in lines[layout.first : layout.first + LOOKED_AT] if line.strip()]
    rows = rows[:-1] if len(rows) > 2 else rows  # the last may be cut short
    values = {
        column: numbers
        for column in range(min(map(len, rows)))
        if None not in (numbers := [layout.number(row[column]) for row in rows])
    }
    head = [layout.cells(line) for line in lines[: layout.first]]
    near = head[-3:]
    above = {column: [row[column] for row in near if column < len(row)] for column in values}
    names = {column: " ".join(cells) for column, cells in above.items()}
    _time_column(layout, values, names, head)
    _line_columns(layout, values, names, path)
    layout.volts = (_unit(above[layout.high], VOLTS) or 1.0, _unit(above[layout.low], VOLTS) or 1.0)
    if layout.time is not None:
        layout.seconds = _unit(above[layout.time], SECONDS)
    return layout


def _begins(lines: list[str], delimiter: str | None, mark: str) -> _Layout | None:
    """The layout with the first of three lines in a row that hold two numbers or more."""
    layout = _Layout(delimiter, mark, 0)
    filled = 0
    for index, line in enumerate(lines):
        numbers = sum(layout.number(cell) is not None for cell in layout.cells(line))
        if numbers < 2 and line.strip():
            filled = 0
            continue
        if not filled:
            layout.first = index
        filled += 1
        if filled == 3:
            return layout
    return None


def _time_column(layout: _Layout, values: dict[int, list[Any]], names: dict[int, str], head: list[list[str]]) -> None:
    """The column that rises all the way; with several, the one called time, else the first with fractions."""
    rising = [
        column
        for column, numbers in values.items()
        if numbers[-1] > numbers[0] and all(a <= b for a, b in itertools.pairwise(numbers))
    ]
    if rising:
        named = [column for column in rising if TIME_NAME.search(names[column])]
        broken = [column for column in rising if any(number % 1 for number in values[column])]
        layout.time = (named or broken or rising)[0]
        for column in rising:  # a counter, or the same time once more beside the second channel
            if column == layout.time or len(values) > 3:
                values.pop(column)
        return
    for row in head:
        for name, cell in itertools.pairwise(row):
            if INTERVAL_NAME.search(name) and (number := layout.number(cell)):
                layout.interval = number


def _line_columns(layout: _Layout, values: dict[int, list[Any]], names: dict[int, str], path: str) -> None:
    if layout.time is None and layout.interval is None:
        raise DataError("No column rises all the way like time does.", where=path, todo=TODO)
    if len(values) < 2:
        raise DataError(
            "There is one column of volts, and two are needed: CAN high and CAN low, each to ground.",
            where=path,
            todo="Record both lines on a channel each.",
        )
    high = next((column for column in values if HIGH_NAME.search(names[column])), None)
    low = next((column for column in values if LOW_NAME.search(names[column]) and column != high), None)
    rest = [column for column in values if column not in (high, low)]
    if high is None or low is None:
        layout.notes.append(
            "The columns' names do not say which is CAN high and which is CAN low: taken in that order."
        )
    layout.high = rest.pop(0) if high is None else high
    layout.low = rest.pop(0) if low is None else low


def _unit(cells: list[str], known: dict[str, float]) -> float | None:
    """The unit in the head of a column."""
    for cell in reversed(cells):
        match = UNIT.search(cell.strip().replace("\u03bc", "\u00b5"))
        if match and match[1].lower() in known:
            return known[match[1].lower()]
    return None


def _figures(lines: list[str], layout: _Layout, path: str) -> Array:
    """The table's figures, float64[n, 3] or [n, 2] without times."""
    columns = [column for column in (layout.time, layout.high, layout.low) if column is not None]
    body = lines[layout.first :]
    if layout.mark == "," == layout.delimiter:  # numbers in quotes
        return _line_by_line(lines, layout, columns, path)
    if layout.mark == ",":
        body = [line.replace(",", ".") for line in body]
    try:
        return np.loadtxt(body, delimiter=layout.delimiter, usecols=columns, quotechar='"', comments=None, ndmin=2)
    except ValueError:
        return _line_by_line(lines, layout, columns, path)


def _line_by_line(lines: list[str], layout: _Layout, columns: list[int], path: str) -> Array:
    """The same where a line cannot be read: behind the table it is left out, amid the table it is refused."""
    rows: list[list[float]] = []
    bad = 0
    for number, line in enumerate(lines[layout.first :], layout.first + 1):
        cells = layout.cells(line)
        row = [layout.number(cells[column]) if column < len(cells) else None for column in columns]
        if None in row:
            bad = bad or (number if line.strip() else 0)
            continue
        if bad:
            raise DataError(
                "This line is no row of numbers, and the table goes on behind it.",
                where=f"{path}, line {bad}",
                todo="Where the scope was over its range, choose a larger one; else delete the line.",
            )
        rows.append([value for value in row if value is not None])
    if bad:
        layout.notes.append(f"From line {bad} on there are no rows of numbers: left out.")
    return np.array(rows)


def _evenly(table: Array, layout: _Layout, path: str) -> Waveform:
    """Evenly spaced samples in seconds and volts."""
    high, low = table[:, -2] * layout.volts[0], table[:, -1] * layout.volts[1]
    if layout.time is None:
        return Waveform(0.0, float(layout.interval or 0.0), high, low)
    times = table[:, 0]
    back = np.flatnonzero(np.diff(times) < 0)
    if len(back):
        raise DataError(
            "Time goes backward here: several records in one file?",
            where=f"{path}, about line {layout.first + int(back[0]) + 2}",
            todo="Export one record at a time.",
        )
    step = (times[-1] - times[0]) / max(1, len(times) - 1)
    even = times[0] + step * np.arange(len(times))
    if np.abs(times - even).max() > UNEVEN_STEPS * step:
        layout.notes.append("The samples are not evenly spaced; they were put on even times by straight lines.")
        high, low = np.interp(even, times, high), np.interp(even, times, low)
    seconds = layout.seconds
    if seconds is None:
        unit, seconds = _likely(float(step), path)
        layout.notes.append(f"The file does not name the unit of time: taken for {unit} (--time-unit says otherwise).")
    return Waveform(float(times[0]) * seconds, float(step) * seconds, high, low)


def _likely(step: float, path: str) -> tuple[str, float]:
    """The largest unit in which the samples lie as close as they must to show bits."""
    for unit in ("s", "ms", "us", "ns"):
        if LIKELY_STEPS_S[0] <= step * SECONDS[unit] <= LIKELY_STEPS_S[1]:
            return unit, SECONDS[unit]
    raise DataError(
        f"The samples are {step:g} apart in the file's own unit of time, which shows CAN bits in no usual unit.",
        where=path,
        todo="Give --time-unit, or sample faster: twenty samples a bit, 5 MS/s for 250 kbit/s.",
    )
