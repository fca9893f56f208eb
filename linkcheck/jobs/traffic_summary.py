"""What a job keeps of an analysed capture: the figures of `linkcheck.traffic/1` that a report needs, and no more.

Same names and meanings as there; PGNs, signals and silences one by one are left out, and the load over time is thinned
to `SERIES_POINTS`. Built from a `TrafficResult` or from the JSON that `linkcheck replay --json` printed.
"""

from __future__ import annotations

from typing import Any

import msgspec

from linkcheck.errors import DataError

__all__ = [
    "BitRateSummary",
    "ChannelSummary",
    "ErrorsSummary",
    "FindingSummary",
    "LoadSummary",
    "MeterSummary",
    "SeriesSummary",
    "SourceSummary",
    "TrafficSummary",
    "TroubleCodeSummary",
    "summary_of",
]

SCHEMA = "linkcheck.traffic/1"
SERIES_POINTS = 240  # a column every two to three pixels of the report's plot


class BitRateSummary(msgspec.Struct, frozen=True):
    """Bit rate in bit/s, and whether it was given, measured or assumed."""

    value: int | None
    basis: str


class SeriesSummary(msgspec.Struct, frozen=True):
    """Load over time, 0-1: mean and largest 100 ms window of each step."""

    start_s: float
    step_s: float
    mean: list[float]
    peak_100ms: list[float]

    def thinned(self, most: int) -> SeriesSummary:
        """At most so many steps; a longer step keeps the mean of means and the peak of peaks."""
        merge = -(-len(self.mean) // most)
        if merge <= 1:
            return self
        parts = range(0, len(self.mean), merge)
        mean = [round(sum(part) / len(part), 5) for k in parts if (part := self.mean[k : k + merge])]
        peak = [max(self.peak_100ms[k : k + merge]) for k in parts]
        return SeriesSummary(self.start_s, self.step_s * merge, mean, peak)


class LoadSummary(msgspec.Struct, frozen=True):
    """Bus load, 0-1."""

    mean: float | None
    peak_100ms: float | None
    peak_1s: float | None
    series: SeriesSummary | None = None


class MeterSummary(msgspec.Struct, frozen=True):
    """What a meter on the pair should read on this very traffic, in volts."""

    can_high_v: float
    can_low_v: float


class ErrorsSummary(msgspec.Struct, frozen=True):
    """Error frames, and the highest error counters seen."""

    total: int
    by_class: dict[str, int]
    tx_errors_max: int | None = None
    rx_errors_max: int | None = None


class SourceSummary(msgspec.Struct, frozen=True):
    """One source address. Silence in seconds."""

    address: int
    name: str
    frames: int
    longest_silence_s: float


class TroubleCodeSummary(msgspec.Struct, frozen=True):
    """A trouble code. `network` says what it means for the data link, if anything."""

    source_address: int
    spn: int
    fmi: int
    count: int | None
    text: str
    active: bool
    network: str | None = None


class FindingSummary(msgspec.Struct, frozen=True):
    """A finding: severity "fault", "watch" or "note"."""

    finding: str
    severity: str
    text: str
    check_next: str = ""


class ChannelSummary(msgspec.Struct, frozen=True):
    """One channel."""

    frames: int
    first_s: float | None
    last_s: float | None
    bit_rate: BitRateSummary
    bus_load: LoadSummary
    error_frames: ErrorsSummary
    source_addresses: list[SourceSummary]
    trouble_codes: list[TroubleCodeSummary]
    findings: list[FindingSummary]
    meter: MeterSummary | None = None


class Source(msgspec.Struct, frozen=True):
    """The file, and the reader's account of it."""

    path: str
    format: str
    frames: int
    skipped: int = 0


class TrafficSummary(msgspec.Struct, frozen=True):
    """A whole capture; `partial` tells that the analysis was stopped early."""

    schema: str
    source: Source
    channels: dict[str, ChannelSummary]
    partial: bool = False
    findings: list[FindingSummary] = []


def summary_of(result: Any) -> TrafficSummary:  # noqa: ANN401  a TrafficResult, or its JSON as a dict
    """The summary of a `TrafficResult`, or of the same decoded from JSON.

    Raises:
        DataError: it is neither.

    """
    try:
        whole = msgspec.convert(msgspec.to_builtins(result), TrafficSummary)
    except (msgspec.ValidationError, TypeError) as error:
        raise DataError(f"This is no analysis of a capture ({SCHEMA}): {error}.") from error
    if whole.schema != SCHEMA:
        raise DataError(f"This analysis is {whole.schema}, not {SCHEMA}.")
    return msgspec.structs.replace(whole, channels={name: _thin(each) for name, each in whole.channels.items()})


def _thin(channel: ChannelSummary) -> ChannelSummary:
    load = channel.bus_load
    if load.series is None:
        return channel
    return msgspec.structs.replace(
        channel, bus_load=msgspec.structs.replace(load, series=load.series.thinned(SERIES_POINTS))
    )
