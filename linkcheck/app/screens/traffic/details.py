"""Words below the charts: what the load means for a meter, and errors by class, place and counters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

if TYPE_CHECKING:
    from linkcheck.traffic.result import ChannelResult

__all__ = ["ErrorDetails", "LoadDetails"]

STATES_SHOWN = 8


def _row(name: str, text: str) -> Content:
    return Content.assemble((f"{name}  ", "bold $accent"), text)


class LoadDetails(Static, can_focus=True):
    """Bit rate, and what a meter on the pair should read on this very traffic."""

    def show(self, channel: ChannelResult) -> None:
        """Show a channel's."""
        from linkcheck.traffic.words import meter_words, rate_words  # noqa: PLC0415  core, when it is needed

        lines = [_row("Bit rate", rate_words(channel)), _row("On a meter", meter_words(channel).replace("   ", " · "))]
        worst = channel.bus_load.peak_1s_at_s
        if worst is not None:
            lines.append(_row("Worst second", f"from {worst - (channel.first_s or 0.0):,.1f} s on"))
        self.update(Content("\n").join(lines))


class ErrorDetails(Static, can_focus=True):
    """Error frames by class, protocol, place and counters; and the controller's states."""

    def show(self, channel: ChannelResult) -> None:
        """Show a channel's."""
        errors = channel.error_frames
        groups = {
            "By class": errors.by_class,
            "By protocol violation": errors.by_protocol,
            "By place in the frame": errors.by_location,
            "Transceiver": errors.by_transceiver,
            "Controller": errors.by_controller,
            "They stand before frames of": errors.surrounding,
        }
        lines = [
            _row(name, ", ".join(f"{each} {count:,}" for each, count in rows.items()))
            for name, rows in groups.items()
            if rows
        ]
        if errors.states:
            zero = channel.first_s or 0.0
            told = [f"{row.state} at {row.at_s - zero:,.1f} s" for row in errors.states[:STATES_SHOWN]]
            more = len(errors.states) - STATES_SHOWN
            tail = f" and {more} more" if more > 0 else ""
            lines.append(_row("The recorder's own controller", ", ".join(told) + tail))
        self.update(Content("\n").join(lines) if lines else Content("No error frame says more."))
