"""Make the traffic of an invented truck, sound or with a fault hidden in it, as a candump log.

Every truck, serial number and reading is made up. The same scenario, seed, length and bit rate give the same bytes.
"""

from __future__ import annotations

import argparse
import gzip
import sys
from pathlib import Path

from linkcheck.cli import exit_codes
from linkcheck.cli.output import say
from linkcheck.errors import DataError, UsageError

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "simulate"
HELP = "make the traffic of an invented truck, sound or faulty"

BIT_RATES = (125_000, 250_000, 500_000, 1_000_000)
LONGEST_S = 3600.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("scenario", nargs="?", metavar="SCENARIO", help="which truck; --list names them")
    parser.add_argument("--list", action="store_true", help="name the scenarios and what each of them shows")
    parser.add_argument("--truth", action="store_true", help="say on standard error what is hidden in the traffic")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another truck, another day (default 1)")
    parser.add_argument("--seconds", type=float, metavar="S", help="how long to record (default: the scenario's own)")
    parser.add_argument("--bit-rate", type=int, choices=BIT_RATES, help="bits per second of can0 (default 250000)")
    parser.add_argument(
        "-o", "--output", default="-", metavar="FILE", help="where to write, gzipped if it ends in .gz (default: -)"
    )


def run(args: argparse.Namespace) -> int:
    """Simulate one scenario, or list them.

    Raises:
        UsageError: no such scenario, or a length that makes no sense.
        DataError: the file cannot be written.

    """
    from linkcheck.practice import SCENARIOS, simulate  # noqa: PLC0415  numpy stays out of --help
    from linkcheck.readers.candump import format_candump  # noqa: PLC0415

    if args.list:
        wide = max(len(name) for name in SCENARIOS)
        for name, scenario in SCENARIOS.items():
            print(f"{name:{wide}}  {scenario.shows}")
        return exit_codes.OK
    if args.scenario is None:
        raise UsageError("Which scenario?", todo="linkcheck simulate --list names them.")
    if args.seconds is not None and not 0 < args.seconds <= LONGEST_S:
        raise UsageError(f"--seconds {args.seconds:g} is not between 0 and {LONGEST_S:g}.")
    recording = simulate(args.scenario, seed=args.seed, seconds=args.seconds, bit_rate=args.bit_rate)
    _write(args.output, format_candump(recording.batch))
    if args.truth:
        for channel, truth in recording.truths.items():
            for sentence in truth.sentences():
                say(f"{channel}: {sentence}")
    return exit_codes.OK


def _write(path: str, text: bytes) -> None:
    if path == "-":
        sys.stdout.buffer.write(text)
        return
    try:
        # No time stamp inside: the same seed gives the same file.
        Path(path).write_bytes(gzip.compress(text, mtime=0) if path.endswith(".gz") else text)
    except OSError as error:
        raise DataError(f"Cannot be written: {error.strerror}.", where=path) from error
