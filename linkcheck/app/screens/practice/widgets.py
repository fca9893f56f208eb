"""What the practice page is made of: how the truck stands, what was read, the advice, the verdict."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Label, OptionList, Static

from linkcheck.app.widgets.large import LargeWords
from linkcheck.app.widgets.suspects import SuspectBars

if TYPE_CHECKING:
    from linkcheck.practice.lesson_sheet import AdviceSheet, LessonLine, LessonSheet

__all__ = ["AdvicePanel", "LastReading", "StatePanel", "StepLines", "VerdictWords"]

TURNED = ("key", "battery", "adapter", "fuse", "plugs")
QUIET = {"key": "off", "battery": "connected", "adapter": "not plugged in", "fuse": "in", "plugs": "all in"}


class StatePanel(OptionList):
    """How the truck stands, a row for each thing that can be turned; its number, enter or a click turns it."""

    class Turn(Message):
        """Something is to be turned."""

        def __init__(self, name: str) -> None:
            super().__init__()
            self.name = name

    def show(self, sheet: LessonSheet) -> None:
        """Show a sheet's state; what is not as the truck came stands out by mark and weight."""
        row = self.highlighted
        self.clear_options()
        self.add_options(_state_row(k, name, sheet.state[name]) for k, name in enumerate(TURNED, 1))
        self.highlighted = row or 0

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Turn what the cursor is on."""
        event.stop()
        self.post_message(self.Turn(TURNED[event.option_index]))


def _state_row(number: int, name: str, word: str) -> Content:
    changed = word != QUIET[name]
    mark = "▸" if changed else " "
    return Content.assemble(
        (f"{number} ", "bold $accent"), f"{mark}{name.title():<8} ", (word, "bold $warning" if changed else "")
    )


class LastReading(Vertical):
    """The last reading, as large as can be, with what it was and what would have happened on a real truck."""

    def compose(self) -> ComposeResult:
        """What, how much, and beware."""
        yield Label(id="what", markup=False)
        yield LargeWords(id="figure")
        yield Static(id="beware", markup=False)

    def show(self, sheet: LessonSheet) -> None:
        """Show a sheet's last reading."""
        line = sheet.reading
        last = sheet.lines[-1] if sheet.lines else None
        figure, _, rest = (line.shown if line else "").partition(" ")
        self.query_one("#what", Label).update(f"{line.what}, {line.state}" if line else "")
        large = self.query_one(LargeWords)
        # The unit large as well where it changes the figure: "4.702 kohm".
        large.words = (
            ((figure.strip(","), ""), (rest, "")) if line and len(line.shown) < 14 else ((figure.strip(","), ""),)
        )
        notes = [f"! {note}" for note in last.notes] if last else []
        said = [line.shown] if line and len(line.shown) >= 14 else []
        self.query_one("#beware", Static).update(Content("\n").join([*map(Content, said), *map(_warning, notes)]))


def _warning(text: str) -> Content:
    return Content.styled(text, "bold $warning")


class StepLines(VerticalScroll, can_focus=True):
    """All that was done, the last first."""

    def compose(self) -> ComposeResult:
        """One text."""
        yield Static(id="lines", markup=False)

    def show(self, sheet: LessonSheet) -> None:
        """Show a sheet's steps."""
        lines = [_step(number, line) for number, line in enumerate(sheet.lines, 1)]
        told = Content("\n").join(reversed(lines)) if lines else Content.styled(FIRST, "$foreground-muted")
        self.query_one("#lines", Static).update(told)
        from linkcheck.practice.account import counted  # noqa: PLC0415  core, when it is needed

        self.border_title = f"{counted(sheet.readings)}, {sheet.minutes:.1f} min"


FIRST = (
    "No communication, or not with every module: find out why. Turn the key with 1, put the leads on two points with "
    "v (volts) or o (ohms), listen with l after 3. Nothing here can hurt; it says what would have on a real truck. "
    "m repairs what you think it is, e ends and tells you."
)


def _step(number: int, line: LessonLine) -> Content:
    mark = Content.styled(f"{number:>2} ", "$foreground-muted")
    if not line.shown:
        return Content.assemble(mark, (f"now {line.what}", "$foreground-muted"), *_notes(line))
    return Content.assemble(mark, f"{line.what}: ", (line.shown, "bold"), *_notes(line))


def _notes(line: LessonLine) -> Iterable[Content]:
    return [Content.styled(" !", "bold $warning")] if line.notes else []


class AdvicePanel(Vertical):
    """What the tool would do next, and whom it suspects."""

    def compose(self) -> ComposeResult:
        """Advice over suspects."""
        with VerticalScroll(id="advice-scroll"):
            yield Static(id="advice-text", markup=False)
        yield Label("It may be", id="advice-suspects-heading", classes="heading")
        yield SuspectBars(id="suspects")

    def show(self, advice: AdviceSheet) -> None:
        """Show advice."""
        lines = [Content.styled(f"The tool: {advice.words}", "bold $accent")]
        lines += [Content.assemble((f"{k} ", "bold $accent"), text) for k, text in enumerate(advice.do, 1)]
        if advice.expect:
            lines.append(Content.assemble("A sound truck shows ", (advice.expect, "bold"), "."))
        lines.append(Content.styled(advice.why, "$foreground-muted"))
        if advice.can_do:
            lines.append(Content.styled("d does just that", "$foreground-muted"))
        self.query_one("#advice-text", Static).update(Content("\n").join(lines))
        self.query_one(SuspectBars).suspects = advice.suspects


class VerdictWords(Static):
    """The verdict of a lesson, with both paths side by side."""

    def show(self, lines: Sequence[str], rows: Sequence[tuple[str, str]], width: int) -> None:
        """Show sentences, then both paths."""
        import textwrap  # noqa: PLC0415  only at the end of a lesson

        half = max(20, width // 2 - 2)
        told = [Content.styled(lines[0], "bold"), *(Content(line) for line in lines[1:]), Content("")]
        told.append(Content.styled(f"{'Your path':<{half}}  The tool's path", "bold $accent"))
        for mine, tools in rows:
            left, right = textwrap.wrap(mine, half) or [""], textwrap.wrap(tools, half) or [""]
            for row in range(max(len(left), len(right))):
                cells = [cell[row] if row < len(cell) else "" for cell in (left, right)]
                told.append(Content(f"{cells[0]:<{half}}  {cells[1]}"))
        self.update(Content("\n").join(told))
