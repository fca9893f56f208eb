"""Paths as people hand them over: typed and completed, pasted, dragged into a terminal; and the captures of late.

No widget here. Reading a folder may take a while on a network drive, so the page asks from a thread.
"""

from __future__ import annotations

import json
import os
import re
import shlex
from pathlib import Path
from urllib.parse import unquote, urlparse

from platformdirs import user_state_path

from linkcheck.errors import DataError
from linkcheck.pinout.load import shipped_folder

__all__ = ["cleaned", "completed", "examples", "keep_recent", "matches", "recent"]

MOST_MATCHES = 60
MOST_RECENT = 12
CAPTURES = (".log", ".txt", ".trc", ".asc", ".blf", ".mf4", ".csv", ".gz", ".zst", ".db")


def cleaned(text: str) -> str:
    """A path out of what a terminal pastes when a file is dragged in: quotes, backslashes, file:// taken off.

    Of several lines or files the first; empty where there is none.
    """
    line = next((line.strip() for line in text.splitlines() if line.strip()), "")
    if line.startswith("file://"):
        path = unquote(urlparse(line).path)
        return path[1:] if re.match(r"/[A-Za-z]:", path) else path
    if line[:1] in "\"'" or ("\\ " in line and os.sep == "/"):
        try:
            return next(iter(shlex.split(line)), "")
        except ValueError:  # a quote that never closes
            return line.strip("\"'")
    return line


def matches(text: str) -> list[Path]:
    """Folders and files that what was typed may become: captures first, hidden ones only where asked for.

    Folders that cannot be read give nothing.
    """
    typed = Path(text).expanduser()
    folder, start = (typed, "") if text.endswith((os.sep, "/")) or not text else (typed.parent, typed.name)
    try:
        with os.scandir(folder) as entries:
            found = [
                (not entry.is_dir(), not entry.name.lower().endswith(CAPTURES), entry.name)
                for entry in entries
                if entry.name.lower().startswith(start.lower()) and (start or not entry.name.startswith("."))
            ]
    except OSError:
        return []
    ranked = sorted(found, key=lambda row: (row[0] and row[1], not row[0], row[2].lower()))
    return [folder / name for _, _, name in ranked[:MOST_MATCHES]]


def completed(text: str) -> str:
    """What was typed, carried on as far as all matches agree; a folder gets its separator."""
    found = matches(text)
    if not found:
        return text
    common = os.path.commonprefix([str(path) for path in found])  # noqa: RUF071  the letters they share, on purpose
    if len(found) == 1 and found[0].is_dir():
        common += os.sep
    return common if len(common) > len(str(Path(text).expanduser())) else text


def _recent_file() -> Path:
    return user_state_path("linkcheck") / "recent-captures.json"


def recent() -> list[Path]:
    """The captures opened of late that are still there, the last one first."""
    try:
        names = json.loads(_recent_file().read_text(encoding="utf-8"))
        return [Path(name) for name in names if isinstance(name, str) and Path(name).is_file()]
    except (OSError, ValueError, TypeError):
        return []


def keep_recent(path: Path) -> None:
    """Remember a capture; where that cannot be written it is forgotten, because nothing hangs on it."""
    names = [str(path.absolute()), *(str(each) for each in recent() if each.absolute() != path.absolute())]
    try:
        _recent_file().parent.mkdir(parents=True, exist_ok=True)
        _recent_file().write_text(json.dumps(names[:MOST_RECENT]), encoding="utf-8")
    except OSError:
        return


def examples() -> list[Path]:
    """The invented captures that come with the program."""
    try:
        folder = shipped_folder("captures")
    except DataError:
        return []
    return sorted(path for path in folder.iterdir() if path.name.endswith((".log", ".log.gz")))
