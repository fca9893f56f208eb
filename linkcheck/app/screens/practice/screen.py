"""The practice page: turn the key, put two leads anywhere, read, repair, be told. No hardware, nothing that can hurt.

The room does the work in a thread and gives back a finished sheet; the page draws it and asks.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events, on, work
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widget import Widget
from textual.widgets import Label, OptionList, Static

from linkcheck.app.keys import key
from linkcheck.app.page import Page
from linkcheck.app.screens.practice.asking import AskPoints
from linkcheck.app.screens.practice.room import PracticeRoom
from linkcheck.app.screens.practice.widgets import (
    AdvicePanel,
    LastReading,
    StatePanel,
    StepLines,
    VerdictWords,
)
from linkcheck.app.widgets.face_view import FaceView
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.pinout import Pinout
    from linkcheck.practice.lesson_sheet import LessonSheet
    from linkcheck.practice.setting_out import Request

__all__ = ["PracticePage"]

BEGINNINGS = (
    ("easy", "An easy truck: one reading near the connector shows it"),
    ("medium", "A medium truck: with the battery off, or two readings together"),
    ("hard", "A hard truck: single modules, water, or two faults at once"),
    ("seed", "A truck by its number: the same number brings the same truck"),
    ("fault", "A fault of your choice, to see how it reads"),
)
LEAD = "A simulated truck with a hidden fault. Nothing has to be plugged in, and nothing can be hurt."
NOW_AND_THEN = "Some trucks have nothing wrong with them: that, too, takes proof."


def _first(binding: Binding) -> Binding:
    """The same, acting before the next key is looked at: what is typed behind it belongs into the window it opens."""
    return replace(binding, priority=True)


class PracticePage(Page):
    """The page."""

    PLACE = "practice"
    CSS_PATH: ClassVar[str] = "practice.tcss"
    AUTO_FOCUS = "#beginnings"
    BINDINGS: ClassVar[list[BindingType]] = [
        _first(
            key("practice.volts", "v", "measure('v')", "Volts", "Put the leads on two points: DC volts", footer=True)
        ),
        _first(key("practice.ohms", "o", "measure('o')", "Ohms", "Put the leads on two points: ohms", footer=True)),
        key("practice.listen", "l", "listen", "Listen", "What the adapter in the connector shows", footer=True),
        key("practice.repair", "m", "repair", "Repair", "Repair what you think it is, then measure again", footer=True),
        key("practice.end", "e", "end", "End", "End the lesson: what it was, and how you did", footer=True),
        key("practice.advice", "a", "advice", "Advice", "Show or hide what the tool would do next"),
        key("practice.do", "d", "do_it", "Do it", "Do what the tool advises"),
        key("practice.other", "k", "other_rate", "Other rate", "Listen at the other bit rate"),
        key("practice.record", "c", "record", "Record", "Record the truck's bus and read it as traffic"),
        key("practice.flip", "f", "flip", "Flip", "The connector's other side: mating or wire"),
        key("practice.new", "n", "new", "New", "Another truck", footer=True),
        *(
            key(f"practice.{name}", str(number), f"turn('{name}')", name.title(), what)
            for number, (name, what) in enumerate(
                {
                    "key": "Turn the key on or off",
                    "battery": "Take the battery's negative cable off, or put it on",
                    "adapter": "Plug in your adapter, then a known-good one, then none",
                    "fuse": "Pull the feed's fuse, or put it back",
                    "plugs": "Unplug terminators, modules or the drain wire, or plug them in",
                }.items(),
                1,
            )
        ),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.room = PracticeRoom()
        self._sheet: LessonSheet | None = None
        self._hands = asyncio.Lock()
        self._ended = False

    def body(self) -> Iterable[Widget]:
        """The beginnings, the lesson, the end."""
        with Vertical(id="begin"):
            yield Static(LEAD, classes="heading", markup=False)
            yield OptionList(
                *(f"{k}  {text}" for k, (_, text) in enumerate(BEGINNINGS, 1)), id="beginnings", markup=False
            )
            yield Label(NOW_AND_THEN, classes="muted", markup=False)
        with Horizontal(id="lesson"):
            with Vertical(id="hands"):
                yield Label(id="which", markup=False)
                yield StatePanel(id="state")
                yield LastReading(id="reading")
                yield StepLines(id="steps")
            with Vertical(id="connector"):
                yield FaceView(id="face")
            yield AdvicePanel(id="advice")
        with VerticalScroll(id="end"):
            yield VerdictWords(id="verdict")
            yield Label("n another truck · e back to the truck", classes="muted", markup=False)

    def on_mount(self) -> None:
        """No truck yet."""
        self._show_part("begin")

    @on(events.ScreenResume)
    def _look(self) -> None:
        """Coming back: the lesson as it stands."""
        if self._sheet is not None and not self._ended:
            self._run(self.room.sheet)

    def _show_part(self, name: str) -> None:
        for part in ("begin", "lesson", "end"):
            self.query_one(f"#{part}").display = part == name
        self._ended = name == "end"
        self.query_one({"begin": "#beginnings", "lesson": "#state", "end": "#end"}[name]).focus()
        self.refresh_bindings()

    # Showing -----------------------------------------------------------------------------------------------------

    def show(self, sheet: LessonSheet, pinout: Pinout | None) -> None:
        """Show a lesson's sheet, at its connector."""
        self._sheet = sheet
        self.query_one("#which", Label).update(sheet.title)
        self.query_one(StatePanel).show(sheet)
        self.query_one(LastReading).show(sheet)
        self.query_one(StepLines).show(sheet)
        face = self.query_one(FaceView)
        face.pinout, face.leads = pinout, dict(sheet.leads)
        if sheet.leads:
            face.side = "wire" if sheet.back else "mating"
        self.set_class(sheet.advice is not None, "-advised")
        if sheet.advice is not None:
            self.query_one(AdvicePanel).show(sheet.advice)
        if self._ended or not self.query_one("#lesson").display:
            self._show_part("lesson")
        self.refresh_bindings()

    @work(group="practice")
    async def _run(self, doing: Callable[[], LessonSheet]) -> None:
        """Have the room do something beside the screen, one thing after the other, and show what comes of it."""
        async with self._hands:
            try:
                sheet = await asyncio.to_thread(doing)
                self.show(sheet, self.room.pinout)
            except LinkcheckError as error:
                self.fail(error)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002  as it is
        """Keys that mean nothing now are not shown."""
        if not self.is_mounted:
            return True
        going = self._sheet is not None and not self._ended
        wanted = {
            **dict.fromkeys(("measure", "listen", "other_rate", "repair", "advice", "record", "flip"), going),
            "turn": going or self._sheet is None,  # before a lesson the numbers choose how it begins
            "do_it": going and self.room.advised,
            "end": self._sheet is not None,
            "new": self._ended,
        }
        return wanted.get(action, True)

    # Beginning ---------------------------------------------------------------------------------------------------

    @on(OptionList.OptionSelected, "#beginnings")
    @work
    async def _begin(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        await self._begin_with(BEGINNINGS[event.option_index][0])

    async def _begin_with(self, what: str) -> None:
        from linkcheck.app.widgets.dialog import AskLine  # noqa: PLC0415
        from linkcheck.practice.setting_out import Request, any_seed  # noqa: PLC0415  numpy

        if what == "fault":
            fault = await self._choose_fault("Which fault is it to have?")
            if fault is not None:
                self._run(lambda: self.room.begin(Request(seed=any_seed(), faults=(fault,))))
        elif what == "seed":
            said = await self.app.push_screen_wait(AskLine("Number of the truck, and easy, medium or hard: 4711 easy"))
            if said:
                self._run(lambda: self.room.begin(_request(said)))
        else:
            self._run(lambda: self.room.begin(Request(difficulty=what, seed=any_seed())))  # type: ignore[arg-type]

    def begin_easily(self) -> None:
        """Begin with any easy truck."""
        from linkcheck.practice.setting_out import Request, any_seed  # noqa: PLC0415  numpy

        self.begin(Request(difficulty="easy", seed=any_seed()))

    def begin(self, request: Request) -> None:
        """Begin with a certain truck."""
        self._run(lambda: self.room.begin(request))

    def action_new(self) -> None:
        """Choose another truck."""
        self._sheet = None
        self._show_part("begin")

    # Doing -------------------------------------------------------------------------------------------------------

    @on(StatePanel.Turn)
    def _turn(self, event: StatePanel.Turn) -> None:
        self.action_turn(event.name)

    def action_turn(self, name: str) -> None:
        """Turn something of the truck; before the lesson the number chooses how it begins."""
        if self._sheet is None:
            choices = self.query_one("#beginnings", OptionList)
            choices.highlighted = ("key", "battery", "adapter", "fuse", "plugs").index(name)
            choices.action_select()
        elif name == "plugs":
            self._plugs()
        else:
            self._run(lambda: self.room.turn(name))

    @work
    async def _plugs(self) -> None:
        from linkcheck.app.widgets.dialog import Choose  # noqa: PLC0415
        from linkcheck.practice.lesson_sheet import PLUGS, plug_words  # noqa: PLC0415

        off = self.room.unplugged
        words = {name: plug_words(name) for name in PLUGS}
        rows = [(name, f"{'▸ off' if name in off else '  in '}  {text}") for name, text in words.items()]
        rows.append(("modules", "all modules"))
        chosen = await self.app.push_screen_wait(Choose("Unplug, or plug in again:", rows))
        if chosen is not None:
            gone = chosen in off or (chosen == "modules" and any(name.startswith("module") for name in off))
            self._run(lambda: self.room.move(f"{'plug' if gone else 'unplug'} {chosen}"))

    def action_measure(self, word: str) -> None:
        """Put the leads on two points."""
        # At once, not from a thread: whoever types "v b a" quickly must not lose a letter.
        self.app.push_screen(AskPoints(word, self.room.points()), self._measure)

    def _measure(self, said: str | None) -> None:
        if said is not None:
            self._run(lambda: self.room.move(said))

    def action_listen(self) -> None:
        """What the adapter shows."""
        self._run(lambda: self.room.move("listen"))

    def action_other_rate(self) -> None:
        """What it shows at the other bit rate."""
        self._run(lambda: self.room.move("listen other"))

    def action_advice(self) -> None:
        """Show or hide the tool's advice."""
        self.room.advised = not self.room.advised
        self._run(self.room.sheet)

    def action_do_it(self) -> None:
        """Do what the tool advises."""
        self._run(self.room.advised_step)

    def action_flip(self) -> None:
        """The connector's other side."""
        self.query_one(FaceView).flip()

    @work
    async def action_repair(self) -> None:
        """Repair what it may be."""
        fault = await self._choose_fault("Repair what?")
        if fault is not None:
            try:
                outcome, sheet = await asyncio.to_thread(self.room.repair, fault)
            except LinkcheckError as error:
                self.fail(error)
                return
            self.show(sheet, self.room.pinout)
            self.say(outcome)

    async def _choose_fault(self, question: str) -> str | None:
        from linkcheck.app.screens.practice.asking import ChooseFault, all_faults  # noqa: PLC0415

        rows = self.room.faults() if self._sheet is not None else all_faults()
        return await self.app.push_screen_wait(ChooseFault(question, rows))

    @work
    async def action_record(self) -> None:
        """Record the truck's bus, and show it on the traffic page."""
        from linkcheck.app.screens.traffic.screen import TrafficPage  # noqa: PLC0415  only when it is needed

        try:
            words, path, sheet = await asyncio.to_thread(self.room.record)
        except LinkcheckError as error:
            self.fail(error)
            return
        self.show(sheet, self.room.pinout)
        self.say(words)
        if path is not None:
            await self.app.switch_mode("traffic")
            cast("TrafficPage", self.app.screen).open_path(str(path))

    @work
    async def action_end(self) -> None:
        """Tell what it was, or go back to the truck."""
        if self._ended:
            self._show_part("lesson")
            return
        try:
            lines, rows = await asyncio.to_thread(self.room.end)
        except LinkcheckError as error:
            self.fail(error)
            return
        self.query_one(VerdictWords).show(lines, rows, min(self.size.width - 4, 120))
        self._show_part("end")


def _request(said: str) -> Request:
    """A truck by its number and how hard it is."""
    from linkcheck.errors import UsageError  # noqa: PLC0415
    from linkcheck.practice.setting_out import Request  # noqa: PLC0415

    number, _, difficulty = said.strip().partition(" ")
    if not number.isdigit():
        raise UsageError(f'"{number}" is no number of a truck.', todo="Type 4711, or 4711 hard.")
    return Request(difficulty=difficulty.strip() or "easy", seed=int(number))  # type: ignore[arg-type]
