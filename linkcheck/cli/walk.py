"""Find the fault with a meter, in the fewest readings.

Says which two points to probe next, in which state of the truck, what to expect and why; takes the reading and says
what it means, until one cause is proven. With --json another program answers, one JSON object a line.
"""

from __future__ import annotations

import argparse
import os
import sys
from typing import TYPE_CHECKING

from linkcheck.cli import exit_codes
from linkcheck.cli.output import say
from linkcheck.errors import UsageError

if TYPE_CHECKING:
    from linkcheck.walk.messages import Event, Setup

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "walk"
HELP = "find the fault with a meter, in the fewest readings"

BIT_RATES = (250_000, 500_000)
MOST_CHECKS = 25


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("--pinout", metavar="NAME", help="the connector, by name or path (default 9-pin-type-1)")
    parser.add_argument("--system", type=int, choices=(12, 24), help="volts of the truck's batteries (default 12)")
    parser.add_argument("--bit-rate", type=int, choices=BIT_RATES, help="of the CAN pair (default: the pinout's)")
    parser.add_argument("--no-j1708", action="store_true", help="the truck has no J1708 pair")
    parser.add_argument("--no-shield", action="store_true", help="the truck's CAN pair has no shield")
    parser.add_argument("--max-checks", type=int, metavar="N", help=f"readings at most (default {MOST_CHECKS})")
    parser.add_argument("--json", action="store_true", help="one JSON object a line, in and out")
    parser.add_argument("--script", metavar="FILE", help="replay a recorded walk")
    parser.add_argument("--record", metavar="FILE", help="keep a record of this walk, one event a line")
    parser.add_argument("--resume", metavar="FILE", help="go on with a recorded walk and add to its record")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of the sampled trucks (default 1)")


def run(args: argparse.Namespace) -> int:
    """Walk.

    Raises:
        UsageError: options that do not fit together, or a truck that cannot be.
        DataError: a pinout or a record that cannot be used.

    """
    # Matrices here are small: threads of the linear algebra would only get in each other's way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from linkcheck.cli.walk_lines import drive  # noqa: PLC0415  numpy stays out of --help
    from linkcheck.cli.walk_talk import Talk, ask_setup  # noqa: PLC0415
    from linkcheck.jobs.session import Session  # noqa: PLC0415
    from linkcheck.jobs.walk_file import NoRecord, Record, read_record  # noqa: PLC0415

    _check(args)
    script: list[Event] | None = None
    events: list[Event] = []
    if args.script or args.resume:
        setup, events = read_record(args.script or args.resume, say)
        if args.script:
            script, events = events, []
    else:
        setup = _setup(args) if args.json or not sys.stdin.isatty() else ask_setup(_setup(args), args)
    path = args.record or args.resume
    with Record(path, setup, events if args.record else None) if path else NoRecord() as record:
        session = Session(setup, events, record)
        if args.json:
            drive(session, sys.stdin, sys.stdout, script)
        else:
            Talk(session, sys.stdin, sys.stdout, script).run()
    return exit_codes.OK


def _check(args: argparse.Namespace) -> None:
    if args.script and args.resume:
        raise UsageError("--script replays a walk and --resume goes on with one.", todo="Give one of them.")
    if args.max_checks is not None and args.max_checks < 1:
        raise UsageError("--max-checks has to be 1 or more.")
    if args.seed < 0:
        raise UsageError("--seed has to be 0 or more.")


def _setup(args: argparse.Namespace) -> Setup:
    from linkcheck.walk.messages import Setup  # noqa: PLC0415

    return Setup(
        pinout=args.pinout or "9-pin-type-1",
        system_volts=float(args.system or 12),
        bit_rate=args.bit_rate,
        j1708=not args.no_j1708,
        shield=False if args.no_shield else None,
        max_checks=args.max_checks or MOST_CHECKS,
        by_eye=not args.json,
        seed=args.seed,
    )
