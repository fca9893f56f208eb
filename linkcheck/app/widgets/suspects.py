"""Suspects as bars with words, most likely first; as many as there is room for."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

if TYPE_CHECKING:
    from linkcheck.jobs.sheet import Suspect

__all__ = ["SuspectBars"]

SHORT_BAR, LONG_BAR = 5, 20
MOST = 6


class SuspectBars(Widget):
    """The list. With few rows each suspect has one line, with many its title stands in full above a longer bar."""

    DEFAULT_CSS = "SuspectBars { width: 1fr; height: 1fr; }"
    suspects: reactive[tuple[Suspect, ...]] = reactive(())

    def render(self) -> Content:
        """The lines that fit."""
        rows, width = self.size.height, max(self.size.width, 20)
        shown = self.suspects[:MOST]
        full = [self._full(each, width) for each in shown]
        if sum(len(lines) for lines in full[:3]) <= rows:
            lines = [line for each in full for line in each]
        else:
            lines = [self._short(each, width) for each in shown]
        return Content("\n").join(lines[:rows])

    def _short(self, each: Suspect, width: int) -> Content:
        room = width - SHORT_BAR - 7
        title = each.title if len(each.title) <= room else f"{each.title[: room - 1]}…"
        return Content.assemble((_bar(each.share, SHORT_BAR), "$accent"), f" {_share(each.share)}  {title}")

    def _full(self, each: Suspect, width: int) -> list[Content]:
        titles = [Content.styled(line, "bold") for line in textwrap.wrap(each.title, width)]
        bar = _bar(each.share, min(LONG_BAR, width - 20))
        return [*titles, Content.assemble((bar, "$accent"), f" {_share(each.share)} {each.chance}")]


def _share(share: float) -> str:
    return " <1%" if share < 0.005 else f"{share:4.0%}"


def _bar(share: float, columns: int) -> str:
    full = round(share * columns)
    return "█" * full + "░" * (columns - full)
