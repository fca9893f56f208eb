"""Pinouts and vehicles from their TOML files: where the files are, and how they are read.

What their keys mean is in `connector` and `vehicle`. A wrong file is refused with all its problems at once, one line
each. The format is explained to users in `pinouts/README.md`. Files are only read here, never written.
"""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import Literal

from platformdirs import user_config_dir

from linkcheck.errors import DataError
from linkcheck.pinout.connector import connector
from linkcheck.pinout.schema import Pinout, Vehicle
from linkcheck.pinout.section import Document
from linkcheck.pinout.vehicle import vehicle

__all__ = ["find_pinout", "list_pinouts", "load_file", "load_pinout", "load_vehicle", "shipped_folder", "user_folder"]

LARGEST_FILE = 1_000_000  # bytes; a pinout has a few thousand


def shipped_folder(name: Literal["pinouts", "captures"]) -> Path:
    """Where the data that comes with the program lies: inside an installed package, beside it in a source tree.

    Raises:
        DataError: it is in neither place.

    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "shipped" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise DataError(f"The {name} that come with linkcheck are missing.", where=str(package), todo="Install it again.")


def user_folder() -> Path:
    """Where a user keeps pinouts of their own."""
    return Path(user_config_dir("linkcheck")) / "pinouts"


def list_pinouts() -> list[Path]:
    """Every pinout and vehicle that can be named: the user's own first, then those shipped and not replaced."""
    own = sorted(user_folder().glob("*.toml"))
    names = {path.stem for path in own}
    return own + sorted(path for path in shipped_folder("pinouts").glob("*.toml") if path.stem not in names)


def find_pinout(name_or_path: str) -> Path:
    """The file of a pinout or vehicle: by path, or by name among the user's own and the shipped ones.

    A path is handed on as it is; reading it says what is wrong with it.

    Raises:
        DataError: nothing has that name; the sentence lists the names.

    """
    path = Path(name_or_path)
    if path.suffix == ".toml" or len(path.parts) > 1:
        return path
    known = {path.stem: path for path in list_pinouts()}
    if name_or_path in known:
        return known[name_or_path]
    near = difflib.get_close_matches(name_or_path, known, 1)
    hint = f'Did you mean "{near[0]}"?' if near else "Give the path of a file of your own, or one of these names."
    raise DataError(f'There is no pinout "{name_or_path}", only {", ".join(sorted(known))}.', todo=hint)


def load_file(path: Path) -> Pinout | Vehicle:
    """Read a file of either kind.

    Raises:
        DataError: it cannot be read, or it has problems: a first line with the count, then one line for each.

    """
    try:
        raw = path.read_bytes() if path.stat().st_size <= LARGEST_FILE else None
        text = None if raw is None else raw.decode("utf-8")
    except OSError as error:
        raise DataError(f"This file cannot be read: {error.strerror or error}.", where=str(path)) from error
    except UnicodeDecodeError as error:
        raise DataError("This file is not text in UTF-8.", where=str(path), todo="Save it as UTF-8.") from error
    if text is None:
        raise DataError("This file is far too large for a pinout.", where=str(path))
    document = Document(text, str(path))
    kind = document.root.choice("kind", ("connector", "vehicle"))
    result = vehicle(document.root, path.stem) if kind == "vehicle" else connector(document.root, path.stem)
    document.finish()
    return result


def load_pinout(path: Path) -> Pinout:
    """Read a connector's file.

    Raises:
        DataError: as `load_file`, and when the file describes a vehicle.

    """
    result = load_file(path)
    if isinstance(result, Pinout):
        return result
    raise DataError("This file describes a vehicle, not a connector.", where=str(path), todo=f"Use {result.pinout}.")


def load_vehicle(path: Path) -> Vehicle:
    """Read a vehicle's file.

    Raises:
        DataError: as `load_file`, and when the file describes a connector.

    """
    result = load_file(path)
    if isinstance(result, Vehicle):
        return result
    raise DataError(
        "This file describes a connector, not a vehicle.", where=str(path), todo='A vehicle says kind = "vehicle".'
    )
