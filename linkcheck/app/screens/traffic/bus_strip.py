"""The lines above the verdict while a bus is listened to: how it stands now, what happened of late, which key helps."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

if TYPE_CHECKING:
    from linkcheck.app.screens.traffic.bus_listening import News, Snapshot

__all__ = ["BusStrip"]

FEW, MANY = 2, 8  # lines of news: on a low screen, and on a tall one
WATCHED = 3  # at least so many while a harness is moved


class BusStrip(Static):
    """Now, then the latest news, newest last."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id, markup=False)
        self._now = Content("")
        self._watching = False
        self._news: deque[tuple[str, bool]] = deque(maxlen=MANY)

    def begin(self) -> None:
        """A new listening: nothing has happened yet."""
        self._now, self._watching = Content("opening the port"), False
        self._news.clear()
        self._draw()

    def show(self, snapshot: Snapshot) -> None:
        """How it stands now."""
        parts: list[str | tuple[str, str]] = [("● LISTENING ", "bold $accent"), snapshot.now]
        if snapshot.recording:
            colour = "bold $error" if snapshot.recording.isupper() else "bold $accent"
            parts.append((f"   {snapshot.recording}", colour))
        if snapshot.watching:
            parts.append(("   WIGGLE WATCH", "bold $warning"))
        if snapshot.lost:
            away = f"\n✗ {', '.join(snapshot.lost)} is away: tried again every second; n tries now"
            parts.append((away, "bold $error"))
        self._now, self._watching = Content.assemble(*parts), snapshot.watching
        self._draw()

    def add(self, news: News) -> None:
        """Something happened."""
        self._news.extend((line, news.alarm) for line in news.lines)
        self._draw()

    def on_resize(self) -> None:
        """Lines are as long as there is room."""
        self._draw()

    def _draw(self) -> None:
        tall = self.screen.has_class("-tall")
        room = MANY if tall else max(FEW, WATCHED * self._watching)
        lines = [
            Content.styled(f"{'!' if alarm else '·'} {line}", "bold $error" if alarm else "$foreground-muted")
            for line, alarm in list(self._news)[-room:]
        ]
        width = self.content_size.width
        if not tall and width:  # a row each, or nothing of the sections is left
            lines = [line.truncate(width, ellipsis=True) for line in lines]
        self.update(Content("\n").join([self._now, *lines]))
