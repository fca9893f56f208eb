"""The table of predictions for a walk: built once for each kind of truck and kept in the user's cache folder.

Its name changes with the source of whatever it is made from; a damaged or missing file is built anew. Without a file a
rough table of the likely first checks comes first, and the full one while the first check is being made.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from linkcheck.errors import DataError

if TYPE_CHECKING:
    from linkcheck.diagnosis.samples import Samples
    from linkcheck.walk.layout import Layout

__all__ = ["cached_table", "full_table", "quick_table"]

FULL = 300  # trucks a fault
QUICK = 60
FIRST_CHECKS = ("listen:own", "volts:B-A:key_off", "ohms:C-D:dead", "volts:C-A:key_on", "volts:F-A:key_on")
SOURCES = ("circuit", "faults", "walk/checks.py", "walk/table.py", "diagnosis/samples.py", "diagnosis/scale.py")


def cached_table(layout: Layout, seed: int) -> Samples | None:
    """The table of an earlier walk, if it is there and whole."""
    from linkcheck.diagnosis.samples import Samples  # noqa: PLC0415  numpy stays out of --help

    try:
        return Samples.from_bytes(_path(layout, seed).read_bytes())
    except (OSError, DataError):
        return None


def quick_table(layout: Layout, seed: int) -> Samples:
    """A rough table in a moment, good for the first check only."""
    return _predict(layout, seed, QUICK, FIRST_CHECKS)


def full_table(layout: Layout, seed: int) -> Samples:
    """The whole table, kept for the next walk if the folder can be written."""
    table = _predict(layout, seed, FULL)
    path = _path(layout, seed)
    part = path.with_suffix(f".{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(table.to_bytes())
        part.replace(path)  # whole or not at all, whoever else is doing the same
    except OSError:
        part.unlink(missing_ok=True)
    return table


def _predict(layout: Layout, seed: int, size: int, only: tuple[str, ...] | None = None) -> Samples:
    from linkcheck.diagnosis.samples import hypothesis  # noqa: PLC0415
    from linkcheck.walk.table import predict_table  # noqa: PLC0415

    hypotheses = [hypothesis(fault) for fault in layout.faults()]
    return predict_table(layout.equipment, hypotheses, seed=seed, size=size, only=only)


def _path(layout: Layout, seed: int) -> Path:
    import numpy as np  # noqa: PLC0415
    from platformdirs import user_cache_path  # noqa: PLC0415

    from linkcheck.diagnosis.samples import digest  # noqa: PLC0415

    package = Path(__file__).parents[1]
    files = [path for name in SOURCES for path in (sorted((package / name).glob("*.py")) or [package / name])]
    parts = [repr(layout.equipment), repr(layout.faults()), str(seed), str(FULL), np.__version__]
    parts += [path.read_text(encoding="utf-8") for path in files]
    return user_cache_path("linkcheck") / "walk" / f"{digest(parts)}.npz"
