"""The shelf: whole jobs, begun, written into files and taken in from them. Blocking; called from worker threads."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from linkcheck.errors import DataError

if TYPE_CHECKING:
    from linkcheck.app.settings import Settings
    from linkcheck.jobs.events import Intake
    from linkcheck.jobs.store import Store

__all__ = ["begin", "connectors", "dropped_path", "take_in", "write_job", "write_text"]


def begin(store: Store, intake: Intake, settings: Settings) -> int:
    """A new job with what the settings know of technician and tools; its number.

    Raises:
        DataError: it cannot be written.

    """
    from linkcheck.jobs.events import Technician, Tools  # noqa: PLC0415

    number = store.create(intake)
    job = store.open(number)
    if settings.technician:
        job.add(Technician(settings.technician))
    if settings.meter or settings.adapter:
        job.add(Tools(settings.meter, settings.adapter))
    return number


def write_job(store: Store, job: int, path: str) -> str:
    """A job into a file; says where it is.

    Raises:
        DataError: it cannot be written.

    """
    from linkcheck.jobs.exchange import export_job  # noqa: PLC0415

    return f"Job {job} is in {write_text(path, export_job(store.record(job)))}"


def take_in(store: Store, path: str) -> str:
    """A job from a file; says what came of it.

    Raises:
        DataError: the file is no job.

    """
    from linkcheck.jobs.exchange import import_job  # noqa: PLC0415

    done = import_job(store, str(dropped_path(path)))
    if done.new:
        return f"Taken in as job {done.job}, {done.added} entries."
    return f"Job {done.job} has {done.added} more entries." if done.added else f"Job {done.job} is the same already."


def write_text(path: str, text: str) -> Path:
    """A text into a file, its folder made if need be.

    Raises:
        DataError: it cannot be written.

    """
    file = dropped_path(path)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise DataError(f"This file cannot be written: {error.strerror or error}.", where=str(file)) from error
    return file


def dropped_path(text: str) -> Path:
    """A path as typed, or as a terminal pastes a file that was dragged onto it."""
    return Path(text.strip().strip("'\"").removeprefix("file://").replace("\\ ", " ")).expanduser()


def connectors() -> list[tuple[str, str]]:
    """Name and title of every connector that can be chosen; files that cannot be used are left out."""
    from linkcheck.pinout import Pinout, list_pinouts, load_file  # noqa: PLC0415

    found = []
    for path in list_pinouts():
        try:
            pinout = load_file(path)
        except DataError:
            continue  # `linkcheck pinouts` says what is wrong with it
        if isinstance(pinout, Pinout):
            found.append((path.stem, pinout.title))
    return found
