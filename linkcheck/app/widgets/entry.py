"""The field for a reading: what belongs to a reading goes in, every other letter stays a key of the page.

`Input(restrict=…)` would swallow letters without showing them, so this one says beforehand which it takes.
"""

from __future__ import annotations

from textual import events
from textual.binding import Binding
from textual.widgets import Input, OptionList
from textual.widgets.option_list import Option

__all__ = ["ReadingEntry", "WordChoice"]

NUMBER = "0123456789.,-+"
UNITS = "kKmMvVΩ "  # only behind a digit: "340 mV", "4.7k"
OPEN = "OL"


class ReadingEntry(Input):
    """One reading. Digits, point and enter are enough; posts `Input.Submitted`."""

    BINDINGS = [Binding("escape", "empty", "Empty the field", show=False)]  # noqa: RUF012  as the base class has it

    def check_consume_key(self, key: str, character: str | None) -> bool:  # noqa: ARG002  as the base class has it
        """Whether a key goes into the field."""
        if character is None or len(character) != 1:
            return False
        return character in NUMBER or (character in UNITS and any(each.isdigit() for each in self.value))

    async def _on_key(self, event: events.Key) -> None:
        if event.is_printable and not self.check_consume_key(event.key, event.character):
            event.prevent_default()  # it is a key of the page, not a letter
        elif event.is_printable and self.value == OPEN:
            self.value = ""

    async def action_submit(self) -> None:
        """Send it; what is typed next takes its place, however fast."""
        await super().action_submit()
        self.select_all()

    def action_empty(self) -> None:
        """Take out what was typed."""
        self.value = ""

    def put_open(self) -> None:
        """Over the meter's range."""
        self.value = OPEN
        self.cursor_position = len(OPEN)


class WordChoice(OptionList):
    """Words to choose from by their number, or with arrows and enter, or by a click; posts `OptionSelected`."""

    DEFAULT_CSS = """
    WordChoice { height: auto; border: heavy $primary; background: $surface; padding: 0 1; }
    WordChoice:focus { border: heavy $accent; }
    """

    def offer(self, words: tuple[str, ...]) -> None:
        """Show these words."""
        self.clear_options()
        self.add_options(Option(f"{n}  {word.replace('_', ' ')}", id=word) for n, word in enumerate(words, 1))
        self.highlighted = None

    def on_key(self, event: events.Key) -> None:
        """A number chooses at once."""
        if event.character and event.character.isdigit() and 1 <= int(event.character) <= self.option_count:
            event.stop()
            self.highlighted = int(event.character) - 1
            self.action_select()
