"""`linkcheck replay` on a byte log of a J1708 link: read, analyse, print. The page itself is in `j1708_page`."""

from __future__ import annotations

import argparse
import dataclasses
import sys
from collections.abc import Iterable
from typing import Any

from linkcheck.cli import exit_codes
from linkcheck.cli.j1708_page import page
from linkcheck.cli.output import Progress, say, width
from linkcheck.j1708.link import LinkAnalysis
from linkcheck.j1708.result import LinkResult
from linkcheck.readers.byte_log import ByteLog

__all__ = ["replay_link", "show"]

_OF_FRAMES = {"bit_rate": "--bit-rate", "fast_bit_rate": "--fast-bit-rate", "channel": "--channel"}


def replay_link(log: ByteLog, args: argparse.Namespace, expected: Iterable[int]) -> int:
    """Analyse a log and print the answer; ctrl+c ends with what is known so far."""
    ignored = [option for name, option in _OF_FRAMES.items() if getattr(args, name) is not None]
    if ignored:
        say(f"{', '.join(ignored)}: of no use on a J1708 link, and ignored.")
    analysis = LinkAnalysis(expected)
    progress = Progress(f"reading {log.path}", "bytes")
    stopped = False
    try:
        _read(log, analysis, progress, args.from_s, args.to_s)
    except KeyboardInterrupt:
        stopped = True
    finally:
        log.close()
        progress.clear()
    if stopped:
        say("Stopped; this is what is known so far.")
    return show(analysis.result(_account(log), partial=stopped), as_json=args.json, every=args.all, strict=args.strict)


def show(result: LinkResult, *, as_json: bool, every: bool, strict: bool) -> int:
    """Print a result; the exit code."""
    if as_json:
        import msgspec  # noqa: PLC0415

        sys.stdout.buffer.write(msgspec.json.format(msgspec.json.encode(result), indent=1) + b"\n")
    else:
        print(page(result, width(), everything=every))
    wrong = any(finding.severity == "fault" for finding in result.findings)
    return exit_codes.FAULT_FOUND if strict and wrong else exit_codes.OK


def _read(log: ByteLog, analysis: LinkAnalysis, progress: Progress, from_s: float | None, to_s: float | None) -> None:
    first_ns: int | None = None
    for number, (end_ns, data) in enumerate(log.chunks()):
        first_ns = end_ns if first_ns is None else first_ns
        seconds = (end_ns - first_ns) / 1e9
        if (from_s is None or seconds >= from_s) and (to_s is None or seconds <= to_s):
            analysis.feed(end_ns, data)
        if number % 1000 == 0:
            progress.update(log.progress, analysis.bytes)
    analysis.finish()


def _account(log: ByteLog) -> dict[str, Any]:
    tally = log.tally
    return {
        "path": log.path,
        "format": log.format,
        "lines": tally.lines,
        "lines_with_bytes": tally.frames,
        "skipped": tally.skipped,
        "comments": tally.comments,
        "skipped_lines": [dataclasses.asdict(skip) for skip in tally.skipped_lines],
        "notes": list(tally.notes),
    }
