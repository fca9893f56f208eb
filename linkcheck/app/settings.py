"""The user's settings: one TOML file in the configuration folder, every key optional, read once at the start.

A wrong file is refused with all its problems in one message, so that nobody starts three times to find three typing
errors. Names of keys and themes are handed in: this module knows no screens.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from platformdirs import user_config_path, user_documents_path

from linkcheck.errors import DataError

__all__ = ["Settings", "files_folder", "keep_theme", "load_settings", "settings_path"]

KINDS: dict[str, tuple[type, str]] = {
    "theme": (str, "the name of a theme in quotes"),
    "bell": (bool, "true or false"),
    "mouse": (bool, "true or false"),
    "technician": (str, "a text in quotes"),
    "meter": (str, "a text in quotes"),
    "adapter": (str, "a text in quotes"),
    "folder": (str, "the path of a folder in quotes"),
    "connector": (str, "the name of a pinout in quotes"),
    "system_volts": (int, "12 or 24"),
    "keys": (dict, 'a table: [keys], then lines like "walk.skip" = "x"'),
}
MOST_NAMED = 15


@dataclass(frozen=True, slots=True)
class Settings:
    """What the user has chosen.

    Attributes:
        theme: dark, light, contrast, or one of the user's own.
        bell: the terminal's bell rings when a walk comes to its end.
        mouse: clicks are listened to.
        technician, meter, adapter: proposed in every record.
        folder: where reports, exports and pictures go; empty for "linkcheck" in the documents.
        connector, system_volts: proposed for every new job.
        keys: id of a binding to the key it shall have.

    """

    theme: str = "dark"
    bell: bool = False
    mouse: bool = True
    technician: str = ""
    meter: str = ""
    adapter: str = ""
    folder: str = ""
    connector: str = "9-pin-type-1"
    system_volts: int = 12
    keys: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


def files_folder(settings: Settings) -> Path:
    """Where reports, exports and pictures are proposed to go."""
    return Path(settings.folder).expanduser() if settings.folder else user_documents_path() / "linkcheck"


def settings_path() -> Path:
    """Where the file is, or would be."""
    return user_config_path("linkcheck") / "settings.toml"


def load_settings(path: Path, *, themes: Collection[str], bindings: Callable[[], Mapping[str, str]] = dict) -> Settings:
    """Read the file; without one, everything is as it comes.

    Args:
        path: of the file.
        themes: names that can be chosen.
        bindings: ids of what can be given another key, with the key they have; asked for only where the file gives one.

    Raises:
        DataError: it cannot be read, or has problems: one sentence with all of them.

    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return Settings()
    except OSError as error:
        raise DataError(f"The settings cannot be read: {error.strerror or error}.", where=str(path)) from error
    except ValueError as error:  # not UTF-8, or not TOML
        raise DataError(f"The settings are not TOML: {error}.", where=str(path), todo="Mend or rename it.") from error
    problems = _problems(tables, themes)
    if isinstance(tables.get("keys"), dict):
        problems += _key_problems(tables["keys"], bindings())
    if problems:
        raise DataError(f"{'; '.join(problems)}.", where=str(path), todo="Mend these, or rename the file.")
    return Settings(**tables)


def _problems(tables: Mapping[str, object], themes: Collection[str]) -> list[str]:
    found = []
    for name, value in tables.items():
        if name not in KINDS:
            found.append(f'"{name}" is no setting{_near(name, KINDS)}')
            continue
        kind, wanted = KINDS[name]
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            found.append(f'"{name}" takes {wanted}')
        elif name == "theme" and value not in themes:
            found.append(f'there is no theme "{value}"{_near(str(value), themes)}')
        elif name == "system_volts" and value not in (12, 24):
            found.append(f'"{name}" takes {wanted}')
    return found


def _key_problems(chosen: Mapping[str, object], known: Mapping[str, str]) -> list[str]:
    """Ids nobody knows, keys that are none, and keys that mean two things on one page."""
    found = [f'"{each}" is nothing that has a key{_near(each, known)}' for each in chosen if each not in known]
    wrong = [each for each, key in chosen.items() if not isinstance(key, str) or not key.strip()]
    found += [f'the key of "{each}" is not a text in quotes' for each in wrong]
    if found:
        return found
    keys = {**known, **chosen}
    for each, key in chosen.items():
        for other, taken in keys.items():
            together = {each.split(".")[0], other.split(".")[0]}
            if other != each and taken == key and (len(together) == 1 or together & {"app", "go"}):
                found.append(f'"{each}" and "{other}" have the same key "{key}"')
    return found


def _near(name: str, known: Collection[str]) -> str:
    near = difflib.get_close_matches(name, known, 1)
    if near:
        return f' (did you mean "{near[0]}"?)'
    return f" (there is {', '.join(sorted(known))})" if len(known) < MOST_NAMED else ""


def keep_theme(path: Path, theme: str) -> None:
    """Write the theme into the file; its other lines and comments stay.

    Raises:
        DataError: it cannot be written.

    """
    try:
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        line = f'theme = "{theme}"'
        changed, count = re.subn(r"(?m)^\s*theme\s*=.*$", line, text, count=1)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(changed if count else f"{line}\n{text}", encoding="utf-8")
    except (OSError, ValueError) as error:
        raise DataError(f"The theme could not be kept: {error}.", where=str(path)) from error
