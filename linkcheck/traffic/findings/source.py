"""Findings about the recording itself: lines lost, damaged or out of time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from linkcheck.traffic.result import Finding
from linkcheck.traffic.timeline import Timeline

__all__ = ["source_findings"]


def source_findings(source: dict[str, Any], timeline: Timeline) -> list[Finding]:
    """What to know about the recording before trusting figures from it."""
    return [*_lost(source), *_damaged(source), *_clock(timeline)]


def _lost(source: dict[str, Any]) -> Iterator[Finding]:
    dropped = source.get("dropped", 0)
    if dropped:
        yield Finding(
            "recorder_lost_frames",
            "watch",
            1.0,
            f"The recorder itself says it lost {dropped:,} frames. Loads are too low by that much, and a silence may "
            "be the recorder's.",
            "Record again with a faster interface or computer before trusting silences.",
            {"dropped": dropped},
        )


def _damaged(source: dict[str, Any]) -> Iterator[Finding]:
    skipped, lines = source.get("skipped", 0), source.get("lines", 0)
    if skipped:
        first = source["skipped_lines"][0]
        yield Finding(
            "damaged_lines",
            "note",
            1.0,
            f"{skipped:,} of {lines:,} lines could not be read; the first is line {first['line']}: {first['reason']}.",
            "Nothing to check at the truck: the file is damaged or holds remarks.",
            {"skipped": skipped, "lines": lines},
        )


def _clock(timeline: Timeline) -> Iterator[Finding]:
    if timeline.seam_count:
        steps = [seam.step_ns / 1e9 for seam in timeline.seams[:5]]
        yield Finding(
            "clock_restarts",
            "note",
            1.0,
            f"The recorder's clock was set, or another recording begins, {timeline.seam_count} times. The parts are "
            "laid end to end; nothing is reckoned across the seams.",
            "Compare times with the recorder's own log before quoting them.",
            {"seams": timeline.seam_count, "first_frames": [s.frame for s in timeline.seams[:5]], "steps_s": steps},
        )
    if timeline.small_steps_back:
        yield Finding(
            "time_steps_back",
            "note",
            1.0,
            f"Time goes back {timeline.small_steps_back:,} times by up to "
            f"{timeline.largest_small_step_ns / 1e6:.1f} ms: stamps were made late by a busy computer.",
            "Take single gaps from this file with a grain of salt; medians are sound.",
            {"steps": timeline.small_steps_back, "largest_ms": timeline.largest_small_step_ns / 1e6},
        )
