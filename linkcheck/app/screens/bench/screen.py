"""The bench page: which adapters, is this a bench, the test with its rows, what changed, the sheet.

The bench room tests in a thread; the page looks four times a second how far it is. Nothing is judged here.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.binding import BindingType
from textual.containers import Vertical, VerticalScroll
from textual.widget import Widget
from textual.widgets import DataTable, Label, OptionList, Static

from linkcheck.app.keys import key
from linkcheck.app.page import Page
from linkcheck.app.screens.bench.widgets import RowDetail, RowTable, counted
from linkcheck.app.settings import files_folder
from linkcheck.errors import LinkcheckError, UsageError

if TYPE_CHECKING:
    from linkcheck.bench.control import WatchedRun
    from linkcheck.bench.result import BenchResult

__all__ = ["BenchPage"]

WAYS = (
    ("quick", "Test an adapter, quickly: about a minute"),
    ("full", "Test an adapter in full: several minutes"),
    ("none", "A simulated adapter with nothing wrong, without hardware"),
    ("fault", "A simulated adapter with a fault of your choice"),
)
LEAD = "Test an adapter against a second, trusted one on a bench harness. Never on a vehicle."
LOOK_S = 0.25


class BenchPage(Page):
    """The page."""

    PLACE = "bench"
    CSS_PATH: ClassVar[str] = "bench.tcss"
    AUTO_FOCUS = "#ways"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("bench.new", "n", "new", "New", "Another test", footer=True),
        key("bench.pause", "space", "pause", "Pause", "Pause after the test that runs, or go on", footer=True),
        key("bench.stop", "s", "stop", "Stop", "Stop now; what was measured is kept", footer=True),
        key("bench.sheet", "o", "sheet", "Sheet", "Write the sheet: text, HTML or JSON", footer=True),
        key("bench.changes", "c", "changes", "Changes", "What changed since this adapter's last test", footer=True),
        *(key(f"bench.way{n}", str(n), f"way({n})", words, f"Begin: {words}") for n, (_, words) in enumerate(WAYS, 1)),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.run: WatchedRun | None = None  # while it goes
        self.result: BenchResult | None = None
        self.changed: Sequence[str] = ()
        self.record: Path | None = None

    def body(self) -> Iterable[Widget]:
        """The ways to begin; the test."""
        with Vertical(id="begin"):
            yield Static(LEAD, classes="heading", markup=False)
            yield OptionList(*(f"{n}  {text}" for n, (_, text) in enumerate(WAYS, 1)), id="ways", markup=False)
        with Vertical(id="test"):
            yield Label(id="outcome", markup=False)
            yield Label(id="progress", classes="muted", markup=False)
            yield RowTable(id="rows")
            with VerticalScroll(id="detail-scroll"):
                yield RowDetail(id="detail")

    def on_mount(self) -> None:
        """No test yet."""
        self._show_part("begin")
        self.set_interval(LOOK_S, self._look_at_run)

    def on_unmount(self) -> None:
        """A test does not outlive the app."""
        if self.run is not None:
            self.run.stop()

    def _show_part(self, name: str) -> None:
        for part in ("begin", "test"):
            self.query_one(f"#{part}").display = part == name
        self.query_one("#ways" if name == "begin" else "#rows").focus()
        self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002  as it is
        """Keys that mean nothing now are not shown."""
        if not self.is_mounted:
            return True
        beginning = bool(self.query_one("#begin").display)
        wanted = {
            **dict.fromkeys(("pause", "stop"), self.run is not None),
            **dict.fromkeys(("sheet", "changes"), self.result is not None and not beginning),
            "new": self.run is None and not beginning,
            "way": beginning,
        }
        return wanted.get(action, True)

    # Beginning ---------------------------------------------------------------------------------------------------

    def action_way(self, number: int) -> None:
        """Begin by the number."""
        self._begin(WAYS[number - 1][0])

    @on(OptionList.OptionSelected, "#ways")
    def _chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self._begin(WAYS[event.option_index][0])

    @work(exclusive=True)
    async def _begin(self, way: str) -> None:
        try:
            run = await (self._simulated(way) if way in ("none", "fault") else self._real(way))
        except LinkcheckError as error:
            self.fail(error)
            return
        if run is not None:
            self.begin(run)

    async def _simulated(self, way: str) -> WatchedRun | None:
        from linkcheck.app.widgets.dialog import Choose  # noqa: PLC0415
        from linkcheck.bench.control import simulated_run  # noqa: PLC0415  numpy
        from linkcheck.bench.simulation import FAULTS  # noqa: PLC0415

        if way == "fault":
            rows = [(name, fault.words) for name, fault in FAULTS.items() if name != "none"]
            chosen = await self.app.push_screen_wait(Choose("What is wrong with the simulated adapter?", rows))
            if chosen is None:
                return None
            way = chosen
        return simulated_run(way)

    async def _real(self, plan: str) -> WatchedRun | None:
        from linkcheck.app.widgets.dialog import AskLine  # noqa: PLC0415
        from linkcheck.bench.control import live_run  # noqa: PLC0415  numpy
        from linkcheck.bench.hands import BENCH_WARNING  # noqa: PLC0415

        said: list[str] = []
        for question, hint in (
            ("A, the adapter under test (INTERFACE:CHANNEL)", "serial:/dev/ttyACM0, socketcan:can0"),
            ("B, the trusted adapter (INTERFACE:CHANNEL)", "serial:/dev/ttyACM1, socketcan:can1"),
            ("A's name in its record; empty for what it says it is", "shop-3"),
            (BENCH_WARNING, ""),
        ):
            answer = await self.app.push_screen_wait(AskLine(question, placeholder=hint))
            if answer is None:
                return None
            said.append(answer)
        a, b, name, word = said
        if not (a and b):
            raise UsageError("The bench test needs two interfaces.", todo="Name A under test and B trusted.")
        return live_run(a, b, plan, adapter=name, word=word)

    # Running -----------------------------------------------------------------------------------------------------

    @work(group="bench")
    async def begin(self, run: WatchedRun) -> None:
        """Run a test beside the screen, put it on record, show it."""
        self.run, self.result, self.changed, self.record = run, None, (), None
        self.query_one(RowTable).redraw(())
        self.query_one(RowDetail).show(None)
        self._show_part("test")
        self._look_at_run()
        try:
            result = await asyncio.to_thread(run.run)
        except LinkcheckError as error:
            self.run = None
            self._show_part("begin")
            self.fail(error)
            return
        self.run = None
        await self._keep_record(result, run.adapter)
        self.show(result, self.changed)

    async def _keep_record(self, result: BenchResult, name: str) -> None:
        from linkcheck.bench.history import record_test  # noqa: PLC0415

        if result.conditions.simulated or not result.rows:
            return
        try:
            self.record, self.changed = await asyncio.to_thread(record_test, result, name)
        except LinkcheckError as error:
            self.fail(error)

    def _look_at_run(self) -> None:
        run = self.run
        if run is None:
            return
        pausing = "Paused after" if run.held else "Pauses after"
        state = "Stopping" if run.stopping else pausing if run.paused else "Testing"
        share = "" if run.share is None else f" {run.share:.0%}"
        self.query_one("#outcome", Label).update(f"{state}: {run.title}{share}")
        self.query_one("#progress", Label).update(counted(run.rows) or run.simulated or "Nothing measured yet")
        self._show_rows(list(run.rows))

    def show(self, result: BenchResult, changed: Sequence[str] = ()) -> None:
        """Show a result, and what changed since the last."""
        self.result, self.changed = result, changed
        early = "Stopped early. " if result.partial else ""
        self.query_one("#outcome", Label).update(f"{early}{result.verdict}")
        told = [counted(result.rows)]
        if result.conditions.simulated:
            told.append(f"simulated: {result.conditions.simulated}")
        if changed:
            told.append(f"{len(changed)} changed since last time")
        self.query_one("#progress", Label).update(" · ".join(filter(None, told)))
        self._show_rows(result.rows)
        self.query_one(RowTable).to_first_failed()
        self._show_part("test")

    def _show_rows(self, rows: Sequence[object]) -> None:
        table = self.query_one(RowTable)
        table.show(rows)  # type: ignore[arg-type]
        self.query_one(RowDetail).show(table.current)

    @on(DataTable.RowHighlighted, "#rows")
    def _follow(self) -> None:
        self.query_one(RowDetail).show(self.query_one(RowTable).current)

    # Keys --------------------------------------------------------------------------------------------------------

    def action_new(self) -> None:
        """Choose again."""
        self._show_part("begin")

    def action_pause(self) -> None:
        """Pause, or go on."""
        if self.run is not None:
            (self.run.go_on if self.run.paused else self.run.pause)()
            self._look_at_run()

    def action_stop(self) -> None:
        """Stop now."""
        if self.run is not None:
            self.run.stop()
            self._look_at_run()

    def action_changes(self) -> None:
        """What changed since the last test."""
        from linkcheck.app.widgets.dialog import Read  # noqa: PLC0415

        if self.result is None:
            return
        if self.result.conditions.simulated:
            lines = ["A simulated adapter is not put on record."]
        elif self.changed:
            lines = [f"- {sentence}" for sentence in self.changed]
        else:
            lines = ["Nothing changed, or this is its first test."]
        where = [f"Its record: {self.record}"] if self.record is not None else []
        self.app.push_screen(Read("\n\n".join(["## Since the last test", "\n".join(lines), *where])))

    @work
    async def action_sheet(self) -> None:
        """Write the sheet, and say where."""
        from linkcheck.app.shelf import write_text  # noqa: PLC0415
        from linkcheck.app.widgets.dialog import AskLine  # noqa: PLC0415
        from linkcheck.report.bench_sheet import bench_file  # noqa: PLC0415

        if self.result is None:
            return
        proposed = str(files_folder(self.shell.settings) / "bench.html")
        said = await self.app.push_screen_wait(AskLine("Write the sheet to (.html, .json, else text)", proposed))
        if not said:
            return
        try:
            file = await asyncio.to_thread(write_text, said, bench_file(self.result, self.changed, said))
            self.say(f"The sheet is in {file}.")
        except LinkcheckError as error:
            self.fail(error)
