"""The themes, as TOML: ours in this folder, the user's own in `themes` of the configuration folder.

Colour never stands alone: every state has a mark and a word too, so a theme may be anything, even one colour.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from platformdirs import user_config_path
from textual.color import Color, ColorParseError
from textual.theme import Theme

from linkcheck.errors import DataError

__all__ = ["load_themes"]

COLOURS = (
    "primary",
    "secondary",
    "warning",
    "error",
    "success",
    "accent",
    "foreground",
    "background",
    "surface",
    "panel",
)


def load_themes(own: Path | None = None) -> dict[str, Theme]:
    """All themes by name; one of the user's replaces ours of the same name.

    Raises:
        DataError: a file is no theme; all its problems in one sentence.

    """
    folders = (Path(__file__).parent, own or user_config_path("linkcheck") / "themes")
    return {path.stem: _theme(path) for folder in folders for path in sorted(folder.glob("*.toml"))}


def _theme(path: Path) -> Theme:
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise DataError(f"This theme cannot be read: {error}.", where=str(path)) from error
    variables = table.pop("variables", {})
    dark = table.pop("dark", True)
    problems = [f'"{name}" is no colour of a theme' for name in table if name not in COLOURS]
    problems += [f'"{name}" is missing' for name in COLOURS if name not in table]
    problems += [f'"{name}" = "{value}" is no colour' for name, value in table.items() if not _is_colour(value)]
    if not isinstance(dark, bool):
        problems.append('"dark" takes true or false')
    if not isinstance(variables, dict) or not all(isinstance(value, str) for value in variables.values()):
        problems.append("[variables] takes texts in quotes")
    if problems:
        raise DataError(f"{'; '.join(problems)}.", where=str(path))
    return Theme(name=path.stem, dark=dark, variables=variables, **table)


def _is_colour(value: object) -> bool:
    try:
        return isinstance(value, str) and Color.parse(value) is not None
    except ColorParseError:
        return False
