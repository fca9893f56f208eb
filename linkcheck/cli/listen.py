"""Listen to a live bus: the analysis of replay while it happens, recording, and a bell for a harness being wiggled.

Never sends, and keeps the adapter silent wherever it can: no acknowledgements, no error flags. --interfaces tells which
adapters can prove that. While it runs: m or space sets a mark, r tries a lost adapter again, l learns the addresses'
habits again, q or ctrl+c ends with the page of replay.

  linkcheck listen serial:/dev/ttyACM0 --bit-rate 250k
  linkcheck listen can0 --wiggle --record drive.log
"""

from __future__ import annotations

import argparse
import re
import sys
from typing import TYPE_CHECKING

from linkcheck.cli import exit_codes
from linkcheck.cli.bus_words import bit_rate, expected
from linkcheck.cli.output import say, width
from linkcheck.errors import UsageError

if TYPE_CHECKING:
    from linkcheck.live.port import PortSpec

NAME = "listen"
HELP = "listen to a live bus, record it, and ring when a wiggled harness drops out"

_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*([kKmMgG]?)[bB]?")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `linkcheck listen`."""
    parser.add_argument("port", nargs="*", metavar="PORT", help="INTERFACE:CHANNEL, e.g. serial:/dev/ttyACM0 or can0")
    parser.add_argument("--interfaces", action="store_true", help="show what each interface can do, and what is here")
    parser.add_argument("--bit-rate", metavar="N", help="bit rate of the bus (default 250k where it must be set)")
    parser.add_argument("--search", action="store_true", help="find the bit rate, in proven silence, then leave")
    parser.add_argument("--rates", metavar="N,N", help="rates to search (default 250k,500k)")
    parser.add_argument("--seconds", type=float, metavar="S", help="stop after S seconds (search: S at each rate)")
    parser.add_argument("--accept-unproven", action="store_true", help="listen although silence is not proven")
    parser.add_argument("--take-part", action="store_true", help="do not be silent: acknowledge frames on the bus")
    parser.add_argument("--wiggle", action="store_true", help="ring at once for late addresses, errors, battery dips")
    parser.add_argument("--meter", metavar='"MIN MAX"', help="a min/max meter's two readings, for the wiggle sheet")
    parser.add_argument("--no-bell", action="store_true", help="show alarms without ringing")
    _add_recording(parser)
    parser.add_argument("--compare", metavar="FILE", help="at the end, compare with an earlier capture")
    parser.add_argument("--expect", metavar="WHO", help="addresses that should talk, or a vehicle file, as in replay")
    parser.add_argument("--network", type=int, default=1, metavar="N", help="the vehicle file's network (default 1)")
    parser.add_argument("--no-reconnect", action="store_true", help="do not try a lost adapter again by itself")
    parser.add_argument("--j1708", metavar="PORT", help="listen to a J1708 link on this serial port instead")
    parser.add_argument("--strict", action="store_true", help="leave with exit code 1 when something is wrong")
    parser.add_argument("--json", action="store_true", help="print the result as JSON, as replay does")
    parser.add_argument("--all", action="store_true", help="list every PGN and every code on the page")


def _add_recording(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--record", metavar="FILE", help="write a candump log; .zst compresses it")
    parser.add_argument("--rotate", metavar="SIZE", help="begin another file at this size, e.g. 10M")
    parser.add_argument("--keep", type=int, metavar="N", help="ring: keep only the last N files")
    parser.add_argument(
        "--trigger",
        action="append",
        metavar="WHAT",
        help="record only around errors, silence, code or mark; may be given again",
    )
    parser.add_argument("--before", type=float, default=10.0, metavar="S", help="seconds kept before (default 10)")
    parser.add_argument("--after", type=float, default=10.0, metavar="S", help="seconds kept after (default 10)")


def run(args: argparse.Namespace) -> int:
    """Listen, or show what there is to listen with."""
    if args.interfaces:
        from linkcheck.cli.interface_table import interface_table  # noqa: PLC0415

        print(interface_table(width(180)))
        return exit_codes.OK
    if args.j1708:
        from linkcheck.cli.j1708_listen import listen_link  # noqa: PLC0415

        return listen_link(
            args.j1708,
            seconds=args.seconds,
            record=args.record,
            as_json=args.json,
            strict=args.strict,
            expected=expected(args.expect, args.network)[0] if args.expect else (),
        )
    specs = _specs(args)
    if args.search:
        from linkcheck.cli.rate_page import search  # noqa: PLC0415

        rates = [rate for word in (args.rates or "250k,500k").split(",") if (rate := bit_rate(word, "--rates"))]
        return search(specs[0], rates, args.seconds or 2.0)
    from linkcheck.cli.listen_run import listen  # noqa: PLC0415  numpy is needed from here on

    return listen(args, specs)


def _specs(args: argparse.Namespace) -> list[PortSpec]:
    import dataclasses  # noqa: PLC0415

    from linkcheck.live.open_port import SERIAL, parse_port  # noqa: PLC0415

    if not args.port:
        raise UsageError("Listen on which port?", todo="linkcheck listen --interfaces shows what is here.")
    rate = bit_rate(args.bit_rate, "--bit-rate")
    specs = [parse_port(text, i, bit_rate=rate, active=args.take_part) for i, text in enumerate(args.port)]
    if args.take_part and rate is None and any(spec.interface in SERIAL for spec in specs):
        raise UsageError(
            "Taking part in a bus needs its bit rate: at a wrong one the adapter answers every frame with error flags.",
            todo="Add --bit-rate; --search finds it in silence, where the adapter can.",
        )
    names = [spec.name for spec in specs]
    if len(set(names)) < len(names):
        raise UsageError(f"{', '.join(names)}: every port needs a name of its own.", todo="Give each port once.")
    return [dataclasses.replace(spec, accept_unproven=args.accept_unproven) for spec in specs]


def size_bytes(text: str | None) -> int | None:
    """A file size as a user writes it.

    Raises:
        UsageError: not a size.

    """
    if text is None:
        return None
    match = _SIZE.fullmatch(text.strip())
    factor = {"": 1, "k": 1 << 10, "m": 1 << 20, "g": 1 << 30}
    size = round(float(match[1]) * factor[match[2].lower()]) if match else 0
    if size < 1 << 10:
        raise UsageError(f"{text!r} is no file size.", where="--rotate", todo="Write it as 10M; at least 1k.")
    return size


def confirm(question: str) -> bool:
    """Ask at the terminal; anything but yes is no, and so is the lack of a terminal."""
    if not sys.stdin.isatty():
        return False
    say(question)
    print("Go on? [y/N] ", end="", file=sys.stderr, flush=True)  # standard output is data
    return sys.stdin.readline().strip().lower() in ("y", "yes")
