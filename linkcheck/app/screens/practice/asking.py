"""Windows with a field over a list: two points for the leads, and a fault by its name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label, OptionList, Static
from textual.widgets.option_list import Option

__all__ = ["AskPoints", "ChooseFault", "all_faults"]


def all_faults() -> list[tuple[str, str]]:
    """Ids and titles of all faults, for a truck that is still to be made."""
    from linkcheck.faults.catalogue import FAULTS  # noqa: PLC0415

    return [(name, fault.title) for name, fault in FAULTS.items()]


class FieldWindow(ModalScreen[str | None]):
    """A window whose field takes every key, also one that was pressed before the field had the focus."""

    AUTO_FOCUS = ""

    def on_mount(self) -> None:
        """The field gets the focus once the keys that came before it are in it."""
        self.call_later(lambda: self.set_focus(self.query_one(Input)))

    def on_key(self, event: events.Key) -> None:
        """What a fast hand typed while the window was opening, or with the list in focus, belongs into the field."""
        field = self.query_one(Input)
        if event.is_printable and event.character:
            event.stop()
            field.insert_text_at_cursor(event.character)
        elif event.key == "enter" and self.focused is None:
            event.stop()
            field.post_message(Input.Submitted(field, field.value))


class AskPoints(FieldWindow):
    """Two points for the leads: typed by their short names, or taken from the list.

    Args:
        word: "v" or "o": what the meter is set to.
        points: short name and words of each point.

    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "Leave", show=False),
        Binding("down", "into_list", "List", show=False),
    ]

    def __init__(self, word: str, points: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._word, self._points = word, points

    def compose(self) -> ComposeResult:
        """The question, the field, the points."""
        meter = "DC volts" if self._word == "v" else "Ohms"
        with Vertical(classes="window -large"):
            yield Static(f"{meter}: red lead, then black lead", markup=False)
            yield Input(placeholder="two points, as in: b a", id="points")
            yield OptionList(*(f"{name:<4} {words}" for name, words in self._points), markup=False)
            yield Label("enter measures · down or a click takes a point · esc leaves", classes="foot")

    def action_into_list(self) -> None:
        """Into the list of points."""
        self.query_one(OptionList).focus()

    @on(OptionList.OptionSelected)
    def _take(self, event: OptionList.OptionSelected) -> None:
        """A point from the list goes into the field; the second one measures."""
        field = self.query_one(Input)
        names = [*field.value.split(), self._points[event.option_index][0]]
        if len(names) >= 2:
            self.dismiss(f"{self._word} {names[0]} {names[1]}")
        else:
            field.value = f"{names[0]} "
            field.cursor_position = len(field.value)
            field.focus()

    @on(Input.Submitted)
    def _measure(self, event: Input.Submitted) -> None:
        self.dismiss(f"{self._word} {event.value}")


class ChooseFault(FieldWindow):
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
