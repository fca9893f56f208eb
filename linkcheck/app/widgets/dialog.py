"""Small windows over a page: help, a line to type, a list to choose from.

Each is a modal screen that gives back an answer; esc always means "leave it as it was".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Markdown, OptionList, Static
from textual.widgets.option_list import Option

__all__ = ["AskLine", "Choose", "Read"]

LEAVE = Binding("escape", "dismiss", "Leave", show=False)


class Read(ModalScreen[bool]):
    """A text to read, in Markdown; enter or esc closes it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,question_mark", "leave(False)", "Close", show=False),
        Binding("enter", "leave(True)", "Close", show=False),
    ]

    def __init__(self, text: str, foot: str = "enter or esc closes · ↑ ↓ scroll") -> None:
        super().__init__()
        self._text, self._foot = text, foot

    def compose(self) -> ComposeResult:
        """The text over a line that says how to close it."""
        with Vertical(classes="window -large"):
            with VerticalScroll(id="text"):
                yield Markdown(self._text, open_links=False)
            yield Label(self._foot, classes="foot")

    def action_leave(self, read: bool) -> None:
        """Close; true when it was by enter."""
        self.dismiss(read)


class AskLine(ModalScreen[str | None]):
    """A line to type; enter gives it back, esc gives None."""

    BINDINGS: ClassVar[list[BindingType]] = [LEAVE]

    def __init__(self, question: str, value: str = "", placeholder: str = "") -> None:
        super().__init__()
        self._question, self._value, self._placeholder = question, value, placeholder

    def compose(self) -> ComposeResult:
        """The question over the field."""
        with Vertical(classes="window"):
            yield Static(self._question, markup=False)
            yield Input(self._value, placeholder=self._placeholder)
            yield Label("enter takes it · esc leaves it", classes="foot")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Give the line back."""
        self.dismiss(event.value.strip())


class Choose(ModalScreen[str | None]):
    """A list to choose from; gives the id of the row, esc gives None. Digits choose the first nine at once.

    Args:
        question: above the list.
        rows: (id, text) each.
        first: id of the row that the cursor is on.

    """

    BINDINGS: ClassVar[list[BindingType]] = [
        LEAVE,
        *(Binding(str(digit), f"number({digit})", show=False) for digit in range(1, 10)),
    ]

    def __init__(self, question: str, rows: Sequence[tuple[str, str]], first: str | None = None) -> None:
        super().__init__()
        self._question, self._rows, self._first = question, rows, first

    def compose(self) -> ComposeResult:
        """The question over the list."""
        with Vertical(classes="window -large"):
            yield Static(self._question, markup=False)
            yield OptionList(*self._options(), markup=False)
            yield Label("enter or its number chooses · esc leaves", classes="foot")

    def _options(self) -> Iterable[Option]:
        for number, (name, text) in enumerate(self._rows, 1):
            yield Option(f"{number if number < 10 else ' '} {text}", id=name)

    def on_mount(self) -> None:
        """Put the cursor where it belongs."""
        names = [name for name, _ in self._rows]
        self.query_one(OptionList).highlighted = names.index(self._first) if self._first in names else 0

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Give the row back."""
        self.dismiss(event.option.id)

    def action_number(self, digit: int) -> None:
        """Choose by number."""
        if digit <= len(self._rows):
            self.dismiss(self._rows[digit - 1][0])
