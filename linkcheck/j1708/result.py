"""The result of analysing a J1708 link: plain values, ready for a page or for JSON (schema `linkcheck.j1708/1`)."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from linkcheck.j1708.meter import J1708Meter

__all__ = ["SCHEMA", "FaultRow", "Finding", "LinkResult", "Load", "ParameterRow", "SenderRow", "ValueRow"]

SCHEMA = "linkcheck.j1708/1"


class Load(msgspec.Struct, frozen=True):
    """Share of time the link carries bytes (0-1): over all, and in the worst second; None where no time is known."""

    mean: float | None
    peak_1s: float | None


class ParameterRow(msgspec.Struct, frozen=True):
    """One parameter of one sender; `period_ms` is the median of a sample of its gaps."""

    pid: int
    name: str
    count: int
    period_ms: float | None


class SenderRow(msgspec.Struct, frozen=True):
    """Who sends: messages, share of the bytes, seconds of the first and last message and of the longest silence."""

    mid: int
    name: str
    messages: int
    share_of_bytes: float
    first_s: float
    last_s: float
    longest_silence_s: float
    parameters: list[ParameterRow]


class FaultRow(msgspec.Struct, frozen=True):
    """An entry of a fault list; `number` is a SID where `subsystem` is set, else a PID."""

    mid: int
    number: int
    subsystem: bool
    fmi: int
    active: bool
    count: int | None
    link: bool
    text: str
    first_s: float
    last_s: float


class ValueRow(msgspec.Struct, frozen=True):
    """A figure sent by a module."""

    mid: int
    pid: int
    name: str
    unit: str
    first: float
    last: float
    minimum: float
    maximum: float


class Finding(msgspec.Struct, frozen=True):
    """What a colleague would say: how sure (0-1), in a sentence, from which figures, and what to check next."""

    finding: str
    severity: Literal["fault", "watch", "note"]
    certainty: float
    text: str
    evidence: dict[str, Any]
    check_next: str


class LinkResult(msgspec.Struct, frozen=True, kw_only=True):
    """Everything about one link.

    Attributes:
        source: account of the log (path, format, lines, skipped, notes). partial: stopped early.
        expected: MIDs that should be on the link, as the user said.
        bytes, messages: heard. mended: messages the stamps did not frame. too_long: messages of more than 21 bytes.
        damaged: bursts that are no message, by kind. collisions: lone bytes that are two senders' MIDs on top of each
            other. driven_share: share of time the link is driven (logic 0). meter: what F and G read for it.

    """

    schema: str = SCHEMA
    partial: bool = False
    source: dict[str, Any]
    expected: list[int]
    bit_rate: int
    first_s: float | None
    last_s: float | None
    bytes: int
    messages: int
    mended: int
    too_long: int
    damaged: dict[str, int]
    collisions: int
    bus_load: Load
    driven_share: float | None
    meter: J1708Meter | None
    senders: list[SenderRow]
    faults: list[FaultRow]
    values: list[ValueRow]
    findings: list[Finding]
