"""Files of older and newer programs. `data/jobs-version-1.db` was written with version 1's tables; invented content."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from linkcheck.errors import DataError
from linkcheck.jobs import migrations
from linkcheck.jobs.events import Intake, Note, Photo, Tools
from linkcheck.jobs.schema import VERSION
from linkcheck.jobs.store import open_store

OLD = Path(__file__).parent / "data" / "jobs-version-1.db"


@pytest.fixture
def old(path):
    shutil.copy(OLD, path)
    return path


def version(path):
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        return other.execute("PRAGMA user_version").fetchone()[0]


def tables(path):
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        return sorted(other.execute("SELECT type, name, tbl_name FROM sqlite_schema WHERE sql IS NOT NULL"))


def columns(path):
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        return other.execute("SELECT name, type, pk FROM pragma_table_info('events') ORDER BY cid").fetchall()


def test_version_1_is_brought_up_with_all_it_holds(old):
    assert version(old) == 1
    with closing(sqlite3.connect(old, isolation_level=None)) as before:
        bodies = before.execute("SELECT job, n, at, body FROM events ORDER BY job, n").fetchall()
    with open_store(old) as store:
        assert [(line.unit, line.readings) for line in store.list()] == [("Unit 301 (invented)", 2)]
        assert [line.unit for line in store.list("302", deleted=True)] == ["Unit 302 (invented)"]
        job = store.open(1)
        assert [event.text for event in job.walk_events] == ["no_power", "0.02"]
        job.add(Photo("fuse-box.jpg"))
        job.add(Tools(meter="true-RMS handheld"), note="leads nulled")
    assert version(old) == VERSION
    with closing(sqlite3.connect(old, isolation_level=None)) as after:
        assert after.execute("SELECT job, n, at, body FROM events ORDER BY job, n").fetchall()[:7] == bodies[:7]
        assert after.execute("SELECT kind FROM events WHERE job = 1 AND n = 3").fetchone() == ("answer",)
        with pytest.raises(sqlite3.IntegrityError, match="never"):
            after.execute("UPDATE events SET body = ''")


def test_a_migrated_file_has_the_tables_of_a_new_one(old, tmp_path):
    new = tmp_path / "new.db"
    for path in (old, new):
        open_store(path).close()
    assert tables(old) == tables(new)
    assert columns(old) == columns(new)


def test_the_old_file_is_kept_beside_the_new_one(old):
    open_store(old).close()
    aside = old.with_name("jobs.version-1.db")
    assert version(aside) == 1
    with (
        closing(sqlite3.connect(aside, isolation_level=None)) as kept,
        closing(sqlite3.connect(OLD, isolation_level=None)) as original,
    ):
        assert list(kept.iterdump()) == list(original.iterdump())


def test_a_migration_that_breaks_off_leaves_the_old_file(old, monkeypatch):
    monkeypatch.setitem(migrations.STEPS, 2, migrations.STEPS[2] + "CREATE TABLE jobs (oops INTEGER);\n")
    with pytest.raises(DataError):
        open_store(old)
    assert version(old) == 1
    assert [name for name, *_ in columns(old)] == ["job", "n", "at", "body"]
    monkeypatch.undo()
    with open_store(old) as store:
        assert len(store.list()) == 1


def test_a_newer_file_is_left_alone(path):
    with open_store(path) as store:
        store.open(store.create(Intake(unit="Truck 12"))).add(Note("x"))
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(DataError, match="newer linkcheck"):
        open_store(path)
    assert path.read_bytes() == before


def test_some_other_database_is_left_alone(path):
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("CREATE TABLE jobs (name TEXT)")
    with pytest.raises(DataError, match="no file of jobs"):
        open_store(path)
    assert [name for _, name, _ in tables(path)] == ["jobs"]
