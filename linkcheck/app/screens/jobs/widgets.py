"""The form of a job: three fields to fill in, and the rest with what is usual already in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from textual import on
from textual.actions import SkipAction
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Button, Input, Label, OptionList, Select
from textual.widgets.option_list import Option

from linkcheck.jobs.events import Intake

__all__ = ["AskIntake"]

TRUTHS = {"yes": True, "no": False, "not known": None}
RATES = {"the connector's own": None, "250 kbit/s": 250_000, "500 kbit/s": 500_000}
VOLTS = {"12 V": 12.0, "24 V": 24.0}


class AskIntake(ModalScreen[Intake | None]):
    """What a job is about; enter goes from field to field and begins at the third, esc gives None.

    Args:
        intake: what stands in the fields.
        connectors: name and title of each that can be chosen.
        title: of the form.

    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Leave", show=False),
        # Before the field sees it: what a scanner or a fast hand sends next belongs to the next field.
        Binding("enter", "next", "Next", show=False, priority=True),
    ]

    def __init__(self, intake: Intake, connectors: Sequence[tuple[str, str]], title: str) -> None:
        super().__init__()
        self._intake, self._title = intake, title
        known = [name for name, _ in connectors]
        own = [] if intake.connector in known else [(intake.connector, intake.connector)]
        self._connectors = [*connectors, *own]

    def compose(self) -> ComposeResult:
        """Three fields; the others below them."""
        given = self._intake
        with VerticalScroll(classes="window -large", id="form"):
            yield Label(self._title, classes="heading")
            yield Label("Unit or plate")
            yield Input(given.unit, id="unit", compact=True)
            yield Label("Complaint, in the driver's words")
            yield Input(given.complaint, id="complaint", compact=True)
            yield Label("Connector; enter begins")
            yield OptionList(
                *(Option(title, id=name) for name, title in self._connectors),
                id="connector",
                compact=True,
            )
            with Horizontal(classes="pair"):
                yield from _choice("System", "volts", VOLTS, given.system_volts)
                yield from _choice("Bit rate", "rate", RATES, given.bit_rate)
            with Horizontal(classes="pair"):
                yield from _choice("J1708 pair", "j1708", {"yes": True, "no": False}, given.j1708)
                yield from _choice("Shield", "shield", TRUTHS, given.shield)
            with Horizontal(classes="pair"):
                with Vertical():
                    yield Label("Odometer, with its unit")
                    yield Input(given.odometer, id="odometer", compact=True)
                yield Button("Begin", id="begin", compact=True)
            yield Label("enter goes on · tab to the rest · esc leaves", classes="foot")

    def on_mount(self) -> None:
        """Start at the unit."""
        names = [name for name, _ in self._connectors]
        self.query_one("#connector", OptionList).highlighted = names.index(self._intake.connector)
        self.query_one("#unit").focus()

    def action_next(self) -> None:
        """On to the next field; at the connector, begin."""
        if isinstance(self.focused, Input):
            self.focus_next()
        elif isinstance(self.focused, OptionList) and self.focused.id == "connector":
            # Keys may still be on their way to the fields: begin once both have had theirs.
            unit, complaint = self.query_one("#unit"), self.query_one("#complaint")
            unit.call_later(complaint.call_later, self._begin)
        else:
            raise SkipAction  # a list that is open, or the button

    @on(OptionList.OptionSelected, "#connector")
    @on(Button.Pressed, "#begin")
    def _begin(self) -> None:
        chosen = self.query_one("#connector", OptionList).highlighted or 0
        self.dismiss(
            Intake(
                unit=self.query_one("#unit", Input).value.strip(),
                complaint=self.query_one("#complaint", Input).value.strip(),
                connector=self._connectors[chosen][0],
                system_volts=VOLTS[self._said("#volts")],
                bit_rate=RATES[self._said("#rate")],
                j1708=bool(TRUTHS[self._said("#j1708")]),
                shield=TRUTHS[self._said("#shield")],
                odometer=self.query_one("#odometer", Input).value.strip(),
            )
        )

    def _said(self, name: str) -> str:
        return str(self.query_one(name, Select).value)

    def action_leave(self) -> None:
        """Nothing is begun."""
        self.dismiss(None)


def _choice(title: str, name: str, words: Mapping[str, object], value: object) -> ComposeResult:
    """A field with a few words to choose from."""
    said = next(word for word, each in words.items() if each == value)
    with Vertical():
        yield Label(title)
        yield Select([(word, word) for word in words], value=said, allow_blank=False, id=name, compact=True)
