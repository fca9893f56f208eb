"""Analyse a recorded bus: load, errors, who talks and who fell silent, codes, sensors, and what to check next.

Reads candump logs and console output, TRC, ASC, BLF, MF4, CSV and more, plain or as gz or zst; "-" is standard input.
A byte log of a J1708 link (lines of a time in seconds and bytes in hexadecimal) is told by its content.
Ctrl+c ends with what is known so far.
"""

from __future__ import annotations

import argparse
import sys

from linkcheck.cli import exit_codes
from linkcheck.cli.bus_words import bit_rate, expected
from linkcheck.cli.output import Progress, say, width

NAME = "replay"
HELP = "analyse a recorded capture, from file to verdict"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `linkcheck replay`."""
    parser.add_argument("file", metavar="FILE", help='the capture, or "-" for standard input')
    parser.add_argument(
        "--json", action="store_true", help="print the whole result as JSON (schema linkcheck.traffic/1)"
    )
    parser.add_argument("--bit-rate", metavar="N", help="bit rate of the bus, e.g. 250k; measured when left out")
    parser.add_argument("--fast-bit-rate", metavar="N", help="bit rate of the CAN FD data phase")
    parser.add_argument(
        "--expect",
        metavar="WHO",
        help="addresses that should talk (0,3,11 or 0x00,0x0B), or a vehicle file (.toml, or a shipped one's name)",
    )
    parser.add_argument(
        "--network", type=int, default=1, metavar="N", help="the vehicle file's network that was recorded (default 1)"
    )
    parser.add_argument("--strict", action="store_true", help="leave with exit code 1 when something is wrong")
    parser.add_argument("--from", dest="from_s", type=float, metavar="S", help="start at S seconds into the capture")
    parser.add_argument("--to", dest="to_s", type=float, metavar="S", help="stop at S seconds into the capture")
    parser.add_argument("--channel", action="append", metavar="NAME", help="only this interface; may be given again")
    parser.add_argument("--format", metavar="NAME", help="the file's format, where it should not be guessed")
    parser.add_argument("--all", action="store_true", help="list every PGN and every code on the page")


def run(args: argparse.Namespace) -> int:
    """Analyse, print, and say by the exit code how it went."""
    from linkcheck.frames.kernel import KERNEL  # noqa: PLC0415
    from linkcheck.readers.byte_log import NotFramesError  # noqa: PLC0415
    from linkcheck.survey import CaptureFile  # noqa: PLC0415  numpy is needed from here on
    from linkcheck.traffic import Options  # noqa: PLC0415

    expect, system_volts = expected(args.expect, args.network) if args.expect else (None, None)
    options = Options(
        bit_rate=bit_rate(args.bit_rate, "--bit-rate"),
        fast_bit_rate=bit_rate(args.fast_bit_rate, "--fast-bit-rate"),
        expect=expect,
        system_volts=system_volts,
        from_s=args.from_s,
        to_s=args.to_s,
        channels=frozenset(args.channel) if args.channel else None,
    )
    if not KERNEL:
        say("The compiled kernel is not here: plain Python does its work, some thirty times slower on large logs.")
    try:
        analysis = CaptureFile(args.file, options, args.format)
    except NotFramesError as found:
        from linkcheck.cli.j1708_replay import replay_link  # noqa: PLC0415

        return replay_link(found.open(), args, expect or ())
    progress = Progress(f"reading {args.file}")
    try:
        result = analysis.run(progress.update)
    except KeyboardInterrupt:
        result = analysis.result(partial=True)
        progress.clear()
        say("Stopped; this is what is known so far.")
    progress.clear()
    if args.channel and (unknown := set(args.channel) - set(result.channels)):
        say(f"No frames on {', '.join(sorted(unknown))}.")
    if args.json:
        import msgspec  # noqa: PLC0415

        sys.stdout.buffer.write(msgspec.json.format(msgspec.json.encode(result), indent=1) + b"\n")
    else:
        from linkcheck.traffic.page import page  # noqa: PLC0415

        print(page(result, width(), everything=args.all))
    wrong = any(f.severity == "fault" for channel in result.channels.values() for f in channel.findings)
    return exit_codes.FAULT_FOUND if args.strict and wrong else exit_codes.OK
