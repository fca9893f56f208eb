"""The walk: one check after the other until a cause is proven, then the repair and the same readings again.

The board draws; the desk takes and keeps. What the desk does runs in a thread, so that keys and mouse never wait, and
a reading counts as taken only when the sheet that has it comes back: by then it is on the disk.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, ClassVar

from textual import events, on, work
from textual.binding import BindingType
from textual.widget import Widget
from textual.widgets import Static

from linkcheck.app.keys import key
from linkcheck.app.page import Page
from linkcheck.app.shelf import dropped_path
from linkcheck.app.widgets.walk_board import WalkBoard
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.jobs.sheet import Sheet

__all__ = ["WalkPage"]

NO_JOB = "No job is open.\n\nj  the list of jobs: begin a new one there with n, or open one with enter"
UNDONE = {
    "answer": "The last reading is taken back.",
    "skip": "The check is asked again.",
    "repaired": "The repair is taken back.",
    "corrected": "The correction is taken back.",
    "note": "The note is taken back.",
    "photo": "The picture is taken back.",
}


class WalkPage(Page):
    """The page of the walk."""

    PLACE = "walk"
    CSS_PATH: ClassVar[str] = "walk.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("walk.undo", "u", "undo", "Undo", "Take the last reading, skip, note or repair back", footer=True),
        key("walk.skip", "s", "skip", "Skip", "Leave this check out; another one is found", footer=True),
        key("walk.open", "o", "open_circuit", "OL", "The meter shows OL: over its range", footer=True),
        key("walk.why", "y", "why", "Why", "Why this check, and what speaks for and against the suspects", footer=True),
        key("walk.flip", "f", "flip", "Flip", "The connector's other side: mating or wire", footer=True),
        key("walk.repaired", "d", "repaired", "Repaired", "It is repaired: the same readings again", footer=True),
        key("walk.correct", "c", "correct", "Correct", "An earlier reading was read or typed wrongly"),
        key("walk.readings", "l", "readings", "Readings", "All readings so far, each with its verdict"),
        key("walk.note", "n", "note", "Note", "Write a note into the job"),
        key("walk.photo", "i", "photo", "Photo", "Note where a picture lies"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._shown = -1
        self._busy = False

    def body(self) -> Iterable[Widget]:
        """The board, and what stands there without a job."""
        yield Static(NO_JOB, id="nothing")
        yield WalkBoard(id="board")

    @property
    def _board(self) -> WalkBoard:
        return self.query_one(WalkBoard)

    @property
    def _sheet(self) -> Sheet | None:
        return self._board.sheet if self.shell.desk.job is not None else None

    @on(events.ScreenResume)
    def _look(self) -> None:
        """Show the open job's walk, where it is not on the screen already."""
        desk = self.shell.desk
        self.query_one("#nothing").display = desk.job is None
        self._board.display = desk.job is not None
        if desk.job is None:
            self._board.sheet = None
            self.refresh_bindings()
        elif self._shown != desk.changes and not self._busy:
            self._run(desk.sheet, "working out the first check")

    @work(group="walk")
    async def _run(self, doing: Callable[[], Sheet], what: str) -> None:
        """Have the desk do something, and show what comes of it."""
        if self._busy:
            return
        self._busy = True
        self._board.busy(what)
        try:
            sheet = await asyncio.to_thread(doing)
            await self._show(sheet)
        except LinkcheckError as error:
            self._board.complain(error)
        finally:
            self._busy = False
        await asyncio.to_thread(self.shell.desk.settle)

    async def _show(self, sheet: Sheet) -> None:
        desk = self.shell.desk
        if sheet.cautions and self.shell.current_mode == self.PLACE:
            from linkcheck.app.widgets.dialog import Read  # noqa: PLC0415
            from linkcheck.jobs.events import CautionsRead  # noqa: PLC0415

            lines = "\n\n".join(f"**!** {text}" for text in sheet.cautions)
            if not await self.app.push_screen_wait(
                Read(f"## Before you go on\n\n{lines}", "enter: read and understood")
            ):
                self.shell.action_go("jobs")
                return
            await asyncio.to_thread(desk.add, CautionsRead(list(sheet.cautions)))
        if sheet.card is None and self._sheet is not None and self._sheet.card is not None:
            self.shell.ring()
        self._shown = desk.changes
        self._board.show(sheet, desk.pinout)
        self.refresh_bindings()

    # What keys do ------------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Keys that mean nothing now are not shown."""
        sheet = self._sheet if self.is_mounted else None
        card = sheet.card if sheet else None
        match action:
            case "undo" | "why" | "flip" | "readings" | "note" | "photo":
                return sheet is not None
            case "skip":
                return card is not None
            case "open_circuit":
                return card is not None and card.quantity == "ohms"
            case "repaired":
                return sheet is not None and card is None and bool(sheet.repairable)
            case "correct":
                return sheet is not None and bool(sheet.readings or sheet.before)
        return True

    @on(WalkBoard.Answered)
    def _take(self, event: WalkBoard.Answered) -> None:
        desk = self.shell.desk
        self._run(lambda: desk.answer(event.text), f"taking {event.text.replace('_', ' ')}")

    def action_undo(self) -> None:
        """Take the last thing back."""
        self._run(self._back, "taking it back")

    def _back(self) -> Sheet:
        kind, sheet = self.shell.desk.back()
        self.app.call_from_thread(self.say, UNDONE.get(kind, "The last entry is taken back."))
        return sheet

    def action_skip(self) -> None:
        """Leave the check out."""
        self._run(self.shell.desk.skip, "looking for another check")

    def action_open_circuit(self) -> None:
        """OL."""
        self._board.put_open()

    def action_flip(self) -> None:
        """The connector's other side."""
        self._board.flip()

    def action_repaired(self) -> None:
        """The same readings again."""
        if self._sheet is not None:
            faults = self._sheet.repairable
            self._run(lambda: self.shell.desk.repaired(faults), "the readings to take again")

    def action_why(self) -> None:
        """The reasons, to read."""
        from linkcheck.app.screens.walk.widgets import reasons_page  # noqa: PLC0415
        from linkcheck.app.widgets.dialog import Read  # noqa: PLC0415

        if self._sheet is not None:
            self.app.push_screen(Read(reasons_page(self._sheet)))

    def action_readings(self) -> None:
        """All readings, to read."""
        from linkcheck.app.screens.walk.widgets import readings_page  # noqa: PLC0415
        from linkcheck.app.widgets.dialog import Read  # noqa: PLC0415

        if self._sheet is not None:
            self.app.push_screen(Read(readings_page(self._sheet)))

    @work
    async def action_correct(self) -> None:
        """Choose a reading, type what it should have been."""
        from linkcheck.app.widgets.dialog import AskLine, Choose  # noqa: PLC0415

        sheet, walk = self._sheet, self.shell.desk.opened.record.walk
        if sheet is None or walk is None:
            return
        lines = [*sheet.before, *sheet.readings]
        first = len(walk.answers) - len(lines)  # a walk may have had more than one repair
        rows = [(str(first + n), f"{line.name}: {line.shown}") for n, line in enumerate(lines)]
        chosen = await self.app.push_screen_wait(Choose("Which reading is wrong?", rows[::-1]))
        if chosen is None:
            return
        name = dict(rows)[chosen]
        said = await self.app.push_screen_wait(AskLine(f"{name}\n\nWhat should it have been?"))
        if said:
            self._run(lambda: self.shell.desk.correct(int(chosen), said), "correcting")

    @work
    async def action_note(self) -> None:
        """A note into the job."""
        from linkcheck.app.widgets.dialog import AskLine  # noqa: PLC0415
        from linkcheck.jobs.events import Note  # noqa: PLC0415

        text = await self.app.push_screen_wait(AskLine("Note"))
        if text:
            await self._keep(Note(text), "The note is kept.")

    @work
    async def action_photo(self) -> None:
        """Where a picture lies."""
        from linkcheck.app.widgets.dialog import AskLine  # noqa: PLC0415
        from linkcheck.jobs.events import Photo  # noqa: PLC0415

        text = await self.app.push_screen_wait(AskLine("Path of the picture (drag the file here)"))
        if text:
            path = dropped_path(text)
            missing = "" if await asyncio.to_thread(path.is_file) else " There is no such file at the moment."
            await self._keep(Photo(str(path)), f"The path is kept.{missing}")

    async def _keep(self, event: object, done: str) -> None:
        try:
            await asyncio.to_thread(self.shell.desk.add, event)  # type: ignore[arg-type]
            self._shown = self.shell.desk.changes
            self.say(done)
        except LinkcheckError as error:
            self.fail(error)
