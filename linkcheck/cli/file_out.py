"""A command's text, to a file or to standard output."""

from __future__ import annotations

import sys
from pathlib import Path

from linkcheck.errors import DataError

__all__ = ["save"]


def save(text: str, path: str | None) -> None:
    """Write a text; to standard output where no file is named.

    Raises:
        DataError: the file cannot be written.

    """
    if path is None or path == "-":
        sys.stdout.write(text)
        return
    try:
        Path(path).write_text(text, encoding="utf-8")
    except OSError as error:
        raise DataError(f"This file cannot be written: {error.strerror or error}.", where=path) from error
