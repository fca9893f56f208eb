"""What all pages have in common: top line, body, footer, help about the thing in focus, one way to say that it failed.

A page is a `Screen` in a mode of its own and stays as it was when one goes elsewhere. It shows what it is given and
computes nothing; what takes longer than a blink runs in a thread worker.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult
from textual.containers import Container
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Footer

from linkcheck.app.widgets.top_line import TopLine
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.app.main import LinkcheckApp

__all__ = ["Page", "help_parts"]

WIDE, TALL = 110, 34  # columns and rows from which a page shows all it has at once


class Page(Screen[None]):
    """A page.

    Attributes:
        PLACE: name of its folder and mode.

    """

    PLACE: ClassVar[str] = ""
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (WIDE, "-wide")]  # noqa: RUF012  declared so by the base class
    VERTICAL_BREAKPOINTS = [(0, "-low"), (TALL, "-tall")]  # noqa: RUF012

    @property
    def shell(self) -> LinkcheckApp:
        """The app, by its own type."""
        return cast("LinkcheckApp", self.app)

    def compose(self) -> ComposeResult:
        """Top line, body, footer."""
        yield TopLine(self.PLACE)
        with Container(id="body"):
            yield from self.body()
        yield Footer(show_command_palette=False)

    def body(self) -> Iterable[Widget]:
        """The page's own widgets."""
        return ()

    def fail(self, error: LinkcheckError) -> None:
        """Say what went wrong, in its one sentence."""
        self.notify(error.sentence, title="✗ Not done", severity="error", timeout=12, markup=False)

    def say(self, sentence: str) -> None:
        """Say what was done."""
        self.notify(sentence, timeout=6, markup=False)

    def help_text(self) -> str:
        """The page's help.md."""
        path = Path(inspect.getfile(type(self))).parent / "help.md"
        return path.read_text(encoding="utf-8")

    def help_about(self) -> str:
        """Help as Markdown: first on what has the focus, then on the page, then the rest of the page's parts."""
        lead, parts = help_parts(self.help_text())
        here = [] if self.focused is None else [node.id or "" for node in self.focused.ancestors_with_self]
        first = next((name for name in here if name in parts), None)
        found = [parts.pop(first)] if first is not None else []
        return "\n\n".join([*found, lead, *parts.values()])


def help_parts(text: str) -> tuple[str, dict[str, str]]:
    """A help page cut into its lead and its parts.

    A part begins with "## id | Title"; the id is that of the widget it is about. Titles are kept, ids are not.
    """
    lead, *rest = text.split("\n## ")
    parts = {}
    for part in rest:
        heading, _, body = part.partition("\n")
        name, _, title = heading.partition(" | ")
        parts[name.strip()] = f"## {title or name}\n{body}".strip()
    return lead.strip(), parts
