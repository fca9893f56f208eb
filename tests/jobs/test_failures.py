"""A full disk, a folder that cannot be written, a damaged file, a file held by another: one sentence each."""

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest

from linkcheck.errors import DataError
from linkcheck.jobs import store as store_module
from linkcheck.jobs.events import Intake, Note
from linkcheck.jobs.failures import DamagedError
from linkcheck.jobs.store import open_store

CHILD = [sys.executable, "-m", "linkcheck", "jobs"]
# A child without the privileges of root: permission bits count for it.
POWERLESS = ["setpriv", "--bounding-set=-all", "--inh-caps=-all"] if os.geteuid() == 0 else []


def jobs(*words, folder, before=()):
    return subprocess.run(
        [*before, *CHILD, *words],
        env={**os.environ, "LINKCHECK_DATA": str(folder)},
        capture_output=True,
        text=True,
        check=False,
    )


def fill(job):
    """Notes until one is refused: how many went in, and why it ended."""
    for count in range(100_000):
        try:
            job.add(Note("x" * 3000))
        except DataError as error:
            return count, error.sentence
    raise AssertionError("never full")


def test_a_full_disk_refuses_one_entry_and_keeps_the_others(store, job):
    """Simulated by SQLite itself: max_page_count makes it say SQLITE_FULL (sqlite.org/pragma.html)."""
    (pages,) = store._db.execute("PRAGMA page_count").fetchone()
    store._db.execute(f"PRAGMA max_page_count = {pages + 20}")
    count, sentence = fill(job)
    assert "disk is full" in sentence
    assert "not saved" in sentence
    assert len(store.record(job.id).notes) == len(job.record.notes) == count > 5
    store._db.execute("PRAGMA max_page_count = 100000")
    job.add(Note("after making room"))
    assert store.record(job.id).notes[-1].event.text == "after making room"


@pytest.mark.skipif(os.geteuid() != 0, reason="mounting a small file system takes root")
def test_a_disk_that_is_really_full(tmp_path):
    small = tmp_path / "small"
    small.mkdir()
    mount = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", small], check=False, capture_output=True
    )
    if mount.returncode:
        pytest.skip("no file system can be mounted here")
    try:
        with open_store(small / "jobs.db") as store:
            job = store.open(store.create(Intake(unit="Truck 12")))
            count, sentence = fill(job)
            assert "disk is full" in sentence
            assert "Traceback" not in sentence
        shutil.copytree(small, tmp_path / "elsewhere")
    finally:
        subprocess.run(["umount", small], check=True)
    with open_store(tmp_path / "elsewhere" / "jobs.db") as store:
        assert len(store.record(1).notes) == count


@pytest.mark.skipif(os.geteuid() == 0 and not shutil.which("setpriv"), reason="root may write everywhere")
def test_a_read_only_folder_can_be_looked_at_but_not_written(tmp_path):
    folder = tmp_path / "data"
    with open_store(folder / "jobs.db") as store:
        store.create(Intake(unit="Truck 12"))
    folder.chmod(0o555)
    (folder / "jobs.db").chmod(0o444)
    try:
        listed = jobs("list", folder=folder, before=POWERLESS)
        assert listed.returncode == 0
        assert "Truck 12" in listed.stdout
        deleted = jobs("delete", "1", folder=folder, before=POWERLESS)
        new = jobs("list", folder=folder / "deeper", before=POWERLESS)
    finally:
        folder.chmod(0o755)
    for done in (deleted, new):
        assert done.returncode == 2
        assert len(done.stderr.strip().splitlines()) == 1
        assert "LINKCHECK_DATA" in done.stderr
    assert "read-only" in deleted.stderr


@pytest.mark.parametrize("damage", ["no database at all", "header", "tail", "middle"])
def test_a_damaged_file_says_so_and_names_the_rescue(path, damage):
    with open_store(path) as store:
        job = store.open(store.create(Intake(unit="Truck 12")))
        for k in range(60):
            job.add(Note(f"note {k} " + "x" * 300))
    data = bytearray(path.read_bytes())
    match damage:
        case "no database at all":
            data[:] = b"something else entirely" * 1000
        case "header":
            data[:100] = bytes(100)
        case "tail":
            del data[len(data) // 2 :]
        case "middle":
            data[4096 * 5 : 4096 * 6] = b"\xff" * 4096
    path.write_bytes(data)
    with pytest.raises(DamagedError, match="jobs rescue"):
        open_store(path)
    done = jobs("list", folder=path.parent)
    assert done.returncode == 2
    assert "damaged" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_file_held_by_another_program_is_waited_for_then_said(store, job, path, monkeypatch):
    monkeypatch.setattr(store_module, "BUSY_MS", 50)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with open_store(path) as impatient, pytest.raises(DataError, match="Another program"):
            impatient.open(job.id).add(Note("x"))
        other.execute("ROLLBACK")
    assert len(store.record(job.id).entries) == 1


@pytest.mark.skipif(os.geteuid() == 0 and not shutil.which("setpriv"), reason="root may write everywhere")
def test_a_read_only_copy_with_entries_in_its_log_never_shows_less_without_saying_so(tmp_path):
    """A copy taken while a program had the file open: the entries are in the log only."""
    folder = tmp_path / "copy"
    folder.mkdir()
    with open_store(tmp_path / "jobs.db") as store:
        store.create(Intake(unit="Truck 12"))
        for tail in ("", "-wal"):
            shutil.copy(tmp_path / f"jobs.db{tail}", folder)
    folder.chmod(0o555)
    try:
        done = jobs("list", folder=folder, before=POWERLESS)
    finally:
        folder.chmod(0o755)
    assert "Truck 12" in done.stdout or (done.returncode == 2 and "read-only" in done.stderr)
