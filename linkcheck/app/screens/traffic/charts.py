"""Two charts over time, in block characters: bus load and error frames. A finished series in, rows out.

Points are reduced to the largest of each column before they are drawn (`traffic.plots`), so a day costs as much as a
minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

if TYPE_CHECKING:
    from linkcheck.traffic.result import ChannelResult

__all__ = ["ErrorChart", "LoadChart"]

LABEL = 7  # columns of the labels at the left
SCALES = (0.1, 0.25, 0.5, 1.0)  # full height of the load's chart
LEAST_ROWS = 3


class _Chart(Widget):
    """Bars over a time axis, with a line of words above."""

    DEFAULT_CSS = "_Chart { height: 1fr; width: 1fr; }"
    channel: reactive[ChannelResult | None] = reactive(None)

    def draw(
        self, series: Sequence[float], top: float, labels: tuple[str, str], seconds: float, lead: Content
    ) -> Content:
        """Bars as high as there is room, `top` being full height; labels of full height and of nothing."""
        from linkcheck.traffic.plots import columns  # noqa: PLC0415

        cells = max(8, self.size.width - LABEL - 2)
        rows = max(LEAST_ROWS, self.size.height - 2 - lead.get_height({}, self.size.width))
        bars = columns(series, min(cells, len(series)), rows, top)
        stretched = ["".join(bar[cell * len(bar) // cells] for cell in range(cells)) for bar in bars]
        lines = [lead]
        for row, bar in enumerate(stretched):
            label = labels[0] if row == 0 else labels[1] if row == rows - 1 else ""
            lines.append(Content.assemble((f"{label:>{LABEL}}│", "$text-muted"), (bar, "$accent")))
        lines.append(Content.styled(f"{'':{LABEL}}└{'─' * cells}", "$text-muted"))
        lines.append(Content.styled(f"{'':{LABEL}} 0 s{f'{seconds:,.0f} s':>{cells - 3}}", "$text-muted"))
        return Content("\n").join(lines)


class LoadChart(_Chart):
    """Bus load: the worst 100 ms of each step."""

    def render(self) -> Content:
        """Words, bars, axis."""
        from linkcheck.traffic.words import load_words  # noqa: PLC0415

        channel = self.channel
        if channel is None:
            return Content("")
        lead = Content.assemble(("Load  ", "bold"), load_words(channel).replace("   ", " · "))
        series = channel.bus_load.series
        if series is None or len(series.peak_100ms) < 2:
            return Content("\n").join([lead, Content.styled("too short for a chart", "$text-muted")])
        top = next(scale for scale in SCALES if scale >= min(max(series.peak_100ms), 1.0))
        return self.draw(
            series.peak_100ms, top, (f"{top * 100:.0f} %", "0 %"), series.step_s * len(series.peak_100ms), lead
        )


class ErrorChart(_Chart):
    """Error frames over time."""

    def render(self) -> Content:
        """Words, bars, axis."""
        from linkcheck.traffic.plots import errors_over_time  # noqa: PLC0415
        from linkcheck.traffic.words import error_words  # noqa: PLC0415

        channel = self.channel
        if channel is None:
            return Content("")
        lead = Content.assemble(("Error frames  ", "bold"), error_words(channel))
        series = errors_over_time(channel)
        if len(series) < 2:
            return lead
        top = max(series)
        seconds = (channel.last_s or 0.0) - (channel.first_s or 0.0)
        return self.draw(series, float(top), (f"{top:,}", "0"), seconds, lead)
