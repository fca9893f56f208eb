"""Everything that is here only because of a defect or a gap in what we build on, each with its reason.

- Mouse reports beyond column 95 in the old encoding (seen in tmux and after an SSH session is taken up again) are not
  UTF-8. Textual's input thread decodes strictly, dies, and the app ends with exit code 0. Here bytes that are not
  UTF-8 are replaced. (textual/drivers/linux_driver.py, run_input_thread; seen with 8.2.8.)
- Textual treats any NO_COLOR, even an empty one, as set; https://no-color.org says "when present and not an empty
  string". Its monochrome filter still writes greys as 24-bit colour; with the terminal's own colours it writes none.
- An app that textual-serve runs in a browser stays behind when its server is killed: nobody closes it.
- SIGTERM and SIGHUP end Python at once and leave the terminal in raw mode.
"""

from __future__ import annotations

import asyncio
import codecs
import os
import signal
from collections.abc import Callable
from functools import partial

__all__ = ["forgive_mouse_bytes", "in_browser", "leave_on_signals", "left_alone", "no_color_wanted"]


def forgive_mouse_bytes() -> None:
    """Bytes from the terminal that are not UTF-8 no longer end the app."""
    try:
        from textual.drivers import linux_driver  # noqa: PLC0415  not there on Windows, where it is not needed
    except ImportError:
        return
    lenient = partial(codecs.getincrementaldecoder("utf-8"), errors="replace")
    linux_driver.getincrementaldecoder = lambda _name: lenient  # type: ignore[attr-defined]


def no_color_wanted() -> bool:
    """Whether colours are to be left out; an empty NO_COLOR is removed so that Textual does not take it for a yes."""
    if os.environ.get("NO_COLOR", None) == "":
        del os.environ["NO_COLOR"]
    return "NO_COLOR" in os.environ


def leave_on_signals(leave: Callable[[int], None]) -> None:
    """Call `leave` with 128 + n when the process is told to end, so that the terminal is put right first."""
    loop = asyncio.get_running_loop()
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None:
            try:
                loop.add_signal_handler(number, leave, 128 + number)
            except (NotImplementedError, RuntimeError, ValueError):  # Windows, or not the main thread (in tests)
                return


def in_browser() -> bool:
    """Whether textual-serve runs this app."""
    return bool(os.environ.get("TEXTUAL_DRIVER"))


def left_alone(parent: int) -> bool:
    """Whether the process that started us is gone."""
    return os.getppid() != parent
