"""Copying out: to the clipboard by the terminal (OSC 52), and always into a file as well, because many ignore that."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from textual.app import App

from linkcheck.errors import DataError

__all__ = ["copy_out"]

CLIPBOARD_MOST = 70_000  # characters; beyond that terminals drop the sequence (xterm's limit, from memory)


def copy_out(app: App[Any], text: str, name: str, folder: Path) -> str:
    """Copy a text out; says in a sentence where it went.

    Args:
        app: whose terminal.
        text: what.
        name: of the file; a number is added where there is one of that name.
        folder: for the file; see `settings.files_folder`.

    Raises:
        DataError: the file cannot be written. The clipboard may have it all the same.

    """
    clipped = len(text) <= CLIPBOARD_MOST
    if clipped:
        app.copy_to_clipboard(text)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path = _free(folder / name)
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise DataError(f"The copy could not be saved: {error.strerror or error}.", where=str(folder)) from error
    return f"{'Sent to the clipboard, and saved' if clipped else 'Saved'} to {path}."


def _free(path: Path) -> Path:
    number = 1
    free = path
    while free.exists():
        number += 1
        free = path.with_stem(f"{path.stem}-{number}")
    return free
