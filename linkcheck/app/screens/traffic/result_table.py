"""A table over a channel of a result: it sorts, filters, and keeps its cursor when a newer result comes in.

The figures are the result's own; which rows and columns there are is each table's business (`tables`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rich.text import Text
from textual.widgets import DataTable

if TYPE_CHECKING:
    from linkcheck.traffic.result import ChannelResult

__all__ = ["Column", "Line", "ResultTable"]


SCROLLBAR = 2


@dataclass(frozen=True, slots=True)
class Column:
    """A column: heading, width, how a row sorts by it, largest first or not; numbers stand at the right.

    A flexible column takes what room is left.
    """

    heading: str
    width: int
    key: Callable[[Any], Any]
    largest_first: bool = False
    number: bool = False
    flexible: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A row of a table: its name, its cells, and the text that a filter looks through."""

    name: str
    cells: tuple[str, ...]
    text: str


class ResultTable(DataTable[Text]):
    """A table over a channel."""

    COLUMNS: tuple[Column, ...] = ()

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id, cursor_type="row", zebra_stripes=True)
        self.channel: ChannelResult | None = None
        self.sorted_by = 0
        self.wanted = ""

    def show(self, channel: ChannelResult) -> None:
        """Show a channel."""
        self.channel = channel
        self.redraw()

    def filter(self, text: str) -> None:
        """Show only rows with all these words in them."""
        self.wanted = text
        self.redraw()

    def sort_next(self) -> str:
        """Sort by the next column; says which."""
        return self.sort_by(self.sorted_by + 1)

    def sort_by(self, column: int) -> str:
        """Sort by a column; says which."""
        self.sorted_by = column % len(self.COLUMNS)
        self.redraw()
        return self.COLUMNS[self.sorted_by].heading

    def on_data_table_header_selected(self, event: DataTable.HeaderSelected) -> None:
        """A click on a heading sorts by it."""
        event.stop()
        self.sort_by(event.column_index)

    def redraw(self) -> None:
        """All rows anew; the cursor stays on its row's name, or its place."""
        name, place = self.cursor_name, self.cursor_row
        self.clear(columns=True)
        widths = self._widths()
        for index, (column, width) in enumerate(zip(self.COLUMNS, widths, strict=True)):
            mark = ("▼" if column.largest_first else "▲") if index == self.sorted_by else ""
            label = f"{column.heading}{mark}"
            self.add_column(Text(f"{label:>{width}}" if column.number else label), width=width)
        words = self.wanted.lower().split()
        lines = [line for line in self.lines() if all(word in line.text.lower() for word in words)]
        for line in lines:
            self.add_row(*map(_cell, line.cells, widths, self.COLUMNS), key=line.name)
        if not lines:
            said = "· none with these words" if words else "· none"
            self.add_row(*(Text(said if column.flexible else "") for column in self.COLUMNS))
        names = [line.name for line in lines]
        self.move_cursor(row=names.index(name) if name in names else min(place, max(0, len(lines) - 1)))

    def _widths(self) -> list[int]:
        spare = self.size.width - SCROLLBAR - sum(column.width + 2 for column in self.COLUMNS)
        return [column.width + (max(0, spare) if column.flexible else 0) for column in self.COLUMNS]

    def on_resize(self) -> None:
        """The flexible column takes what room is left."""
        self.redraw()

    @property
    def cursor_name(self) -> str:
        """Name of the row that the cursor is on; empty where there is none."""
        if not self.row_count or not 0 <= self.cursor_row < self.row_count:
            return ""
        return str(self.ordered_rows[self.cursor_row].key.value or "")

    def ordered(self, rows: Iterable[Any]) -> list[Any]:
        """Rows sorted as chosen."""
        column = self.COLUMNS[self.sorted_by]
        return sorted(rows, key=column.key, reverse=column.largest_first)

    def lines(self) -> Sequence[Line]:
        """The rows, sorted."""
        return ()


def _cell(text: str, width: int, column: Column) -> Text:
    cut = text if len(text) <= width else f"{text[: width - 1]}…"
    return Text(cut, justify="right" if column.number else "left")
