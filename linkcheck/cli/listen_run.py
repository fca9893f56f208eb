"""The run of `linkcheck listen`: opens the ports, loops until told to stop, prints the result."""

from __future__ import annotations

import argparse
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from linkcheck.cli import exit_codes
from linkcheck.cli.bus_words import bit_rate, expected
from linkcheck.cli.keys import Keys
from linkcheck.cli.listen import confirm, size_bytes
from linkcheck.cli.listen_screen import ListenScreen
from linkcheck.cli.output import say, width
from linkcheck.errors import DataError, LinkcheckError, UsageError
from linkcheck.live.port import PortRefusedError, PortSpec
from linkcheck.survey import CaptureFile
from linkcheck.survey.listening import (
    WIGGLE_LEAD,
    accepting,
    capture_ends,
    introduction,
    meter_readings,
    would_take_part,
)
from linkcheck.survey.live_capture import LiveCapture
from linkcheck.survey.recorder import Plan, Recorder
from linkcheck.traffic import Options, TrafficResult
from linkcheck.traffic.compare import Comparison, compare
from linkcheck.traffic.triggers import Triggers
from linkcheck.traffic.wiggle import WiggleWatch
from linkcheck.traffic.wiggle_sheet import MeterMinMax, WiggleSheet, wiggle_sheet

__all__ = ["listen"]


def listen(args: argparse.Namespace, specs: Sequence[PortSpec]) -> int:
    """Listen until told to stop. Returns the exit code."""
    meter = meter_readings(args.meter, "--meter") if args.meter else None
    earlier = CaptureFile(args.compare, Options()).run() if args.compare else None
    capture = _opened(args, specs)
    try:
        with _stop_signals() as stop, Keys() as keys:
            _introduce(capture, args, keys)
            _loop(capture, args, keys, stop)
    finally:
        capture.close()
    if args.wiggle and meter is None and sys.stdin.isatty() and not args.json:
        meter = _ask_meter()
    result = capture.result()
    sheet = wiggle_sheet(capture.watch, capture.started_ns, capture.now_ns, meter) if capture.watch else None
    comparison = compare(earlier, result) if earlier and result.channels else None
    _print(args, result, sheet, comparison)
    for line in capture_ends(capture, result):
        say(line)
    wrong = any(f.severity == "fault" for channel in result.channels.values() for f in channel.findings)
    return exit_codes.FAULT_FOUND if args.strict and (wrong or not result.channels) else exit_codes.OK


def _opened(args: argparse.Namespace, specs: Sequence[PortSpec]) -> LiveCapture:
    expect, system_volts = expected(args.expect, args.network) if args.expect else (None, None)
    options = Options(bit_rate=bit_rate(args.bit_rate, "--bit-rate"), expect=expect, system_volts=system_volts)
    triggers = Triggers(frozenset(args.trigger)) if args.trigger else None
    if (args.trigger or args.rotate or args.keep) and not args.record:
        raise UsageError("--trigger, --rotate and --keep say how to record.", todo="Add --record FILE.")
    plan = None
    if args.record:
        rotate = size_bytes(args.rotate)
        plan = Plan(args.record, rotate, args.keep, bool(args.trigger), args.before, args.after)

    def start(ports: Sequence[PortSpec]) -> LiveCapture:
        return LiveCapture(
            ports,
            options,
            watch=WiggleWatch() if args.wiggle else None,
            triggers=triggers,
            reconnect=not args.no_reconnect,
        )

    try:
        capture = start(specs)
    except PortRefusedError as error:
        question = would_take_part(error, specs)
        if question is None or not confirm(question):
            raise
        capture = start(accepting(error, specs))
    try:
        capture.recorder = Recorder(plan) if plan else None
    except LinkcheckError:
        capture.close()
        raise
    return capture


def _introduce(capture: LiveCapture, args: argparse.Namespace, keys: Keys) -> None:
    for line in introduction(capture):
        say(line)
    if args.wiggle:
        say(WIGGLE_LEAD)
    if keys.here:
        say("m mark   r reconnect   l learn again   q end")


def _loop(capture: LiveCapture, args: argparse.Namespace, keys: Keys, stop: list[int]) -> None:
    screen = ListenScreen(capture, bell=not args.no_bell)
    marks = 0
    until_ns = None if args.seconds is None else capture.started_ns + int(args.seconds * 1e9)
    while not stop and (until_ns is None or capture.now_ns < until_ns):
        step = capture.step()
        screen.alarm(step.alarms)
        for event in step.events:
            screen.event(event)
        for key in keys.pressed():
            if key in "qQ":
                stop.append(0)
            elif key in "mM ":
                marks += 1
                screen.event(capture.mark(f"mark {marks}"))
            elif key in "rR":
                capture.listener.reconnect()
            elif key in "lL" and capture.watch is not None:
                capture.watch.learn_again()
                screen.event(capture.mark("learning again: hold still"))
        screen.status()
    screen.clear()


@contextmanager
def _stop_signals() -> Iterator[list[int]]:
    """A list that gets the signals which ask us to end; the capture is then closed in order."""
    stop: list[int] = []
    names = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(name, lambda number, _frame: stop.append(number)) for name in names}
    try:
        yield stop
    finally:
        for name, action in before.items():
            signal.signal(name, action)


def _ask_meter() -> MeterMinMax | None:
    while True:
        print("Readings of a min/max meter, lowest and highest (enter for none): ", end="", file=sys.stderr, flush=True)
        text = sys.stdin.readline().strip()
        if not text:
            return None
        try:
            return meter_readings(text, "--meter")
        except (UsageError, DataError) as error:
            say(error.sentence)


def _print(
    args: argparse.Namespace, result: TrafficResult, sheet: WiggleSheet | None, comparison: Comparison | None
) -> None:
    if args.json:
        import msgspec  # noqa: PLC0415  # the page needs it not

        whole: dict[str, Any] = msgspec.to_builtins(result)
        if sheet is not None:
            whole["wiggle"] = msgspec.to_builtins(sheet)
        if comparison is not None:
            whole["comparison"] = msgspec.to_builtins(comparison)
        sys.stdout.buffer.write(msgspec.json.format(msgspec.json.encode(whole), indent=1) + b"\n")
        return
    from linkcheck.traffic.compare_page import comparison_page  # noqa: PLC0415
    from linkcheck.traffic.page import page  # noqa: PLC0415
    from linkcheck.traffic.wiggle_page import wiggle_page  # noqa: PLC0415

    print(page(result, width(), everything=args.all))
    if sheet is not None:
        print("\n" + wiggle_page(sheet, width()))
    if comparison is not None:
        print("\n" + comparison_page(comparison, width()))
