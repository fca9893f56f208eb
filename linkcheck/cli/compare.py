"""Compare two captures, before and after a repair: who is new, who is gone, load, errors, silences, codes, periods.

linkcheck compare before.log after.log
"""

from __future__ import annotations

import argparse
import sys

from linkcheck.cli import exit_codes
from linkcheck.cli.output import Progress, width

NAME = "compare"
HELP = "compare two captures, before and after"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `linkcheck compare`."""
    parser.add_argument("before", metavar="BEFORE", help="the first capture")
    parser.add_argument("after", metavar="AFTER", help="the second one")
    parser.add_argument(
        "--channel",
        action="append",
        metavar="NAME",
        help="the interface to compare; given twice: the first capture's, then the second's",
    )
    parser.add_argument("--strict", action="store_true", help="leave with exit code 1 when something is worse")
    parser.add_argument("--json", action="store_true", help="print the comparison as JSON")


def run(args: argparse.Namespace) -> int:
    """Analyse both, print the differences."""
    from linkcheck.survey import CaptureFile  # noqa: PLC0415  numpy is needed from here on
    from linkcheck.traffic import Options  # noqa: PLC0415
    from linkcheck.traffic.compare import compare  # noqa: PLC0415

    results = []
    for path in (args.before, args.after):
        progress = Progress(f"reading {path}")
        results.append(CaptureFile(path, Options()).run(progress.update))
        progress.clear()
    names = [*(args.channel or [None]), None]
    pair = (names[0], names[1] if len(names) > 2 else names[0])
    found = compare(results[0], results[1], pair)
    if args.json:
        import msgspec  # noqa: PLC0415

        sys.stdout.buffer.write(msgspec.json.format(msgspec.json.encode(found), indent=1) + b"\n")
    else:
        from linkcheck.traffic.compare_page import comparison_page  # noqa: PLC0415

        print(comparison_page(found, width()))
    worse = any(change.verdict == "worse" for change in found.changes)
    return exit_codes.FAULT_FOUND if args.strict and worse else exit_codes.OK
