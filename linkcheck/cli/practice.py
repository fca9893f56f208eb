"""Practise on a simulated truck with a hidden fault: nothing there can be hurt, and no hardware is needed.

Measure what you like, between any two points and in any state, or ask for the tool's advice; repair what you think it
is; then see what it was, and how your path compares with the tool's own on the same truck. The trucks are invented.
"""

from __future__ import annotations

import argparse
import os
import sys

from linkcheck.cli import exit_codes

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "practice"
HELP = "practise on a simulated truck with a hidden fault"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("--difficulty", choices=("easy", "medium", "hard"), help="how hard the fault is (default easy)")
    parser.add_argument("--seed", type=int, metavar="N", help="which truck; the same number brings the same one")
    parser.add_argument(
        "--fault",
        action="append",
        default=[],
        metavar="ID",
        help="hide this fault; twice for two; none for a sound truck",
    )
    parser.add_argument("--list", action="store_true", help="name the faults, and how hard each is")
    parser.add_argument("--pinout", default="9-pin-type-1", metavar="NAME", help="the connector (default 9-pin-type-1)")
    parser.add_argument("--system", type=int, choices=(12, 24), default=12, help="volts of the truck (default 12)")
    parser.add_argument("--advice", action="store_true", help="show what the tool would do next, all along")


def run(args: argparse.Namespace) -> int:
    """Hold the lesson.

    Raises:
        UsageError: no such fault, or one that such a truck cannot have.

    """
    # Matrices here are small: threads of the linear algebra would only get in each other's way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from linkcheck.cli.practice_talk import PracticeTalk  # noqa: PLC0415  numpy stays out of --help
    from linkcheck.practice.setting_out import Request, any_seed, practice_truck  # noqa: PLC0415

    if args.list:
        _print_list()
        return exit_codes.OK
    request = Request(
        difficulty=args.difficulty or "easy",
        seed=any_seed() if args.seed is None else args.seed,
        faults=tuple(args.fault),
        pinout=args.pinout,
        system_volts=float(args.system),
    )
    layout = request.layout()
    PracticeTalk(request, practice_truck(request, layout), layout, sys.stdin, sys.stdout, advised=args.advice).run()
    return exit_codes.OK


def _print_list() -> None:
    from linkcheck.faults.catalogue import FAULTS  # noqa: PLC0415
    from linkcheck.practice.hidden_faults import difficulty_of  # noqa: PLC0415

    wide = max(map(len, FAULTS))
    for name, fault in FAULTS.items():
        print(f"{name:{wide}}  {difficulty_of(fault):6}  {fault.title}")
