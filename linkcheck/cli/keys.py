"""Single keys from a terminal while a command runs, without waiting for enter; nothing where there is no terminal."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Any, Self

__all__ = ["Keys"]


class Keys:
    """Keys pressed since last asked. Use as a context manager; the terminal is put back as it was."""

    def __init__(self) -> None:
        self.here = sys.stdin.isatty()
        self._before: Any = None

    def __enter__(self) -> Self:
        if self.here and sys.platform != "win32":
            import termios  # noqa: PLC0415  # not on Windows
            import tty  # noqa: PLC0415

            self._before = termios.tcgetattr(sys.stdin)
            tty.setcbreak(sys.stdin)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._before is not None and sys.platform != "win32":
            import termios  # noqa: PLC0415

            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)
            self._before = None

    def pressed(self) -> str:
        """The keys, in order; never waits."""
        if not self.here:
            return ""
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415

            keys = ""
            while msvcrt.kbhit():
                keys += msvcrt.getwch()
            return keys
        import os  # noqa: PLC0415
        import select  # noqa: PLC0415

        keys = b""
        while select.select([sys.stdin], [], [], 0)[0]:
            more = os.read(sys.stdin.fileno(), 64)
            if not more:
                self.here = False  # the terminal hung up
                break
            keys += more
        return keys.decode("utf-8", "replace")
