"""What a rescue saves of a damaged file. The page reader is checked against SQLite itself."""

import random
import sqlite3
from contextlib import closing

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkcheck.errors import DataError, UsageError
from linkcheck.jobs.events import Intake, Lost, Note, read_body
from linkcheck.jobs.pages import rows_of
from linkcheck.jobs.rescue import rescue, salvage
from linkcheck.jobs.store import open_store

PAGE = 4096


def filled(path, jobs=3, notes=80):
    """A file with short notes and, here and there, one longer than a page."""
    with open_store(path) as store:
        for number in range(jobs):
            job = store.open(store.create(Intake(unit=f"Truck {number}")))
            for k in range(notes):
                job.add(Note(f"{number}/{k} " + "long " * (2000 if k % 19 == 5 else 20)), note="µ" * (k % 3))
        return [store.record(number + 1) for number in range(jobs)]


def test_a_whole_file_gives_every_row_that_sqlite_gives(path):
    filled(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        expected = set(other.execute("SELECT rowid, job, n, at, body, kind, note FROM events"))
        expected |= {(number, None, uid) for number, uid in other.execute("SELECT id, uid FROM jobs")}
    found = {(row.rowid, *row.values) for row in rows_of(path)}
    assert expected <= found


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(
    values=st.lists(
        st.tuples(
            st.none() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False),
            st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=9000) | st.binary(),
        ),
        max_size=30,
    )
)
def test_values_of_every_kind_read_as_sqlite_reads_them(tmp_path_factory, values):
    path = tmp_path_factory.mktemp("pages") / "any.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("CREATE TABLE t (a, b)")
        other.executemany("INSERT INTO t VALUES (?, ?)", values)
        expected = other.execute("SELECT rowid, a, b FROM t").fetchall()
    found = {(row.rowid, *row.values) for row in rows_of(path) if len(row.values) == 2}
    assert {(k, *map(repr, rest)) for k, *rest in expected} <= {(k, *map(repr, rest)) for k, *rest in found}


def test_what_is_only_in_the_log_is_saved_too(path, tmp_path):
    with open_store(path) as store:
        job = store.open(store.create(Intake(unit="Truck 12")))
        for k in range(5):
            job.add(Note(f"in the log {k}"))
        copy = tmp_path / "copy.db"
        copy.write_bytes(path.read_bytes())
        copy.with_name("copy.db-wal").write_bytes(path.with_name("jobs.db-wal").read_bytes())
        expected = store.record(1)
    assert salvage(copy) == [expected]


@pytest.mark.parametrize("part", ["header", "first page", "every inner page"])
def test_a_broken_head_costs_nothing(path, part):
    whole = filled(path)
    data = bytearray(path.read_bytes())
    if part == "header":
        data[:100] = bytes(100)
    elif part == "first page":
        data[:PAGE] = random.Random(1).randbytes(PAGE)  # noqa: S311  no secret
    else:
        for start in range(PAGE, len(data), PAGE):
            if data[start] == 0x05:  # inner page of a table: sqlite.org/fileformat2.html, 1.6
                data[start : start + PAGE] = bytes(PAGE)
    path.write_bytes(data)
    done = rescue(path)
    assert (done.jobs, done.entries, done.lost) == (3, 243, 0)
    with open_store(path) as store:
        assert [store.record(number + 1) for number in range(3)] == whole
    assert done.kept.read_bytes() == bytes(data)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_whatever_is_hit_the_rest_is_saved_and_nothing_is_invented(tmp_path_factory, seed):
    path = tmp_path_factory.mktemp("hit") / "jobs.db"
    whole = filled(path, jobs=2, notes=60)
    chance = random.Random(seed)  # noqa: S311  no secret
    data = bytearray(path.read_bytes())
    pages = chance.sample(range(len(data) // PAGE), 2)
    for page in pages:
        data[page * PAGE : (page + 1) * PAGE] = chance.randbytes(PAGE)
    path.write_bytes(data)
    saved = salvage(path)
    true = {(record.uid, entry.n): entry for record in whole for entry in record.entries}
    known = {record.uid for record in whole}
    for record in saved:
        for entry in record.entries:
            if not isinstance(entry.event, Lost):
                uids = [record.uid] if record.uid in known else known
                assert entry in [true.get((uid, entry.n)) for uid in uids]
    # Two pages hold 2 of some 30; a page holds at most some 25 of these entries, and a broken long one costs itself.
    assert sum(not isinstance(entry.event, Lost) for record in saved for entry in record.entries) >= 60


def test_an_entry_that_is_gone_says_so_in_its_place(path):
    filled(path, jobs=1, notes=80)
    data = bytearray(path.read_bytes())
    place = data.index(b'"1/40' if b'"1/40' in data else b'"0/40')
    data[place - 40 : place + 40] = bytes(80)
    path.write_bytes(data)
    (record,) = salvage(path)
    lost = [entry.n for entry in record.entries if isinstance(entry.event, Lost)]
    assert lost == [42]
    assert len(record.entries) == 81


def test_a_sound_file_and_a_hopeless_one_are_left_alone(path, tmp_path):
    filled(path, jobs=1, notes=2)
    with pytest.raises(UsageError, match="sound"):
        rescue(path)
    hopeless = tmp_path / "hopeless.db"
    hopeless.write_bytes(b"\xff" * 20_000)
    with pytest.raises(DataError, match="no job left"):
        rescue(hopeless)
    assert hopeless.read_bytes() == b"\xff" * 20_000
    with pytest.raises(DataError, match="cannot be read"):
        rescue(tmp_path / "nowhere.db")


def test_bodies_are_read_strictly():
    with pytest.raises(Exception, match="Invalid value"):
        read_body('{"type":"dance"}')
