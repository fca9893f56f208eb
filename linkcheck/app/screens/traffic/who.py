"""Who talks when: a strip for each address over the whole recording."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import events
from textual.content import Content
from textual.widgets import OptionList
from textual.widgets.option_list import Option

if TYPE_CHECKING:
    from linkcheck.traffic.result import ChannelResult, SourceRow

__all__ = ["WhoStrips"]

NAME, LONG_NAME, GAP = 20, 32, 9
LEAST_CELLS = 12
WIDE = 100  # columns from which names stand in full


class WhoStrips(OptionList):
    """The strips; enter on one shows the address with its PGNs."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id, markup=False)
        self._channel: ChannelResult | None = None

    def show(self, channel: ChannelResult) -> None:
        """Show a channel; the cursor stays on its row."""
        row, self._channel = self.highlighted, channel
        self.clear_options()
        self.add_options(Option(line, id=str(address)) for address, line in self._strips(channel))
        if channel.source_addresses:
            self.add_option(Option(self._axis(channel), disabled=True))
            self.highlighted = min(row or 0, len(channel.source_addresses) - 1)
        else:
            self.add_option(Option("· No J1939 address was heard.", disabled=True))

    def _axis(self, channel: ChannelResult) -> Content:
        room = LONG_NAME if self.size.width >= WIDE else NAME
        cells = max(LEAST_CELLS, self.size.width - room - GAP - 9)
        seconds = f"{(channel.last_s or 0.0) - (channel.first_s or 0.0):,.0f} s"
        return Content.styled(f"{'':{room + 4}}0 s{seconds:>{cells - 3}}  longest gap", "$foreground-muted")

    def find(self, address: int) -> None:
        """Put the cursor on an address."""
        sources = self._channel.source_addresses if self._channel else []
        for row, source in enumerate(sources):
            if source.address == address:
                self.highlighted = row

    def on_resize(self, event: events.Resize) -> None:  # noqa: ARG002  as the base class has it
        """Strips are as long as there is room."""
        if self._channel is not None:
            self.show(self._channel)

    def _strips(self, channel: ChannelResult) -> list[tuple[int, Content]]:
        from linkcheck.traffic.plots import SILENT, strip  # noqa: PLC0415  core, when it is needed
        from linkcheck.traffic.words import silences_of  # noqa: PLC0415

        span = (channel.first_s or 0.0, channel.last_s or 0.0)
        room = LONG_NAME if self.size.width >= WIDE else NAME
        cells = max(LEAST_CELLS, self.size.width - room - GAP - 9)

        def line(source: SourceRow) -> Content:
            marks = strip(source.first_s, source.last_s, silences_of(channel, source), span, cells)
            parts = [Content.styled(f"{source.address:02X} ", "bold"), Content(f"{source.name[:room]:<{room}} ")]
            parts += [Content.styled(mark, "bold $error" if mark == SILENT else "$success") for mark in marks]
            return Content("").join([*parts, Content(f" {source.longest_silence_s:>{GAP - 2}.2f} s")])

        return [(source.address, line(source)) for source in channel.source_addresses]
