"""The top of the traffic page: the verdict, what was read and how far, the row of sections."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual import events
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Static

from linkcheck.app.screens.traffic.findings import MARKS, WHERE

if TYPE_CHECKING:
    from linkcheck.traffic.result import TrafficResult

__all__ = ["SectionBar", "TrafficHeading"]

BAR = 20
WIDE = 110  # columns from which the file's format is told, too


class TrafficHeading(Static):
    """Verdict first, then its tally, then what it is about; while a capture is read, how far that is."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id, markup=False)
        self._said = Content("")
        self._reading = Content("")

    def show(self, result: TrafficResult, channel: str) -> None:
        """Show the verdict of a result, and which channel is looked at."""
        from linkcheck.traffic.words import verdict_of  # noqa: PLC0415  core, when it is needed

        verdict = verdict_of(result)
        mark, _, colour = MARKS[verdict.severity]
        source = result.source
        about = [Path(str(source["path"])).name, f"{source['frames']:,} frames"]
        if self.size.width >= WIDE:
            about.insert(1, str(source["format"]))
        if result.partial:
            about.append("stopped early: partial")
        if channel:
            shown, names = result.channels[channel], list(result.channels)
            if len(names) > 1:
                about.append(f"{channel}, {names.index(channel) + 1} of {len(names)} (c)")
            about.append(f"{shown.bit_rate.value / 1000:g} kbit/s {shown.bit_rate.basis}")
            about.append(f"{(shown.last_s or 0.0) - (shown.first_s or 0.0):,.1f} s")
        lines = [Content.assemble((f"{mark} {verdict.text}", f"bold {colour}")), Content(verdict.tally)]
        self._said = Content("\n").join([*lines, Content.styled(" · ".join(about), "$foreground-muted")])
        self._update()

    def reading(self, path: str, share: float | None, frames: int) -> None:
        """Say how far the reading is."""
        done = "█" * round((share or 0.0) * BAR)
        bar = f"{done:░<{BAR}} {share:4.0%}" if share is not None else "reading"
        self._reading = Content.assemble((f"{bar}  ", "bold $accent"), f"{frames:,} frames of {Path(path).name}  ",
                                         ("esc stops", "$foreground-muted"))  # fmt: skip
        self._update()

    def read_over(self) -> None:
        """Nothing is being read any more."""
        self._reading = Content("")
        self._update()

    def _update(self) -> None:
        parts = [part for part in (self._reading, self._said) if part.cell_length]
        self.update(Content("\n").join(parts))


class SectionBar(Widget):
    """The sections with their numbers; a click goes there.

    Args:
        sections: their names, in order.

    """

    DEFAULT_CSS = "SectionBar { height: 1; }"
    ALLOW_SELECT = False
    shown = reactive("")
    counts: reactive[Mapping[str, int]] = reactive(dict)

    class Wanted(Message):
        """A section was clicked on."""

        def __init__(self, name: str) -> None:
            super().__init__()
            self.name = name

    def __init__(self, sections: Sequence[str], *, id: str | None = None) -> None:  # noqa: A002  as all widgets
        super().__init__(id=id)
        self._sections = sections
        self._ends: list[tuple[int, str]] = []

    def show(self, section: str, counts: Mapping[str, int]) -> None:
        """Mark the section that is shown; with how many rows the others have."""
        self.shown, self.counts = section, dict(counts)

    def render(self) -> Content:
        """One row; the numbers of rows only where there is room."""
        for with_counts in (True, False):
            parts = [self._part(k, name, with_counts=with_counts) for k, name in enumerate(self._sections, 1)]
            row = Content("").join(parts)
            if row.cell_length <= self.size.width:
                break
        ends, at = [], 0
        for part, name in zip(parts, self._sections, strict=True):
            at += part.cell_length
            ends.append((at, name))
        self._ends = ends
        return row

    def _part(self, number: int, name: str, *, with_counts: bool) -> Content:
        title = {"findings": "Findings", **{key: each.split(" ", 1)[1] for key, each in WHERE.items()}}[name]
        count = f" {self.counts[name]:,}" if with_counts and self.counts.get(name) else ""
        here = name == self.shown
        text = f"[{title}{count}]" if here else f" {title}{count} "
        return Content.assemble((f" {number}", "bold $accent"), (text, "bold reverse" if here else ""))

    async def on_click(self, event: events.Click) -> None:
        """Go to the section under the mouse."""
        name = next((name for end, name in self._ends if event.x < end), None)
        if name is not None:
            self.post_message(self.Wanted(name))
