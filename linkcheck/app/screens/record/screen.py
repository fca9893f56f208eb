"""The record: the walk's finding as complaint, cause, correction, confirmation, put into the technician's own words.

What is typed is kept when the field is left; an emptied field goes back to the program's words. The report is made
below; this page says where it is.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual import events, on, work
from textual.binding import BindingType
from textual.containers import Grid, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Label, Static, TextArea

from linkcheck.app.keys import key
from linkcheck.app.page import Page
from linkcheck.app.screens.record.widgets import file_name, readings_table
from linkcheck.app.settings import files_folder
from linkcheck.app.shelf import write_text
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.app.desk import Desk
    from linkcheck.jobs.events import JobEvent, WordedPart
    from linkcheck.report.content import Report

__all__ = ["RecordPage"]

NO_JOB = "No job is open.\n\nj  the list of jobs: begin a new one there with n, or open one with enter"
PARTS: tuple[WordedPart, ...] = ("complaint", "cause", "correction", "confirmation")
TOOLS = {"technician": "Who", "meter": "Meter", "adapter": "Adapter"}


def _report(desk: Desk) -> Report:
    from linkcheck.report.compose import compose  # noqa: PLC0415  numpy

    return compose(desk.opened.record)


class RecordPage(Page):
    """The page of the record."""

    PLACE = "record"
    CSS_PATH: ClassVar[str] = "record.tcss"
    AUTO_FOCUS = "#written"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("record.edit", "e,enter", "edit", "Edit", "Into the first field; tab goes on, esc leaves", footer=True),
        key("record.report", "o", "report", "Report", "Write the report into a file", footer=True),
        key("record.copy", "c", "copy", "Copy", "Copy the write-up as text, for a work order", footer=True),
        key("record.confirm", "k", "confirm", "Confirm", "The cause is confirmed: it counts in the list", footer=True),
        key("record.leave", "escape", "leave", "Leave", "Out of the field"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._shown: Report | None = None

    def body(self) -> Iterable[Widget]:
        """Four texts, three short fields, the readings."""
        yield Static(NO_JOB, id="nothing")
        with VerticalScroll(id="written", can_focus=True):
            yield Static(id="about", markup=False)
            for part in PARTS:
                yield Label(part.capitalize(), classes="heading")
                yield TextArea(id=part, compact=True, tab_behavior="focus")
            with Grid(id="tools"):
                for name, title in TOOLS.items():
                    yield Label(title)
                    yield Input(id=name, compact=True)
            yield Label("Readings", classes="heading")
            yield Static(id="readings")

    @on(events.ScreenResume)
    @work(exclusive=True, group="record")
    async def _look(self) -> None:
        """Show the open job."""
        desk = self.shell.desk
        self.query_one("#nothing").display = desk.job is None
        self.query_one("#written").display = desk.job is not None
        self.refresh_bindings()
        if desk.job is None:
            self._shown = None
            return
        try:
            self._show(await asyncio.to_thread(_report, desk))
        except LinkcheckError as error:
            self.fail(error)

    def _show(self, report: Report) -> None:
        self._shown = report
        intake = report.intake
        connector = report.connector.title or report.connector.name
        told = [f"Job {report.number}", intake.unit, connector, f"{intake.system_volts:g} V", intake.odometer]
        about = [Content.styled(" · ".join(part for part in told if part), "bold"), Content(report.headline)]
        self.query_one("#about", Static).update(Content("\n").join([*about, Content(report.trouble)]).rstrip())
        for part in PARTS:
            self.query_one(f"#{part}", TextArea).text = _text(report, part)
        for name in TOOLS:
            self.query_one(f"#{name}", Input).value = getattr(report, name)
        self.query_one("#readings", Static).update(readings_table(report, self.size.width - 6))
        self.refresh_bindings()

    @on(events.DescendantBlur)
    @work(group="keep")
    async def _keep(self) -> None:
        """Keep what was changed in a field that is left."""
        from linkcheck.jobs.events import Technician, Tools, Worded  # noqa: PLC0415

        if self._shown is None:
            return
        texts = {part: self.query_one(f"#{part}", TextArea).text.strip() for part in PARTS}
        fields = {name: self.query_one(f"#{name}", Input).value.strip() for name in TOOLS}
        shown = self._shown
        new: list[JobEvent] = [Worded(part, said) for part, said in texts.items() if said != _text(shown, part).strip()]
        if fields["technician"] != shown.technician:
            new.append(Technician(fields["technician"]))
        if (fields["meter"], fields["adapter"]) != (shown.meter, shown.adapter):
            new.append(Tools(fields["meter"], fields["adapter"]))
        if new:
            await self._add(*new)

    async def _add(self, *events: JobEvent) -> None:
        desk = self.shell.desk
        try:
            await asyncio.to_thread(desk.add, *events)
            self._show(await asyncio.to_thread(_report, desk))
        except LinkcheckError as error:
            self.fail(error)

    # What keys do ------------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Without a job there is nothing to do; a cause is confirmed once."""
        shown = self._shown
        if action == "confirm":
            return shown is not None and shown.found is not None and self._confirmed is None
        return shown is not None if action in ("edit", "report", "copy") else True

    @property
    def _confirmed(self) -> object | None:
        job = self.shell.desk.job
        return job.record.confirmed if job else None

    def action_edit(self) -> None:
        """Into the first field."""
        self.query_one("#complaint").focus()

    def action_leave(self) -> None:
        """Out of the field."""
        self.query_one("#written").focus()

    @work
    async def action_report(self) -> None:
        """Choose a form, write it, say where it is."""
        from linkcheck.app.screens.record.forms import FORMS  # noqa: PLC0415
        from linkcheck.app.widgets.dialog import Choose  # noqa: PLC0415

        rows = [(name, form.title) for name, form in FORMS.items()]
        chosen = await self.app.push_screen_wait(Choose("Write the report as", rows))
        shown = self._shown
        if chosen is None or shown is None:
            return
        file = files_folder(self.shell.settings) / file_name(shown, FORMS[chosen].ending)
        self.say("Writing the report …")
        try:
            text = await asyncio.to_thread(FORMS[chosen].write, shown)
            written = await asyncio.to_thread(write_text, str(file), text)
        except LinkcheckError as error:
            self.fail(error)
        else:
            self.say(f"The report is in {written}")

    @work
    async def action_copy(self) -> None:
        """The write-up as text, for a work order."""
        from linkcheck.app.copying import copy_out  # noqa: PLC0415
        from linkcheck.app.screens.record.forms import FORMS  # noqa: PLC0415

        shown = self._shown
        if shown is None:
            return
        try:
            text = await asyncio.to_thread(FORMS["text"].write, shown)
            self.say(copy_out(self.app, text, file_name(shown, "txt"), files_folder(self.shell.settings)))
        except LinkcheckError as error:
            self.fail(error)

    @work
    async def action_confirm(self) -> None:
        """The cause counts as confirmed."""
        from linkcheck.jobs.events import CauseConfirmed  # noqa: PLC0415

        found = self._shown.found if self._shown else None
        if found is not None:
            first = found.faults if found.proven else found.faults[:1]
            titles = " and ".join(each.title for each in first)
            await self._add(CauseConfirmed([each.fault for each in first], titles))
            self.say(f"Confirmed: {titles}.")


def _text(report: Report, part: WordedPart) -> str:
    text: str = getattr(report, part).text
    return text
