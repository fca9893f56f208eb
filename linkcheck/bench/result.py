"""The outcome of a bench test as plain values (schema `linkcheck.bench/1`). Nothing here measures."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

__all__ = ["SCHEMA", "BenchResult", "Conditions", "Row", "Verdict"]

SCHEMA = "linkcheck.bench/1"

Verdict = Literal["pass", "fail", "not measured", "no verdict"]


class Row(msgspec.Struct, frozen=True):
    """One line of the sheet.

    Attributes:
        row: a short name for programs, stable. title: what was tried.
        verdict: "not measured" and "no verdict" say why in `note`.
        figure: what was measured, in words. limit: what it is held against. source: where the limit comes from.
        numbers: the figures for programs. note: what a reader must know. conditions: bit rate, direction, load.

    """

    row: str
    title: str
    verdict: Verdict
    figure: str
    limit: str
    source: str
    numbers: dict[str, Any] = {}
    note: str = ""
    conditions: str = ""


class Conditions(msgspec.Struct, frozen=True):
    """What the figures were measured with: both interfaces as they call themselves, host, seed, plan, time."""

    adapter: str
    identity: str
    partner: str
    partner_identity: str
    host: str
    started: str
    seed: int
    plan: str
    simulated: str = ""


class BenchResult(msgspec.Struct, frozen=True, kw_only=True):
    """A whole test. `partial`: it was stopped early."""

    schema: str = SCHEMA
    conditions: Conditions
    partial: bool = False
    rows: list[Row]

    @property
    def failed(self) -> list[Row]:
        """The rows that failed."""
        return [row for row in self.rows if row.verdict == "fail"]

    @property
    def verdict(self) -> str:
        """The whole test in a sentence. Two interfaces cannot test all that ISO 16845-1 asks, so no more is said."""
        tried = sum(row.verdict in ("pass", "fail") for row in self.rows)
        if self.failed:
            return f"FAILED: {len(self.failed)} of {tried} tests."
        return f"Passed all {tried} tests that were made." if tried else "Nothing could be tested."
