"""The board of a walk: what to do now, the connector, suspects, readings. Draws a `Sheet`, sends what was answered.

With 80 columns it shows what to do, the face and the leading suspects; with 110 and more the readings and what speaks
for and against stand beside them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, Label, OptionList, Static

from linkcheck.app.widgets.band import BandBar
from linkcheck.app.widgets.entry import ReadingEntry, WordChoice
from linkcheck.app.widgets.face_view import BLACK, BOTH, RED, FaceView
from linkcheck.app.widgets.large import LargeWords
from linkcheck.app.widgets.readings import VERDICTS, reading_content
from linkcheck.app.widgets.suspects import SuspectBars
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.jobs.sheet import Sheet
    from linkcheck.pinout import Pinout
    from linkcheck.walk.messages import Card

__all__ = ["WalkBoard"]

QUANTITIES = {"dc_volts": "VOLTS", "ohms": "OHMS", "listen": "LISTEN", "heard": "LOOK", "look": "LOOK"}
UNITS = {"dc_volts": "V", "ohms": "ohm"}


class WalkBoard(Horizontal):
    """The board. Without a sheet it is empty."""

    class Answered(Message):
        """An answer was given, as typed."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id)
        self.sheet: Sheet | None = None

    def compose(self) -> ComposeResult:
        """Three columns; the third is for wide screens."""
        with Vertical(id="todo"):
            with Horizontal(id="head"):
                yield Label(id="number")
                yield Label(id="minutes")
            yield LargeWords(id="large")
            with VerticalScroll(id="steps"):
                yield Static(id="do")
            yield Static(id="last")
            yield ReadingEntry(id="entry", select_on_focus=False)
            yield WordChoice(id="choice")
            yield BandBar(id="band")
        with Vertical(id="connector"):
            yield FaceView(id="face")
            yield Label("It may be", id="suspects-heading", classes="heading")
            yield SuspectBars(id="suspects")
        with VerticalScroll(id="sofar"):
            yield Label("Readings so far", classes="heading")
            yield Static(id="readings")
            yield Static(id="evidence-heading", classes="heading")
            yield Static(id="evidence")

    def on_mount(self) -> None:
        """Nothing to answer yet."""
        self.query_one("#entry").display = False
        self.query_one("#choice").display = False

    # Out ---------------------------------------------------------------------------------------------------------

    def show(self, sheet: Sheet, pinout: Pinout | None) -> None:
        """Show a sheet, and make ready for its answer."""
        self.sheet = sheet
        self.query_one(SuspectBars).suspects = sheet.suspects
        self._show_beside(sheet)
        self.query_one("#steps", VerticalScroll).scroll_home(animate=False)
        card = sheet.card
        self.query_one("#entry").display = card is not None and not sheet.words
        self.query_one("#choice").display = bool(sheet.words)
        band = self.query_one(BandBar)
        band.display = card is not None
        self._show_face(sheet, pinout)
        if card is None:
            self._show_finding(sheet)
        else:
            self._show_card(sheet, card)
        self._show_last(sheet)
        self.refocus()

    def refocus(self) -> None:
        """The focus goes where the next answer is given, or where there is something to read."""
        sheet = self.sheet
        if sheet is not None:
            name = "#steps" if sheet.card is None else "#choice" if sheet.words else "#entry"
            self.query_one(name).focus()

    def _show_card(self, sheet: Sheet, card: Card) -> None:
        self.query_one("#number", Label).update(f"CHECK {card.n}")
        self.query_one("#minutes", Label).update(f"about {card.minutes:g} min")
        words = [(QUANTITIES[card.quantity], "")]
        red, black = (_cavity(point) for point in (card.red, card.black))
        if red and black:
            words += [(red, "$error"), ("-", ""), (black, "")]
        self.query_one(LargeWords).words = tuple(words)
        self.query_one("#do", Static).update(_steps(card))
        band = self.query_one(BandBar)
        band.expect, band.words, band.value, band.said = card.expect, _expected(card), None, ""
        entry = self.query_one(ReadingEntry)
        entry.value = ""
        entry.border_title = f"What the meter shows, in {UNITS.get(card.quantity, '')}"
        if sheet.words:
            choice = self.query_one(WordChoice)
            choice.offer(sheet.words)
            choice.border_title = "Press its number"

    def _show_finding(self, sheet: Sheet) -> None:
        from linkcheck.jobs.sheet import finding_rows  # noqa: PLC0415  loaded with the walk by now

        found = sheet.finding
        self.query_one("#number", Label).update("FINDING" if not sheet.compared else "AFTER THE REPAIR")
        self.query_one("#minutes", Label).update(f"{found.readings} readings, {found.minutes:g} min")
        proven = (("PROVEN", "$success"),) if found.confirmed else (("NOT", "$warning"), ("PROVEN", "$warning"))
        self.query_one(LargeWords).words = proven
        lines = [Content.styled(sheet.leader, "bold")]
        for name, text in finding_rows(found).items():
            lines.append(Content.assemble((f"{name}: ", "bold $accent"), text))
        if sheet.compared:
            lines.append(Content.styled("Before and after", "bold $accent"))
            lines += [Content(f"· {each}") for each in sheet.compared]
        if sheet.repairable:
            lines.append(Content.styled("d: it is repaired, take the readings again · r: the record", "bold"))
        self.query_one("#do", Static).update(Content("\n").join(lines))

    def _show_face(self, sheet: Sheet, pinout: Pinout | None) -> None:
        face = self.query_one(FaceView)
        face.pinout = pinout
        points = (sheet.card.red, sheet.card.black) if sheet.card else ("", "")
        labels = {cavity.label for cavity in pinout.cavities} if pinout else set()
        red, black = (_cavity(point) for point in points)
        ends = {red: RED, black: BLACK} if red != black else {red: BOTH}
        face.leads = {label: lead for label, lead in ends.items() if label in labels}
        if sheet.card is not None:
            face.side = "wire" if any(point.endswith(".wire") for point in points) else "mating"

    def _show_beside(self, sheet: Sheet) -> None:
        lines = [reading_content(line) for line in reversed(sheet.readings)]
        self.query_one("#readings", Static).update(Content("\n").join(lines) if lines else "none yet")
        heading = f"For and against: {sheet.leader}" if sheet.evidence else ""
        self.query_one("#evidence-heading", Static).update(heading)
        self.query_one("#evidence", Static).update(Content("\n").join(Content(line) for line in sheet.evidence))

    def _show_last(self, sheet: Sheet) -> None:
        last = self.query_one("#last", Static)
        last.update(reading_content(sheet.readings[-1], full=False) if sheet.readings else "")

    def busy(self, what: str) -> None:
        """Say what is being worked on."""
        if self.sheet is None:
            self.query_one("#do", Static).update(Content.styled(f"One moment: {what}.", "bold"))
            return
        self.query_one("#last", Static).update(Content.styled(f"… {what}", "bold"))

    def complain(self, error: LinkcheckError) -> None:
        """Say why an answer cannot be used; it stays in the field."""
        self.query_one("#last", Static).update(Content.styled(f"! {error.sentence}", "bold $warning"))

    def flip(self) -> None:
        """Show the connector's other side."""
        self.query_one(FaceView).flip()

    def put_open(self) -> None:
        """OL into the field."""
        if self.query_one("#entry").display:
            self.query_one(ReadingEntry).put_open()

    # In ----------------------------------------------------------------------------------------------------------

    @on(Input.Changed, "#entry")
    def _weigh(self, event: Input.Changed) -> None:
        """Put what is typed on the bar, as far as it can be read by now."""
        from linkcheck.jobs.sheet import verdict  # noqa: PLC0415
        from linkcheck.quantities import read_reading  # noqa: PLC0415

        event.stop()
        card, band = self.sheet.card if self.sheet else None, self.query_one(BandBar)
        band.value, band.said = None, ""
        if card is None or card.quantity not in UNITS or not event.value.strip():
            return
        try:
            reading = read_reading(event.value, card.quantity)  # type: ignore[arg-type]
        except LinkcheckError:
            return
        band.value = reading.value
        found = verdict(reading.value, card.expect)
        mark, word, _ = VERDICTS[found]
        band.sound = found == "sound"
        band.said = f"{reading.understood.replace('Ω', 'ohm')} {mark} {word}"

    @on(Input.Submitted, "#entry")
    def _answer(self, event: Input.Submitted) -> None:
        event.stop()
        if event.value.strip():
            self.post_message(self.Answered(event.value.strip()))

    @on(OptionList.OptionSelected, "#choice")
    def _choose(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.post_message(self.Answered(str(event.option.id)))


def _cavity(point: str) -> str:
    """A cavity's label from a point; empty for any other point."""
    label = point.partition(".")[0]
    return label if len(label) <= 3 else ""


def _expected(card: Card) -> str:
    from linkcheck.jobs.sheet import expected_words  # noqa: PLC0415

    return expected_words(card.expect)


def _steps(card: Card) -> Content:
    """The steps, numbered; what only explains stands below them."""
    steps = [Content.assemble((f"{n} ", "bold $accent"), (text, "bold")) for n, text in enumerate(card.do, 1)]
    return Content("\n").join([*steps, Content(""), Content.styled(card.why, "$foreground-muted")])
