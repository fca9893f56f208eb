"""Choosing a fault by its name: a field that narrows a list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label, OptionList, Static
from textual.widgets.option_list import Option

__all__ = ["ChooseFault", "all_faults"]


def all_faults() -> list[tuple[str, str]]:
    """Ids and titles of all faults, for a truck that is still to be made."""
    from linkcheck.faults.catalogue import FAULTS  # noqa: PLC0415

    return [(name, fault.title) for name, fault in FAULTS.items()]


class ChooseFault(ModalScreen[str | None]):
    """A list of faults; words in the field narrow it, enter takes the one under the cursor.

    Args:
        question: above the field.
        faults: id and title of each.

    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "Leave", show=False),
        Binding("down", "move(1)", "Down", show=False, priority=True),
        Binding("up", "move(-1)", "Up", show=False, priority=True),
    ]

    def __init__(self, question: str, faults: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._question, self._faults = question, faults

    def compose(self) -> ComposeResult:
        """The question, the field, the list."""
        with Vertical(classes="window -large"):
            yield Static(self._question, markup=False)
            yield Input(placeholder="words of its name, as in: terminator", id="words")
            yield OptionList(id="faults", markup=False)
            yield Label("↑ ↓ and enter choose · esc leaves", classes="foot")

    def on_mount(self) -> None:
        """All of them."""
        self._narrow("")
        self.query_one(Input).focus()

    def _narrow(self, text: str) -> None:
        words = text.lower().split()
        shown = [row for row in self._faults if all(word in " ".join(row).lower() for word in words)]
        listed = self.query_one(OptionList)
        listed.clear_options()
        listed.add_options(Option(title, id=name) for name, title in shown)
        listed.highlighted = 0 if shown else None

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        self._narrow(event.value)

    @on(Input.Submitted)
    def _submit(self) -> None:
        self.query_one(OptionList).action_select()

    @on(OptionList.OptionSelected)
    def _choose(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(event.option.id)

    def action_move(self, by: int) -> None:
        """The cursor in the list, from the field too."""
        listed = self.query_one(OptionList)
        if by > 0:
            listed.action_cursor_down()
        else:
            listed.action_cursor_up()
