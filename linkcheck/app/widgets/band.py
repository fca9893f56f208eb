"""The band a sound truck reads in, as a bar, with a reading on it. Where things stand on the bar is worked out here."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

__all__ = ["BandBar", "Marks", "place_marks"]

MARGIN = 1.5  # band widths shown on either side of the band
LEAST_WIDTH = 0.1  # of the larger end, so that a narrow band is still seen
LEAST_FIGURE = 0.01  # volts or ohms: the width of a band around nothing
DECADES = (3.0, 1.5)  # shown below and above the end of a band of ohms that is open
WIDE_BAND = 10.0  # ends of a band of ohms this many times apart are shown on a logarithmic bar


@dataclass(frozen=True, slots=True)
class Marks:
    """Columns of a bar.

    Attributes:
        first, last: of the band, inclusive.
        at: of the reading; None without one.
        beyond: -1 or 1 where the reading lies off the bar, on which side; else 0.
        open_end: the last column stands for OL.

    """

    first: int
    last: int
    at: int | None
    beyond: int
    open_end: bool


def place_marks(expect: Mapping[str, object], value: float | None, columns: int) -> Marks:
    """Where band and reading stand on a bar.

    Args:
        expect: low, high (None: OL) and unit, as a card has them.
        value: volts or ohms, infinity for OL; None without a reading.
        columns: of the bar, at least 8.

    """
    low, high = _ends(expect)
    open_end = math.isinf(high)
    logarithmic = open_end or (expect["unit"] == "ohm" and 0.0 < low < high / WIDE_BAND)
    if logarithmic:
        first = 1e6 if math.isinf(low) else max(low, 1.0)
        bottom, top = math.log10(first) - DECADES[0], math.log10(first if open_end else high) + DECADES[1]
    else:
        width = max(high - low, LEAST_WIDTH * max(abs(low), abs(high)), LEAST_FIGURE)
        bottom, top = low - MARGIN * width, high + MARGIN * width
        if expect["unit"] == "ohm":
            bottom = max(bottom, 0.0)

    def share(number: float) -> float:
        if math.isinf(number):
            return 1.0
        scaled = math.log10(max(number, 1e-3)) if logarithmic else number
        return (scaled - bottom) / (top - bottom)

    def column(number: float) -> int:
        return round(min(max(share(number), 0.0), 1.0) * (columns - 1))

    at = None if value is None else column(value)
    beyond = 0 if value is None else -1 if share(value) < 0.0 else 1 if share(value) > 1.0 else 0
    if not open_end and value is not None and math.isinf(value):
        beyond = 1
    return Marks(column(low), column(high), at, beyond, open_end)


def _ends(expect: Mapping[str, object]) -> tuple[float, float]:
    low, high = (float(end) if isinstance(end, int | float) else math.inf for end in (expect["low"], expect["high"]))
    return low, high


class BandBar(Widget):
    """The bar: the reading above it, the band's words below.

    Attributes:
        expect: low, high (None: OL) and unit, or "shows", as a card has them.
        words: the same in words.
        value: the reading in volts or ohms; None for none.
        said: the reading with its verdict, in words.
        sound: the verdict.

    """

    DEFAULT_CSS = "BandBar { height: 3; width: 1fr; }"
    expect: reactive[Mapping[str, object] | None] = reactive(None)
    words = reactive("")
    value: reactive[float | None] = reactive(None)
    said = reactive("")
    sound: reactive[bool] = reactive(default=False)

    def render(self) -> Content:
        """Three rows, or only the words where the answer is a word."""
        if self.expect is None:
            return Content("")
        legend = Content.assemble("sound: ", (self.words, "bold"))
        if "shows" in self.expect:
            return Content("\n").join([legend, Content(self.said)])
        columns = max(8, self.size.width - 1)
        marks = place_marks(self.expect, self.value, columns)
        return Content("\n").join([self._reading(marks, columns), _bar(marks, columns), legend])

    def _reading(self, marks: Marks, columns: int) -> Content:
        if marks.at is None:
            return Content("")
        arrow = {-1: "◀", 0: "◆", 1: "▶"}[marks.beyond]
        style = "bold $success" if self.sound else "bold $error"
        right = marks.at + 2 + len(self.said) < columns
        text = f"{arrow} {self.said}" if right else f"{self.said} {arrow}"
        start = marks.at if right else max(0, marks.at - len(self.said) - 1)
        return Content.assemble(" " * start, (text, style))


def _bar(marks: Marks, columns: int) -> Content:
    before, band = "─" * marks.first, "█" * (marks.last - marks.first + 1)
    after = "─" * (columns - len(before) - len(band))
    if marks.open_end:
        band = f"{band[:-2]}OL" if len(band) > 2 else "OL"
    return Content.assemble((before, "$foreground-muted"), (band, "$success"), (after, "$foreground-muted"))
