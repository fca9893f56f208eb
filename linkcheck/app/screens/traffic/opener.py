"""Choosing a capture: a path with completion above a list of what it may become, what was opened of late, examples."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from textual import events, on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from linkcheck.app.screens.traffic.paths import cleaned, completed, examples, matches, recent

__all__ = ["Opener", "PathField"]

LEAD = "A capture: type or paste its path, or drag the file into this window."


class PathField(Input):
    """The path. Tab carries it on as far as it is clear, down goes into the list."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("tab", "complete", "Complete", show=False),
        Binding("down", "into_list", "List", show=False),
    ]

    class Down(Message):
        """The cursor wants to go into the list."""

    def action_complete(self) -> None:
        """Carry on what was typed."""
        self.value = completed(self.value)
        self.cursor_position = len(self.value)

    def action_into_list(self) -> None:
        """Into the list below."""
        self.post_message(self.Down())

    def _on_paste(self, event: events.Paste) -> None:
        """A dragged file comes as a paste: its path takes the place of what was typed."""
        event.prevent_default()
        event.stop()
        self.value = cleaned(event.text)
        self.cursor_position = len(self.value)
        if Path(self.value).is_file():
            self.post_message(self.Submitted(self, self.value))


class Opener(Vertical):
    """The field over the list."""

    class Chosen(Message):
        """A capture is to be opened."""

        def __init__(self, path: str) -> None:
            super().__init__()
            self.path = path

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id)
        self._paths: list[str] = []

    def compose(self) -> ComposeResult:
        """Lead, field, list."""
        yield Static(LEAD, classes="heading", markup=False)
        yield PathField(id="path", placeholder="path of a capture (tab completes, enter opens)")
        yield OptionList(id="choices", markup=False)

    def on_mount(self) -> None:
        """What there is without a path."""
        self.refresh_choices()

    def refresh_choices(self) -> None:
        """The list anew, for what stands in the field."""
        self._look(self.query_one(PathField).value)

    @on(Input.Changed, "#path")
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        self._look(event.value)

    @work(thread=True, exclusive=True)
    def _look(self, text: str) -> None:
        """Folders are read beside the screen: a network drive may be slow."""
        if text:
            parts = [("", [(str(path), _name(path)) for path in matches(text)])]
        else:
            parts = [
                ("Opened of late", [(str(path), str(path)) for path in recent()]),
                (
                    "Examples: invented traffic that comes with linkcheck",
                    [(str(each), each.name) for each in examples()],
                ),
            ]
        self.app.call_from_thread(self._show, text, parts)

    def _show(self, text: str, parts: list[tuple[str, list[tuple[str, str]]]]) -> None:
        if text != self.query_one(PathField).value:
            return  # typed on in the meantime
        choices = self.query_one("#choices", OptionList)
        choices.clear_options()
        self._paths = []  # of each row; a heading has none
        for heading, rows in parts:
            if heading and rows:
                choices.add_option(Option(Content.styled(heading, "bold $accent"), disabled=True))
                self._paths.append("")
            choices.add_options(Option(shown) for _, shown in rows)
            self._paths += [path for path, _ in rows]
        if not choices.option_count:
            choices.add_option(Option("· nothing there begins like this", disabled=True))

    @on(PathField.Down)
    def _into_list(self, event: PathField.Down) -> None:
        event.stop()
        choices = self.query_one("#choices", OptionList)
        choices.focus()
        choices.action_first()

    @on(OptionList.OptionSelected, "#choices")
    def _choose(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        path = self._paths[event.option_index]
        if Path(path).is_dir():
            field = self.query_one(PathField)
            field.value = f"{path}/"
            field.cursor_position = len(field.value)
            field.focus()
        else:
            self.post_message(self.Chosen(path))

    @on(Input.Submitted, "#path")
    def _submit(self, event: Input.Submitted) -> None:
        event.stop()
        path = cleaned(event.value)
        if path:
            self.post_message(self.Chosen(str(Path(path).expanduser())))


def _name(path: Path) -> str:
    return f"{path.name}/" if path.is_dir() else path.name
