"""What the bench page is made of: the rows in a table, what the row under the cursor means. Nothing is judged here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.text import Text
from textual.content import Content
from textual.widgets import DataTable, Static

if TYPE_CHECKING:
    from linkcheck.bench.result import Row

__all__ = ["RowDetail", "RowTable", "counted"]

STYLES = {"pass": "", "fail": "bold reverse", "not measured": "italic", "no verdict": "italic"}
VERDICT_WIDTH, TEST_WIDTH = 14, 36
PADDING = 8  # of the three columns, and the scroll bar


class RowTable(DataTable[Text]):
    """The rows of the sheet, each with its verdict as a mark and a word."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id, cursor_type="row", zebra_stripes=True)
        self.rows_shown: list[Row] = []

    def show(self, rows: Sequence[Row]) -> None:
        """Show rows; those that were there stay, and the cursor with them."""
        if not self.columns or list(rows[: len(self.rows_shown)]) != self.rows_shown:
            self.redraw(rows)
            return
        for row in rows[len(self.rows_shown) :]:
            self._add(row)

    def redraw(self, rows: Sequence[Row]) -> None:
        """All rows anew."""
        place = self.cursor_row
        self.clear(columns=True)
        self.rows_shown = []
        for heading, width in (("Verdict", VERDICT_WIDTH), ("Test", TEST_WIDTH), ("Figure", self._room)):
            self.add_column(heading, width=width)
        for row in rows:
            self._add(row)
        self.move_cursor(row=max(0, min(place, len(rows) - 1)))

    def to_first_failed(self) -> None:
        """Put the cursor on the first row that failed; leave it where none did."""
        failed = (place for place, row in enumerate(self.rows_shown) if row.verdict == "fail")
        self.move_cursor(row=next(failed, self.cursor_row))

    def on_resize(self) -> None:
        """The figure takes what room is left."""
        self.redraw(self.rows_shown)

    @property
    def current(self) -> Row | None:
        """The row under the cursor."""
        here = self.cursor_row
        return self.rows_shown[here] if 0 <= here < len(self.rows_shown) else None

    @property
    def _room(self) -> int:
        return max(10, self.size.width - VERDICT_WIDTH - TEST_WIDTH - PADDING)

    def _add(self, row: Row) -> None:
        from linkcheck.bench.sheet import MARKS  # noqa: PLC0415  numpy

        mark, word = MARKS[row.verdict]
        rate = row.conditions.split(",")[0] if "kbit/s" in row.conditions.split(",")[0] else ""
        title = f"{_cut(row.title, TEST_WIDTH - len(rate) - 1)} {rate}" if len(rate) < 12 else row.title
        cells = (f"{mark} {word}", _cut(title, TEST_WIDTH), _cut(row.figure or row.note, self._room))
        self.add_row(*(Text(cell, STYLES[row.verdict] if k == 0 else "") for k, cell in enumerate(cells)))
        self.rows_shown.append(row)


class RowDetail(Static):
    """All that is known about a row, and what it means."""

    def show(self, row: Row | None) -> None:
        """Show a row."""
        from linkcheck.bench.meanings import meaning  # noqa: PLC0415
        from linkcheck.bench.sheet import MARKS  # noqa: PLC0415  numpy

        if row is None:
            self.update("")
            return
        lines = [Content.styled(f"{' '.join(MARKS[row.verdict])}  {row.title}", "bold")]
        parts = (
            ("Figure", row.figure),
            ("Limit", row.limit),
            ("Why" if row.verdict in ("not measured", "no verdict") else "Note", row.note),
            ("Measured", row.conditions),
            ("Means", meaning(row)),
        )
        lines += [Content.assemble((f"{name:<9}", "bold"), text) for name, text in parts if text]
        self.update(Content("\n").join(lines))


def counted(rows: Sequence[Row]) -> str:
    """How many rows have which verdict."""
    from linkcheck.bench.sheet import MARKS  # noqa: PLC0415  numpy

    counts = {verdict: sum(row.verdict == verdict for row in rows) for verdict in MARKS}
    return " · ".join(f"{MARKS[name][0]} {count} {MARKS[name][1]}" for name, count in counts.items() if count)


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"
