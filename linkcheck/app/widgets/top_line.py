"""The top line: where one can go and by which key, where one is, and which job is open."""

from __future__ import annotations

from textual import events
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from linkcheck.app.keys import key_words

__all__ = ["TopLine"]


class TopLine(Widget):
    """One row at the top.

    Args:
        here: name of the page it stands on.

    """

    DEFAULT_CSS = """
    TopLine { dock: top; height: 1; background: $panel; color: $foreground; }
    """
    ALLOW_SELECT = False
    job = reactive("")

    def __init__(self, here: str) -> None:
        super().__init__()
        self._here = here
        self._ends: list[tuple[int, str]] = []

    def on_mount(self) -> None:
        """Follow the open job."""
        self.watch(self.app, "job_name", self._show_job)

    def _show_job(self, name: str) -> None:
        self.job = name

    def render(self) -> Content:
        """Pages with their keys, the present one in brackets and reversed; the job at the right."""
        from linkcheck.app.screens import PLACES  # noqa: PLC0415  the pages stand on this widget

        changes = getattr(self.app, "settings").keys  # noqa: B009  the app's own type would be a circle
        parts: list[Content] = []
        self._ends = []
        for place in PLACES:
            shown = key_words(changes.get(f"go.{place.name}", place.keys))
            here = place.name == self._here
            name = f"[{place.title}]" if here else f" {place.title} "
            parts.append(Content.assemble((f" {shown}", "bold $accent"), (name, "bold reverse" if here else "")))
            self._ends.append((sum(part.cell_length for part in parts), place.name))
        left = Content("").join(parts)
        room = self.size.width - left.cell_length - 2
        job = self.job if len(self.job) <= room else f"{self.job[: max(0, room - 1)]}…"
        gap = max(1, self.size.width - left.cell_length - len(job) - 1)
        return Content.assemble(left, " " * gap, (job, "bold"))

    async def on_click(self, event: events.Click) -> None:
        """Go to the page under the mouse."""
        for end, name in self._ends:
            if event.x < end:
                await self.app.run_action(f"app.go('{name}')")
                return
