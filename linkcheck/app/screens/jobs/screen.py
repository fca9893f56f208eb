"""The list of jobs: begin, open, search, export, import, delete and bring back. What is in a job is the store's."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual import events, on, work
from textual.binding import BindingType
from textual.content import Content
from textual.widget import Widget
from textual.widgets import DataTable, Input, Static

from linkcheck.app import shelf
from linkcheck.app.keys import key
from linkcheck.app.page import Page
from linkcheck.app.settings import files_folder
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.jobs.summary import JobSummary

__all__ = ["JobsPage"]

MOST_ROWS = 200  # a table of thousands takes seconds to draw; the search finds the others
MARKS = {"new": "·", "walking": "▸", "repaired": "↻", "cause confirmed": "✓"}
EMPTY = """\
No jobs yet.

p   practise on a simulated truck with a hidden fault: nothing to plug in
n   begins one: unit, complaint, connector
i   takes one in from a file
?   explains what has the focus, and all keys

Park, chock the wheels, and keep away from orange high-voltage cables and \
airbag circuits. The maker's service information and local rules come before \
anything this program says."""
NOTHING_FOUND = "No job has all these words in its unit, complaint or cause. esc shows all jobs again."


class JobsPage(Page):
    """The page of the jobs."""

    PLACE = "jobs"
    CSS_PATH: ClassVar[str] = "jobs.tcss"
    AUTO_FOCUS = "#jobs"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("jobs.new", "n", "new", "New", "Begin a new job", footer=True),
        key("jobs.search", "slash", "search", "Search", "Show only jobs with these words", footer=True),
        key("jobs.delete", "d,delete", "delete", "Delete", "Take the job out of the list", footer=True),
        key("jobs.undo", "u", "undo", "Undo", "Bring the job back that was deleted last", footer=True),
        key("jobs.export", "x", "export", "Export", "Write the job into a file (JSON)", footer=True),
        key("jobs.import", "i", "import", "Import", "Take a job in from a file (JSON)"),
        key("jobs.edit", "e", "edit", "Edit", "Change what the job is about: unit, complaint, truck"),
        key("jobs.all", "escape", "all", "All", "Leave the search and show all jobs"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._deleted: list[int] = []
        self._widths: list[int] = []

    def body(self) -> Iterable[Widget]:
        """The search, the table, and what stands there without jobs."""
        yield Input(placeholder="words of unit, complaint or cause", id="search")
        table: DataTable[Content] = DataTable(id="jobs", cursor_type="row", zebra_stripes=True)
        yield table
        yield Static(id="remark", markup=False)

    @property
    def _table(self) -> DataTable[Content]:
        return self.query_one("#jobs", DataTable)

    def on_mount(self) -> None:
        """The columns; widths fit 80 columns and grow with the screen."""
        self.query_one("#search").display = False
        self._columns()

    def _columns(self) -> None:
        spare = max(0, min(self.app.size.width, 200) - 80)
        widths = {"No": 3, "Unit": 12 + spare // 5, "Complaint": 24 + spare // 2, "How far": 17, "Changed": 12}
        if spare >= 30:
            widths["Read"] = 4
        self._widths = list(widths.values())
        self._table.clear(columns=True)
        for name, width in widths.items():
            self._table.add_column(name, width=width, key=name)

    def on_resize(self) -> None:
        """Other widths."""
        if self.is_mounted:
            self._columns()
            self._list()

    @on(events.ScreenResume)
    @on(Input.Changed, "#search")
    @work(exclusive=True, group="list")
    async def _list(self) -> None:
        """Read the list anew."""
        query = self.query_one("#search", Input).value
        try:
            jobs = await asyncio.to_thread(lambda: self.shell.desk.store.list(query))
        except LinkcheckError as error:
            self._show_remark(f"✗ {error.sentence}", alone=True)
            return
        self._show(jobs, query)

    def _show(self, jobs: list[JobSummary], query: str) -> None:
        table = self._table
        here = self._chosen()
        opened = self.shell.desk.job
        table.clear()
        for job in jobs[:MOST_ROWS]:
            table.add_row(*self._cells(job, opened is not None and opened.id == job.id), key=str(job.id))
        if here in table.rows:
            table.move_cursor(row=table.get_row_index(str(here)), animate=False)
        if not jobs:
            self._show_remark(NOTHING_FOUND if query else EMPTY, alone=True)
        else:
            more = len(jobs) - MOST_ROWS
            self._show_remark(f"{more} more; search for them with /" if more > 0 else "", alone=False)
        self.refresh_bindings()

    def _show_remark(self, text: str, *, alone: bool) -> None:
        remark = self.query_one("#remark", Static)
        remark.update(text)
        remark.display = bool(text)
        self._table.display = not alone

    def _cells(self, job: JobSummary, opened: bool) -> list[Content]:
        bold = "bold" if opened else ""
        when = job.changed_at.astimezone().strftime("%d %b %H:%M")
        cells = [
            str(job.id),
            job.unit or "(no unit)",
            job.cause or job.complaint,
            f"{MARKS[job.state]} {job.state}",
            when,
            str(job.readings),
        ]
        return [Content.styled(_clipped(cell, width), bold) for cell, width in zip(cells, self._widths, strict=False)]

    def _chosen(self) -> str | None:
        """Number of the job under the cursor, as a text."""
        table = self._table
        if not table.row_count or not table.display:
            return None
        return table.coordinate_to_cell_key(table.cursor_coordinate).row_key.value

    # What keys do ------------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Keys that mean nothing now are not shown."""
        if action in ("delete", "export", "edit"):
            return self.is_mounted and self._chosen() is not None
        if action == "undo":
            return bool(self._deleted)
        return True

    @on(DataTable.RowSelected, "#jobs")
    @work
    async def _open(self, event: DataTable.RowSelected) -> None:
        """Open the job and go on with its walk."""
        await self._take_up(int(event.row_key.value or 0))

    async def _take_up(self, job: int) -> None:
        try:
            await asyncio.to_thread(self.shell.desk.open_job, job)
        except LinkcheckError as error:
            self.fail(error)
        else:
            self.shell.action_go("walk")

    @work
    async def action_new(self) -> None:
        """Three fields, then the walk."""
        from linkcheck.app.screens.jobs.widgets import AskIntake  # noqa: PLC0415
        from linkcheck.jobs.events import Intake  # noqa: PLC0415

        settings = self.shell.settings
        blank = Intake(unit="", connector=settings.connector, system_volts=float(settings.system_volts))
        known = await asyncio.to_thread(shelf.connectors)
        intake = await self.app.push_screen_wait(AskIntake(blank, known, "New job"))
        if intake is None:
            return
        try:
            job = await asyncio.to_thread(shelf.begin, self.shell.desk.store, intake, settings)
        except LinkcheckError as error:
            self.fail(error)
            return
        await self._take_up(job)

    @work
    async def action_edit(self) -> None:
        """Change what the job is about."""
        from linkcheck.app.screens.jobs.widgets import AskIntake  # noqa: PLC0415

        chosen, store = self._chosen(), self.shell.desk.store
        if chosen is None:
            return
        try:
            job = await asyncio.to_thread(store.open, int(chosen))
            known = await asyncio.to_thread(shelf.connectors)
            intake = await self.app.push_screen_wait(AskIntake(job.intake, known, f"Job {chosen}"))
            if intake is not None and intake != job.intake:
                await asyncio.to_thread(job.add, intake)
                opened = self.shell.desk.job
                if opened is not None and opened.id == job.id:
                    await asyncio.to_thread(self.shell.desk.open_job, job.id)
        except LinkcheckError as error:
            self.fail(error)
        self._list()

    def action_search(self) -> None:
        """Into the search field."""
        search = self.query_one("#search", Input)
        search.display = True
        search.focus()

    @on(Input.Submitted, "#search")
    def _leave_search(self) -> None:
        if self._table.display:
            self._table.focus()

    def action_all(self) -> None:
        """Out of the search."""
        search = self.query_one("#search", Input)
        search.value = ""
        search.display = False
        self._table.display = True
        self._table.focus()
        self._list()

    @work
    async def action_delete(self) -> None:
        """Out of the list; u brings it back."""
        chosen, desk = self._chosen(), self.shell.desk
        if chosen is None:
            return
        try:
            await asyncio.to_thread(desk.store.delete, int(chosen))
        except LinkcheckError as error:
            self.fail(error)
            return
        if desk.job is not None and desk.job.id == int(chosen):
            desk.put_away()
        self._deleted.append(int(chosen))
        self.say(f"Job {chosen} is out of the list. u brings it back.")
        self._list()

    @work
    async def action_undo(self) -> None:
        """Bring the last deleted job back."""
        if not self._deleted:
            return
        try:
            await asyncio.to_thread(self.shell.desk.store.undelete, self._deleted[-1])
        except LinkcheckError as error:
            self.fail(error)
            return
        self.say(f"Job {self._deleted.pop()} is back.")
        self._list()

    @work
    async def action_export(self) -> None:
        """Into a file."""
        from linkcheck.app.widgets.dialog import AskLine  # noqa: PLC0415

        chosen = self._chosen()
        if chosen is None:
            return
        proposed = files_folder(self.shell.settings) / f"job-{chosen}.json"
        path = await self.app.push_screen_wait(AskLine("Write the job into which file?", str(proposed)))
        if path:
            try:
                self.say(await asyncio.to_thread(shelf.write_job, self.shell.desk.store, int(chosen), path))
            except LinkcheckError as error:
                self.fail(error)

    @work
    async def action_import(self) -> None:
        """From a file."""
        from linkcheck.app.widgets.dialog import AskLine  # noqa: PLC0415

        path = await self.app.push_screen_wait(AskLine("Take a job in from which file? (drag it here)"))
        if path:
            try:
                self.say(await asyncio.to_thread(shelf.take_in, self.shell.desk.store, path))
            except LinkcheckError as error:
                self.fail(error)
            self._list()


def _clipped(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"
