"""What `linkcheck` does without a command: open the app on a terminal, or say in a few lines what there is.

The app stands beside the command line and neither may import the other, so it is called by its name.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module

__all__ = ["TOUR", "can_draw", "open_app"]

TOUR = """\
linkcheck finds why a heavy-duty truck's diagnostic connector does not talk, and proves it.

On a terminal `linkcheck` opens its screens: jobs, the walk with a meter, traffic, the record, practice.
This is no terminal it can draw on, so here is what works without one:

  linkcheck walk                 the walk as a conversation: what to probe next, what the reading means
  linkcheck walk --json          the same for another program, one JSON object a line
  linkcheck replay FILE          a recorded capture, from the file to the verdict
  linkcheck jobs list            the jobs kept so far
  linkcheck pinouts              diagnostic connectors pin by pin
  linkcheck simulate healthy     invented traffic, to try the above without any hardware
  linkcheck --help               all commands

Park, chock the wheels, and keep away from orange high-voltage cables and airbag circuits. The maker's service
information and local rules come before anything this program says.
"""


def can_draw() -> bool:
    """Whether there is a terminal to draw on; the screens are drawn on standard error and listen to standard input."""
    if os.environ.get("TEXTUAL_DRIVER"):  # `linkcheck serve` draws for a browser
        return True
    return os.environ.get("TERM") != "dumb" and all(s.isatty() for s in (sys.stdin, sys.stdout, sys.stderr))


def open_app(*, mouse: bool, practise: bool) -> int:
    """The app until it is left; its exit code.

    Raises:
        DataError: the settings cannot be used.

    """
    code: int = import_module("linkcheck.app.main").run(mouse=mouse, practise=practise)
    return code
