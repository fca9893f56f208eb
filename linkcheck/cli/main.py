"""The `linkcheck` command: finds the sub-command and turns every known error into one sentence and exit code 2.

A command is a module of this folder with NAME, HELP, `add_arguments(parser)` and `run(args) -> exit code`. It imports
what is heavy inside `run`, so that `--help` and completion stay quick.
"""

from __future__ import annotations

import argparse
import io
import os
import sys
import textwrap
from collections.abc import Sequence
from types import ModuleType

from linkcheck import __version__
from linkcheck.cli import (
    bench,
    branch,
    compare,
    edges,
    exit_codes,
    jobs,
    listen,
    pinouts,
    practice,
    replay,
    report,
    serve,
    simulate,
    tour,
    walk,
)
from linkcheck.cli.output import complain, width
from linkcheck.errors import LinkcheckError

__all__ = ["COMMANDS", "build_parser", "main"]

COMMANDS: tuple[ModuleType, ...] = (
    walk,
    jobs,
    report,
    replay,
    listen,
    bench,
    branch,
    compare,
    edges,
    pinouts,
    simulate,
    practice,
    serve,
)

DESCRIPTION = (
    "Finds why a heavy-duty truck's diagnostic connector does not talk, and proves it: "
    "walks the connector with a meter, and takes recorded bus traffic to a verdict."
)
EPILOG = """\
without a command: the app, on a terminal

a first look, with no hardware at all:
  linkcheck simulate drops-over-bumps -o bumps.log
  linkcheck replay bumps.log

exit codes: 0 done; 1 done and something is wrong with the bus (replay --strict); 2 could not be done.

Park, chock the wheels, and keep away from orange high-voltage cables and airbag circuits. The maker's service
information and local rules come before anything this program says.
"""


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = argparse.ArgumentParser(
        prog="linkcheck",
        description=_filled(DESCRIPTION),
        epilog=_filled(EPILOG),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"linkcheck {__version__}")
    parser.add_argument("--practice", action="store_true", help="the app begins with a simulated truck")
    parser.add_argument("--no-mouse", action="store_true", help="the app leaves the mouse to the terminal")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for module in COMMANDS:
        command = commands.add_parser(
            module.NAME,
            help=module.HELP,
            description=_filled(module.__doc__ or ""),
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        module.add_arguments(command)
        command.set_defaults(run=module.run)
    completion = commands.add_parser(
        "completion", help="print the completion script of a shell", description="Print a shell's completion script."
    )
    completion.add_argument("shell", choices=("bash", "zsh", "tcsh"), help="the shell to complete in")
    completion.set_defaults(run=_print_completion)
    return parser


def _filled(text: str) -> str:
    """Paragraphs wrapped to the terminal; indented lines are examples and stay as they are."""
    parts = text.strip().split("\n\n")
    return "\n\n".join(part if "\n  " in part else textwrap.fill(" ".join(part.split()), width()) for part in parts)


def _print_completion(args: argparse.Namespace) -> int:
    import shtab  # noqa: PLC0415  only this command needs it

    print(shtab.complete(build_parser(), shell=args.shell))
    return exit_codes.OK


def _without_command(args: argparse.Namespace) -> int:
    """The app where it can be drawn, else a tour of what works without it."""
    if tour.can_draw():
        return tour.open_app(mouse=not args.no_mouse, practise=args.practice)
    print(tour.TOUR, end="")
    return exit_codes.OK


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns its exit code; never raises for what a user can cause."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old console cannot show every mark; it must not stop us
    parser = build_parser()
    args = parser.parse_args(argv)
    try:
        code: int = _without_command(args) if args.command is None else args.run(args)
        sys.stdout.flush()
    except LinkcheckError as error:
        complain(error.sentence)
        return error.exit_code
    except KeyboardInterrupt:
        complain("stopped before there was anything to show.")
        return exit_codes.INTERRUPTED
    except BrokenPipeError:
        # The reader of our output has gone; keep the interpreter from complaining again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return exit_codes.PIPE_CLOSED
    return code
