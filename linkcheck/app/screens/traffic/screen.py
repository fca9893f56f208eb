"""The traffic page: a capture's verdict first, then whatever it rests on.

It draws one immutable `TrafficResult`; where that comes from (a file, a bus: `bus_page`) is no concern of the widgets.
`show` may be called with a newer result at any time: cursors, section, sorting and filter stay.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events, on, work
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widget import Widget
from textual.widgets import Input, OptionList

from linkcheck.app.keys import key
from linkcheck.app.screens.traffic.bus_page import BusPage
from linkcheck.app.screens.traffic.bus_strip import BusStrip
from linkcheck.app.screens.traffic.charts import ErrorChart, LoadChart
from linkcheck.app.screens.traffic.details import ErrorDetails, LoadDetails
from linkcheck.app.screens.traffic.findings import Evidence, FindingList
from linkcheck.app.screens.traffic.heading import SectionBar, TrafficHeading
from linkcheck.app.screens.traffic.opener import Opener, PathField
from linkcheck.app.screens.traffic.paths import cleaned, keep_recent
from linkcheck.app.screens.traffic.reading import CaptureReading
from linkcheck.app.screens.traffic.result_table import ResultTable
from linkcheck.app.screens.traffic.tables import AddressTable, CodeTable, SensorTable
from linkcheck.app.screens.traffic.who import WhoStrips
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.traffic.result import ChannelResult, Finding, TrafficResult

__all__ = ["TrafficPage"]

SECTIONS = ("findings", "load", "who", "addresses", "errors", "codes", "sensors")
FOCUS = {"load": "#load-details", "errors": "#error-details", "evidence": "#evidence"}


class TrafficPage(BusPage):
    """The page."""

    PLACE = "traffic"
    CSS_PATH: ClassVar[str] = "traffic.tcss"
    AUTO_FOCUS = "#path"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("traffic.open", "o", "open", "Open", "Open a capture from a file", footer=True),
        key("traffic.into_job", "i", "into_job", "Into job", "Take a finding or the capture into the job", footer=True),
        key("traffic.filter", "slash", "filter", "Filter", "Only rows with certain words", footer=True),
        key("traffic.sort", "s", "sort", "Sort", "Sort the table by its next column"),
        key("traffic.copy", "y", "copy", "Copy", "Copy out: clipboard and file", footer=True),
        key("traffic.channel", "c", "channel", "Channel", "The next interface of the capture"),
        key("traffic.leave", "escape", "leave", "Back", "Stop reading, or leave filter, evidence or path field"),
        *(
            key(f"traffic.{name}", str(number), f"section('{name}')", name.title(), f"Show: {name}")
            for number, name in enumerate(SECTIONS, 1)
        ),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.result: TrafficResult | None = None
        self._channel = ""
        self._section = "findings"
        self._reading: CaptureReading | None = None

    def body(self) -> Iterable[Widget]:
        """Heading, the opener or the sections, the filter."""
        yield BusStrip(id="bus")
        yield TrafficHeading(id="heading")
        yield Opener(id="opener")
        yield SectionBar(SECTIONS, id="section-bar")
        with Horizontal(id="overview"):
            yield LoadChart(id="load-overview")
            yield ErrorChart(id="errors-overview")
        with Horizontal(id="sections"):
            yield FindingList(id="findings")
            with VerticalScroll(id="evidence-box"):
                yield Evidence(id="evidence")
            with Vertical(id="load"):
                yield LoadChart(id="load-chart")
                yield LoadDetails(id="load-details")
            yield WhoStrips(id="who")
            yield AddressTable(id="addresses")
            with Vertical(id="errors"):
                yield ErrorChart(id="error-chart")
                yield ErrorDetails(id="error-details")
            yield CodeTable(id="codes")
            yield SensorTable(id="sensors")
        yield Input(id="filter", placeholder="words that a row must have; enter keeps them, esc takes them away")

    def on_mount(self) -> None:
        """Nothing is open yet."""
        self.query_one("#filter").display = False
        self._opening(opening=True)

    @on(events.ScreenResume)
    def _look(self) -> None:
        """Coming back: captures opened of late may be others."""
        if self.has_class("-opening"):
            self.query_one(Opener).refresh_choices()

    # A result ----------------------------------------------------------------------------------------------------

    def show(self, result: TrafficResult) -> None:
        """Show a result, or a newer one of the same source."""
        self.result = result
        if self._channel not in result.channels:
            self._channel = next(iter(result.channels), "")
        self._opening(opening=False)
        self._draw()

    def _draw(self) -> None:
        from linkcheck.traffic.words import all_findings  # noqa: PLC0415  core, when it is needed

        result = self.result
        if result is None:
            return
        channel = self._shown_channel
        self.query_one(TrafficHeading).show(result, self._channel)
        self.query_one(FindingList).show(all_findings(result), with_channel=len(result.channels) > 1)
        if channel is not None:
            for chart in (*self.query(LoadChart), *self.query(ErrorChart)):
                chart.channel = channel
            self.query_one(LoadDetails).show(channel)
            self.query_one(ErrorDetails).show(channel)
            self.query_one(WhoStrips).show(channel)
            for table in self.query(ResultTable):
                table.show(channel)
        self._name_sections()
        self.refresh_bindings()

    @property
    def _shown_channel(self) -> ChannelResult | None:
        return self.result.channels.get(self._channel) if self.result else None

    def _name_sections(self) -> None:
        channel = self._shown_channel
        counts = {
            "findings": len(self.query_one(FindingList).findings),
            "addresses": len(channel.source_addresses) if channel else 0,
            "errors": channel.error_frames.total if channel else 0,
            "codes": len(channel.trouble_codes) if channel else 0,
        }
        self.query_one(SectionBar).show("findings" if self._section == "evidence" else self._section, counts)

    def begin_bus(self) -> None:
        """A bus begins to be listened to: nothing is known of it yet."""
        self.result, self._channel = None, ""
        self._opening(opening=False)
        self.action_section("findings")

    # Opening -----------------------------------------------------------------------------------------------------

    def open_path(self, path: str) -> None:
        """Read a capture and show what it says; whatever is being read is stopped."""
        if self.listening is not None:
            self.say("First stop listening: x.")
            return
        if self._reading is not None:
            self._reading.stop()
        self._reading = CaptureReading(path)
        self._read(self._reading)

    @work(group="reading", exclusive=True)
    async def _read(self, reading: CaptureReading) -> None:
        heading = self.query_one(TrafficHeading)
        heading.reading(reading.path, None, 0)
        told = partial(self.app.call_from_thread, heading.reading, reading.path)
        try:
            result = await asyncio.to_thread(reading.run, told)
            await asyncio.to_thread(keep_recent, Path(reading.path))
            self._channel, self._section = "", "findings"
            self.show(result)
            self.action_section("findings")
            self.shell.ring()
        except LinkcheckError as error:
            self.fail(error)
        finally:
            if self._reading is reading:
                self._reading = None
                heading.read_over()
                self.refresh_bindings()

    def _opening(self, *, opening: bool) -> None:
        self.set_class(opening, "-opening")
        self.set_class(not opening, "-result")
        if opening:
            self.query_one(PathField).value = ""
            self.query_one(Opener).refresh_choices()
            self.query_one(PathField).focus()

    @on(Opener.Chosen)
    def _open_chosen(self, event: Opener.Chosen) -> None:
        self.open_path(event.path)

    def on_paste(self, event: events.Paste) -> None:
        """A file dragged anywhere into the window."""
        path = cleaned(event.text)
        if path and Path(path).expanduser().is_file():
            self.open_path(str(Path(path).expanduser()))

    # What keys do ------------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys that mean nothing now are not shown."""
        if not self.is_mounted or not super().check_action(action, parameters):
            return not self.is_mounted
        showing = self.result is not None and self.has_class("-result")
        match action:
            case "into_job" | "copy" | "section":
                return showing
            case "filter" | "sort":
                return showing and self._table is not None
            case "bus":
                return self._reading is None
            case "channel":
                return showing and self.result is not None and len(self.result.channels) > 1
        return True

    @property
    def _table(self) -> ResultTable | None:
        """The table that is shown, if it is one."""
        found = self.query(f"#{self._section}").results(ResultTable)
        return next(iter(found), None)

    def action_open(self) -> None:
        """Choose a capture."""
        self._opening(opening=True)

    def action_section(self, name: str) -> None:
        """Show a section, and put the focus there."""
        self._section = name
        for section in (*SECTIONS, "evidence"):
            box = self.query_one("#evidence-box" if section == "evidence" else f"#{section}")
            box.set_class(section == name, "-shown")
        self.set_class(name in ("findings", "evidence"), "-in-findings")
        self.set_class(name in ("load", "errors"), "-in-charts")
        self._name_sections()
        self.query_one("#filter").display = self._table is not None and bool(self._table.wanted)
        self.query_one(FOCUS.get(name, f"#{name}")).focus()
        self.refresh_bindings()

    @on(SectionBar.Wanted)
    def _section_wanted(self, event: SectionBar.Wanted) -> None:
        self.action_section(event.name)

    def action_channel(self) -> None:
        """The next interface."""
        names = list(self.result.channels) if self.result else []
        if names:
            self._channel = names[(names.index(self._channel) + 1) % len(names)]
            self._draw()

    def action_leave(self) -> None:
        """Out of whatever one is in: reading, path field, filter, evidence."""
        table = self._table
        if self._reading is not None:
            self._reading.stop()
        elif self.has_class("-opening"):
            if self.result is not None:
                self._opening(opening=False)
                self.action_section(self._section)
        elif table is not None and (table.wanted or self.query_one("#filter").has_focus):
            self.query_one("#filter", Input).value = ""
            self.query_one("#filter").display = False
            table.filter("")
            table.focus()
        elif self._section == "evidence":
            self.action_section("findings")

    # Findings ----------------------------------------------------------------------------------------------------

    @on(OptionList.OptionHighlighted, "#findings")
    def _finding_chosen(self) -> None:
        chosen = self.query_one(FindingList).chosen
        channel = self.result.channels.get(chosen[0]) if self.result and chosen else None
        self.query_one(Evidence).show(chosen, (channel.first_s if channel else None) or 0.0)

    @on(OptionList.OptionSelected, "#findings")
    def _finding_opened(self) -> None:
        self.action_section("evidence")

    def on_key(self, event: events.Key) -> None:
        """Enter on the evidence goes to where its figures are."""
        chosen = self.query_one(FindingList).chosen
        if event.key == "enter" and isinstance(self.focused, Evidence) and chosen is not None:
            event.stop()
            self._show_where(*chosen)

    def _show_where(self, channel: str, finding: Finding) -> None:
        from linkcheck.traffic.words import shown_in  # noqa: PLC0415  core, when it is needed

        if channel and channel != self._channel:
            self._channel = channel
            self._draw()
        where = shown_in(finding)
        self.action_section(where)
        address = finding.evidence.get("address")
        if isinstance(address, int):
            if where == "who":
                self.query_one(WhoStrips).find(address)
            elif where == "addresses":
                self.query_one(AddressTable).open(address)

    @on(OptionList.OptionSelected, "#who")
    def _address_wanted(self, event: OptionList.OptionSelected) -> None:
        self.action_section("addresses")
        self.query_one(AddressTable).open(int(str(event.option.id)))

    # Tables ------------------------------------------------------------------------------------------------------

    def action_sort(self) -> None:
        """Sort by the next column."""
        if self._table is not None:
            self.say(f"Sorted by {self._table.sort_next()}.")

    def action_filter(self) -> None:
        """Only rows with certain words."""
        if self._table is not None:
            field = self.query_one("#filter", Input)
            field.display = True
            field.value = self._table.wanted
            field.focus()

    @on(Input.Changed, "#filter")
    def _filter_typed(self, event: Input.Changed) -> None:
        if self._table is not None and event.input.has_focus:
            self._table.filter(event.value)

    @on(Input.Submitted, "#filter")
    def _filter_kept(self) -> None:
        if self._table is not None:
            self.query_one("#filter").display = bool(self._table.wanted)
            self._table.focus()

    # Out of here -------------------------------------------------------------------------------------------------

    @work
    async def action_into_job(self) -> None:
        """Take a finding, or the whole capture, into the open job."""
        from linkcheck.app.screens.traffic.into_job import events_for, rows_for  # noqa: PLC0415
        from linkcheck.app.widgets.dialog import Choose  # noqa: PLC0415

        desk, result = self.shell.desk, self.result
        if result is None:
            return
        chosen = self.query_one(FindingList).chosen
        try:
            name = desk.opened.intake.unit or f"job {desk.opened.id}"
            what = await self.app.push_screen_wait(Choose(f"Take what into {name}?", rows_for(result, chosen)))
            if what is None:
                return
            wanted, said = await asyncio.to_thread(events_for, what, result, chosen)
            await asyncio.to_thread(desk.add, *wanted)
            self.say(said)
        except LinkcheckError as error:
            self.fail(error)

    @work
    async def action_copy(self) -> None:
        """Copy out: the page, the finding, or everything as JSON."""
        from linkcheck.app.copying import copy_out  # noqa: PLC0415
        from linkcheck.app.screens.traffic.into_job import COPIES, copy_of  # noqa: PLC0415
        from linkcheck.app.settings import files_folder  # noqa: PLC0415
        from linkcheck.app.widgets.dialog import Choose  # noqa: PLC0415

        result = self.result
        if result is None:
            return
        what = await self.app.push_screen_wait(Choose("Copy out what?", COPIES))
        if what is None:
            return
        text, name = await asyncio.to_thread(copy_of, what, result, self.query_one(FindingList).chosen)
        try:
            self.say(copy_out(self.app, text, name, files_folder(self.shell.settings)))
        except LinkcheckError as error:
            self.fail(error)
