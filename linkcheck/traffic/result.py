"""The analysis as values: what `linkcheck replay --json` prints, field for field, and what every face draws.

Times in seconds (`_s`) are on the recording's own clock, segments laid end to end. Loads and shares are 0-1. A figure
that the capture cannot carry is None, never a guess.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from linkcheck.traffic.bit_rate import BitRate
from linkcheck.traffic.meter import MeterVolts

__all__ = [
    "SCHEMA",
    "Activity",
    "BusLoad",
    "ChannelResult",
    "Claim",
    "ErrorSummary",
    "Finding",
    "IncidentRow",
    "LoadSeries",
    "PgnRow",
    "RequestRow",
    "SignalRow",
    "SilenceSummary",
    "SourceRow",
    "SpellRow",
    "StandardRow",
    "StateRow",
    "TrafficResult",
    "TransportSummary",
    "TroubleCodeRow",
]

SCHEMA = "linkcheck.traffic/1"


@dataclass(frozen=True, slots=True)
class LoadSeries:
    """Load over time for plots: mean and largest 100 ms window of each step."""

    start_s: float
    step_s: float
    mean: list[float]
    peak_100ms: list[float]


@dataclass(frozen=True, slots=True)
class BusLoad:
    """Bus load; peaks over complete windows laid from the first frame, and where the worst second began."""

    mean: float | None
    peak_100ms: float | None
    peak_1s: float | None
    peak_1s_at_s: float | None
    series: LoadSeries | None


@dataclass(frozen=True, slots=True)
class PgnRow:
    """One PGN of one address. Period is the median gap; jitter half the width of the middle 90 % of gaps."""

    pgn: int
    name: str
    frames: int
    period_ms: float | None
    jitter_ms: float | None
    nominal_ms: float | None
    missed: int
    first_s: float
    last_s: float


@dataclass(frozen=True, slots=True)
class Claim:
    """A NAME claimed for an address."""

    name: str
    count: int
    first_s: float
    fields: dict[str, int]


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One source address: who it is by the standard, and what it did."""

    address: int
    name: str
    frames: int
    share_of_bits: float
    first_s: float
    last_s: float
    longest_silence_s: float
    claims: list[Claim]
    pgns: list[PgnRow]


@dataclass(frozen=True, slots=True)
class StandardRow:
    """One 11-bit identifier beside the J1939 traffic; not decoded."""

    identifier: int
    frames: int
    period_ms: float | None


@dataclass(frozen=True, slots=True)
class StateRow:
    """A change of the recorder's controller state."""

    at_s: float
    state: str


@dataclass(frozen=True, slots=True)
class ErrorSummary:
    """Error frames, counted by what they report."""

    total: int
    by_class: dict[str, int]
    by_protocol: dict[str, int]
    by_location: dict[str, int]
    by_transceiver: dict[str, int]
    by_controller: dict[str, int]
    surrounding: dict[str, int]
    states: list[StateRow]
    tx_errors_max: int | None
    rx_errors_max: int | None
    first_s: float | None
    last_s: float | None
    peak_per_second: int | None
    series: list[int]
    series_step_s: float | None


@dataclass(frozen=True, slots=True)
class TroubleCodeRow:
    """A trouble code as reported over the capture. `network` says what it means for the data link, if anything."""

    source_address: int
    spn: int
    fmi: int
    count: int | None
    text: str
    active: bool
    lamps: dict[str, str]
    first_s: float
    last_s: float
    network: str | None


@dataclass(frozen=True, slots=True)
class TransportSummary:
    """Multi-packet messages."""

    completed: int
    aborted: int
    incomplete: int
    timed_out: int
    packets_without_start: int
    shortest_bam_gap_ms: float | None
    abort_reasons: dict[str, int]


@dataclass(frozen=True, slots=True)
class RequestRow:
    """Requests for one PGN from one address, and how many went without an answer."""

    requester: int
    destination: int
    pgn: int
    name: str
    requests: int
    answered: int
    refused: int
    unanswered: int


@dataclass(frozen=True, slots=True)
class SignalRow:
    """One physical signal of one address. Values are None where no valid one was seen."""

    source_address: int
    pgn: int
    unit: str
    samples: int
    valid: int
    errors: int
    not_available: int
    first: float | None
    last: float | None
    minimum: float | None
    maximum: float | None
    mean: float | None
    engine_off: float | None


@dataclass(frozen=True, slots=True)
class SpellRow:
    """A silence longer than chance explains; `end_s` is None where the address never came back."""

    address: int
    start_s: float
    end_s: float | None
    length_s: float
    cycles_lost: int


@dataclass(frozen=True, slots=True)
class IncidentRow:
    """Silences that overlap; `bus_wide` when (nearly) everybody was silent."""

    start_s: float
    end_s: float
    addresses: list[int]
    bus_wide: bool


@dataclass(frozen=True, slots=True)
class SilenceSummary:
    """Who fell silent, when, and who belongs together."""

    spells: list[SpellRow]
    incidents: list[IncidentRow]
    together: list[list[int]]
    bus_gaps: list[SpellRow]


@dataclass(frozen=True, slots=True)
class Activity:
    """What kinds of frames a channel carried."""

    data: int
    remote: int
    error: int
    fd: int
    extended: int
    standard: int


@dataclass(frozen=True, slots=True)
class Finding:
    """What a good colleague would say. `severity`: fault (something is wrong), watch (look at it), note."""

    finding: str
    severity: str
    certainty: float
    text: str
    check_next: str
    evidence: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ChannelResult:
    """Everything about one channel."""

    frames: int
    first_s: float | None
    last_s: float | None
    kinds: Activity
    bit_rate: BitRate
    wire_bits: int
    dominant_bits: int
    dominant_share: float | None
    bus_load: BusLoad
    meter: MeterVolts | None
    error_frames: ErrorSummary
    source_addresses: list[SourceRow]
    standard_identifiers: list[StandardRow]
    silence: SilenceSummary
    trouble_codes: list[TroubleCodeRow]
    transport: TransportSummary
    requests: list[RequestRow]
    signals: dict[str, SignalRow]
    findings: list[Finding]


@dataclass(frozen=True, slots=True)
class TrafficResult:
    """The whole answer. `source` is the reader's account; `partial` tells that the analysis was stopped early."""

    schema: str
    source: dict[str, Any]
    partial: bool
    channels: dict[str, ChannelResult]
    findings: list[Finding]
