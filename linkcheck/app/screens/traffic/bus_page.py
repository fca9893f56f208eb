"""The half of the traffic page that listens to a bus: its keys, its questions, and what the listening thread tells.

It knows no sections: what it hears goes to `show`, as a capture from a file does. The screen never waits for the bus.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.binding import BindingType
from textual.message import Message

from linkcheck.app.keys import key
from linkcheck.app.page import Page
from linkcheck.app.screens.traffic.bus_strip import BusStrip
from linkcheck.app.widgets.dialog import AskLine, Read
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from linkcheck.app.screens.traffic.bus_listening import BusListening, Ending, Told, WatchOver
    from linkcheck.live.port import PortSpec
    from linkcheck.traffic.result import TrafficResult
    from linkcheck.traffic.wiggle_sheet import MeterMinMax

__all__ = ["BusPage"]

SHEET_COLUMNS = 64  # inside the window of a text, at 80 columns


class BusPage(Page):
    """What listens.

    Attributes:
        listening: to a bus just now; None otherwise.

    """

    BINDINGS: ClassVar[list[BindingType]] = [
        key("traffic.bus", "b", "bus", "Bus", "Listen to a live bus", footer=True),
        key("traffic.bus_typing", "ctrl+l", "bus", "Bus", "Listen to a live bus, while a path is typed", footer=True),
        key("traffic.stop", "x", "stop", "Stop", "Stop listening; what was heard stays", footer=True),
        key("traffic.mark", "m", "mark", "Mark", "Set a mark at this moment", footer=True),
        key("traffic.to_file", "f", "to_file", "File", "Record to a file, or end the record", footer=True),
        key("traffic.wiggle", "g", "wiggle", "Wiggle", "Watch a harness being moved, with the bell", footer=True),
        key("traffic.reconnect", "n", "reconnect", "Reconnect", "Try a lost interface again now"),
        key("traffic.learn", "l", "learn", "Learn", "Learn the addresses' habits again: hold still"),
    ]

    class Heard(Message):
        """Something came from the listening thread."""

        def __init__(self, told: Told) -> None:
            super().__init__()
            self.told = told

    def __init__(self) -> None:
        super().__init__()
        self.listening: BusListening | None = None
        self._asking = False
        self._recording = False

    def show(self, result: TrafficResult) -> None:
        """Show a result, or a newer one of the same source."""
        raise NotImplementedError

    def begin_bus(self) -> None:
        """A bus begins to be listened to: what was shown before makes room."""
        raise NotImplementedError

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002  as it is
        """Keys that mean nothing now are not shown."""
        match action:
            case "stop" | "mark" | "to_file" | "wiggle" | "reconnect" | "learn":
                return self.listening is not None
            case "bus":
                return self.listening is None and not self._asking
            case "open" | "into_job" | "copy":
                return self.listening is None
        return True

    def on_unmount(self) -> None:
        """The page goes: leave the bus."""
        if self.listening is not None:
            self.listening.stop()

    # Keys --------------------------------------------------------------------------------------------------------

    @work(group="bus", exclusive=True)
    async def action_bus(self) -> None:
        """Ask for an interface, open it, and listen."""
        from linkcheck.app.screens.traffic.bus_asking import ask_port, opened  # noqa: PLC0415

        self._asking = True
        try:
            spec = await ask_port(self.shell)
            capture = None if spec is None else await opened(self.shell, spec)
            if spec is not None and capture is not None:
                from linkcheck.app.screens.traffic.bus_listening import BusListening  # noqa: PLC0415  numpy

                self.listening = BusListening(capture, self._tell)
                self._begin(self.listening, spec)
        except LinkcheckError as error:
            self.fail(error)
        finally:
            self._asking = False
            self.refresh_bindings()

    def action_stop(self) -> None:
        """Stop listening."""
        if self.listening is not None:
            self.listening.stop()

    def action_mark(self) -> None:
        """Set a mark."""
        if self.listening is not None:
            self.listening.mark()

    def action_wiggle(self) -> None:
        """Begin or end a wiggle watch."""
        if self.listening is not None:
            self.listening.watch()

    def action_reconnect(self) -> None:
        """Try a lost port now."""
        if self.listening is not None:
            self.listening.reconnect()

    def action_learn(self) -> None:
        """Learn again."""
        if self.listening is not None:
            self.listening.learn_again()

    @work(group="to_file", exclusive=True)
    async def action_to_file(self) -> None:
        """Begin or end a record."""
        listening = self.listening
        if listening is None:
            return
        if self._recording:
            listening.end_record()
            return
        words = "Record to which file? A candump log; .zst at its end compresses."
        path = await self.app.push_screen_wait(AskLine(words, placeholder="drive.log"))
        if path:
            listening.record(path)

    # Listening ---------------------------------------------------------------------------------------------------

    def _begin(self, listening: BusListening, spec: PortSpec) -> None:
        self.add_class("-live")
        self.query_one(BusStrip).begin()
        self.begin_bus()
        self._listen(listening, f"{spec.interface}:{spec.channel}")

    @work(group="listening", exclusive=True)
    async def _listen(self, listening: BusListening, name: str) -> None:
        try:
            ending = await asyncio.to_thread(listening.run)
            self._ended(ending, name)
        except LinkcheckError as error:
            self.fail(error)
        finally:
            self.listening, self._recording = None, False
            self.remove_class("-live")
            self.refresh_bindings()

    def _tell(self, told: Told) -> None:
        self.post_message(self.Heard(told))  # from the listening thread: does not wait for the screen

    @on(Heard)
    def _heard(self, event: Heard) -> None:
        from linkcheck.app.screens.traffic.bus_listening import News, Snapshot  # noqa: PLC0415  numpy

        told, strip, listening = event.told, self.query_one(BusStrip), self.listening
        if isinstance(told, Snapshot):
            if listening is None:
                return  # it has ended, and its last result is shown
            self._recording = bool(told.recording)
            strip.show(told)
            self.show(told.result)
            listening.taken()
        elif isinstance(told, News):
            if told.alarm:
                self.app.bell()
            if told.error is not None:
                self.fail(told.error)
            strip.add(told)
        else:
            self._sum_up(told)

    def _ended(self, ending: Ending, name: str) -> None:
        self.show(ending.result)
        lines = [f"Stopped listening to {name}.", *ending.lines]
        if ending.watch is not None:
            self._sum_up(ending.watch, lines)
        else:
            self.say("\n".join(lines))

    @work(group="sheet")
    async def _sum_up(self, over: WatchOver, lines: Sequence[str] = ()) -> None:
        """The list of a wiggle watch, with a meter's readings where there are any, above how the listening ended."""
        from linkcheck.traffic.wiggle_page import wiggle_page  # noqa: PLC0415
        from linkcheck.traffic.wiggle_sheet import wiggle_sheet  # noqa: PLC0415

        meter = await self._ask_meter()
        sheet = await asyncio.to_thread(wiggle_sheet, over.watch, over.start_ns, over.end_ns, meter)
        text = "\n\n".join([f"```\n{wiggle_page(sheet, SHEET_COLUMNS)}\n```", *lines])
        await self.app.push_screen_wait(Read(text))

    async def _ask_meter(self) -> MeterMinMax | None:
        from linkcheck.survey.listening import meter_readings  # noqa: PLC0415  quantities

        words = "A min/max meter's two readings, lowest and highest? Empty for none."
        while text := await self.app.push_screen_wait(AskLine(words, placeholder="11.8 12.6")):
            try:
                return meter_readings(text)
            except LinkcheckError as error:
                self.fail(error)
        return None
