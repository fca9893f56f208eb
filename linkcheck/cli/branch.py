"""Which branch of the network? Ranks places on the backbone and draws them on a picture of the vehicle's network.

Goes by who falls silent together in a capture, by ohms between CAN high and CAN low at the connector (battery off) with
things unplugged one after the other, or by both. The vehicle's file says who sits where: `linkcheck pinouts
example-truck` shows one.

  linkcheck branch drops.log --vehicle example-truck
  linkcheck branch --vehicle example-truck --ohms 120 --ohms 119.5@terminator_2 --ohms OL@terminator_1
"""

from __future__ import annotations

import argparse
import sys
import textwrap
from typing import TYPE_CHECKING

from linkcheck.cli import exit_codes
from linkcheck.cli.output import Progress, say, width
from linkcheck.errors import DataError, UsageError

if TYPE_CHECKING:
    from linkcheck.verdict.branch import OhmsReading, Ranking

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "branch"
HELP = "which branch of the network: places ranked on a picture of it"

SHOWN = 5
LEAST = 0.01


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("capture", nargs="?", metavar="CAPTURE", help='a capture with dropouts; "-" is standard input')
    parser.add_argument("--vehicle", required=True, metavar="NAME", help="vehicle file (.toml), or a known one's name")
    parser.add_argument("--network", type=int, default=1, metavar="N", help="the vehicle file's network (default 1)")
    parser.add_argument("--channel", metavar="NAME", help="the capture's interface (default: the one with most frames)")
    parser.add_argument(
        "--ohms",
        action="append",
        default=[],
        metavar="READING[@UNPLUGGED]",
        help="CAN high to low at the connector, battery off: 60.2, OL@terminator_1, 59.8@11+15; may be given again",
    )
    parser.add_argument("--json", action="store_true", help="print the ranking as JSON (schema linkcheck.branch/1)")


def run(args: argparse.Namespace) -> int:
    """Rank and draw.

    Raises:
        UsageError: no evidence, or words that do not fit.
        DataError: a file or a reading cannot be used.

    """
    from linkcheck.pinout import find_pinout, load_vehicle  # noqa: PLC0415  loads pint
    from linkcheck.verdict.backbone import backbone  # noqa: PLC0415
    from linkcheck.verdict.branch import rank  # noqa: PLC0415  numpy
    from linkcheck.verdict.branch_picture import picture  # noqa: PLC0415

    net = backbone(load_vehicle(find_pinout(args.vehicle)), args.network)
    spells = _spells(args, frozenset(net.addresses)) if args.capture else ()
    ranking = rank(net, spells, [_reading(text) for text in args.ohms])
    if args.json:
        import msgspec  # noqa: PLC0415

        value = {"schema": "linkcheck.branch/1", **msgspec.to_builtins(ranking), "spells": [sorted(s) for s in spells]}
        sys.stdout.buffer.write(msgspec.json.format(msgspec.json.encode(value), indent=1) + b"\n")
    else:
        print("\n".join([*picture(net, ranking, width()), "", *_list(ranking)]))
    return exit_codes.OK


def _spells(args: argparse.Namespace, expected: frozenset[int]) -> tuple[frozenset[int], ...]:
    from linkcheck.survey import CaptureFile  # noqa: PLC0415
    from linkcheck.traffic import Options  # noqa: PLC0415
    from linkcheck.verdict.branch import silences  # noqa: PLC0415

    progress = Progress(f"reading {args.capture}")
    result = CaptureFile(args.capture, Options(expect=dict.fromkeys(expected, ""))).run(progress.update)
    progress.clear()
    if args.channel is not None and args.channel not in result.channels:
        raise UsageError(
            f"There is no interface {args.channel} in this capture.",
            where=args.capture,
            todo=f"There are: {', '.join(result.channels) or 'none'}.",
        )
    if not result.channels:
        raise DataError("There are no frames in this capture.", where=args.capture)
    name = args.channel or max(result.channels, key=lambda each: result.channels[each].frames)
    channel = result.channels[name]
    heard = {row.address for row in channel.source_addresses}
    spells = silences(channel.silence, heard & expected, expected - heard)
    say(f"{name}: {len(spells)} silent spells of the vehicle's modules." if spells else f"{name}: nobody fell silent.")
    return spells


def _reading(text: str) -> OhmsReading:
    from linkcheck.quantities import read_reading  # noqa: PLC0415
    from linkcheck.verdict.branch import OhmsReading  # noqa: PLC0415

    value, _, without = text.partition("@")
    try:
        ohms = read_reading(value, "ohms").value
    except DataError as error:
        raise UsageError(error.what, where=f"--ohms {text}", todo=error.todo) from error
    return OhmsReading(ohms, frozenset(word.strip() for word in without.split("+") if word.strip()))


def _list(ranking: Ranking) -> list[str]:
    lines = []
    for rank, each in enumerate(ranking.places[:SHOWN], 1):
        if each.probability >= LEAST or rank == 1:
            lead = f"{rank}  {each.probability:>4.0%}  "
            lines += textwrap.wrap(each.text, width(), initial_indent=lead, subsequent_indent=" " * len(lead))
            lines += textwrap.wrap(each.why, width(), initial_indent=" " * len(lead), subsequent_indent=" " * len(lead))
    for note in ranking.notes:
        lines += textwrap.wrap(f"Note: {note}", width(), subsequent_indent="      ")
    return lines
