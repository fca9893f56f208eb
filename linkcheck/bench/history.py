"""The record of an adapter: every test a line of JSON in one file, and what changed since the last.

Files lie in the user's data folder, or where LINKCHECK_DATA says. Lines are only ever added; one that cannot be read
is passed over.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from pathlib import Path

import msgspec

from linkcheck.bench.result import BenchResult, Row
from linkcheck.errors import DataError

__all__ = ["add_to_history", "changes", "earlier_tests", "history_path", "record_test"]

_NOTABLE = {  # number: share by which it may wander without being news
    "load": 0.1,
    "p99_ms": 0.5,
    "max_ms": 1.0,
    "drift_ppm": 0.9,
    "ohms": 0.1,
}


def history_path(adapter: str) -> Path:
    """Where an adapter's record is."""
    from platformdirs import user_data_path  # noqa: PLC0415  # not needed where the folder is given

    folder = os.environ.get("LINKCHECK_DATA")
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", adapter).strip("-.") or "adapter"
    base = Path(folder) if folder else user_data_path("linkcheck", appauthor=False)
    return base / "bench" / f"{name}.jsonl"


def earlier_tests(path: Path) -> list[BenchResult]:
    """The tests on record, oldest first; none where there is no record.

    Raises:
        DataError: the file is there and cannot be read.

    """
    try:
        lines = path.read_bytes().splitlines() if path.exists() else []
    except OSError as error:
        raise DataError(f"The adapter's record cannot be read: {error.strerror or error}.", where=str(path)) from error
    tests = []
    for line in lines:
        with contextlib.suppress(msgspec.MsgspecError):
            tests.append(msgspec.json.decode(line, type=BenchResult))
    return tests


def add_to_history(path: Path, result: BenchResult) -> None:
    """Add a test.

    Raises:
        DataError: it cannot be written.

    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("ab") as file:
            file.write(msgspec.json.encode(result) + b"\n")
    except OSError as error:
        raise DataError(
            f"The adapter's record cannot be written: {error.strerror or error}.", where=str(path)
        ) from error


def changes(before: BenchResult, now: BenchResult) -> list[str]:
    """What is different, in sentences: verdicts first, then figures that moved."""
    old = {row.row: row for row in before.rows}
    found = [_verdict(old[row.row], row) for row in now.rows if row.row in old and old[row.row].verdict != row.verdict]
    for row in now.rows:
        if row.row in old and old[row.row].verdict == row.verdict:
            found += _figures(old[row.row], row)
    return found


def record_test(result: BenchResult, name: str = "", path: Path | None = None) -> tuple[Path, list[str]]:
    """Add a test to its adapter's record.

    Args:
        result: of the test.
        name: the adapter's; what it says it is, or else its port, where empty.
        path: the record; None for the adapter's own.

    Returns:
        Where the record is, and what changed since the last test.

    Raises:
        DataError: the record cannot be read or written.

    """
    conditions = result.conditions
    path = path or history_path(name or conditions.identity or conditions.adapter)
    before = earlier_tests(path)
    add_to_history(path, result)
    return path, changes(before[-1], result) if before else []


def _verdict(old: Row, new: Row) -> str:
    return (
        f"{_name(new)}: {old.verdict} before ({old.figure or old.note}), now {new.verdict} ({new.figure or new.note})"
    )


def _figures(old: Row, new: Row) -> Iterator[str]:
    for name, share in _NOTABLE.items():
        a, b = old.numbers.get(name), new.numbers.get(name)
        if isinstance(a, int | float) and isinstance(b, int | float) and abs(b - a) > share * max(abs(a), abs(b)):
            yield f"{_name(new)}: {name} was {a:g}, now {b:g}"


def _name(row: Row) -> str:
    return f"{row.title} ({row.conditions.split(',')[0]})" if row.conditions else row.title
