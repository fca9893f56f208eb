"""The store: what goes in stays, comes out the same, and is found again."""

import sqlite3
import threading
from contextlib import closing

import pytest
from hypothesis import HealthCheck, given, settings
from job_strategies import STEPS, play

from linkcheck.errors import DataError, UsageError
from linkcheck.jobs.events import (
    CauseConfirmed,
    Corrected,
    Intake,
    Note,
    Photo,
    Withdrawn,
    Worded,
)
from linkcheck.jobs.failures import MovedOnError
from linkcheck.jobs.session import Session
from linkcheck.jobs.store import data_path, open_store
from linkcheck.walk.messages import Answer, Back, Setup, Skip


def rows(path):
    """What another SQLite program sees."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        return other.execute("SELECT job, n, kind, body, note FROM events ORDER BY job, n").fetchall()


def test_the_file_is_kept_as_the_contract_says(store, path):
    """sqlite.org/pragma.html: 2 is FULL; foreign keys are off unless asked for."""
    ask = store._db.execute
    assert ask("PRAGMA journal_mode").fetchone() == ("wal",)
    assert ask("PRAGMA synchronous").fetchone() == (2,)
    assert ask("PRAGMA foreign_keys").fetchone() == (1,)
    assert ask("PRAGMA busy_timeout").fetchone()[0] >= 5000
    assert path.read_bytes()[:15] == b"SQLite format 3"


def test_an_entry_is_in_the_file_when_add_returns(job, path):
    job.begin_walk()
    job.add(Answer("volts:B-A:key_off", "12.41"), note="key was hard to turn")
    *_, last = rows(path)
    assert last == (
        1,
        3,
        "answer",
        '{"type":"answer","check":"volts:B-A:key_off","text":"12.41"}',
        "key was hard to turn",
    )


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET body = '{}'",
        "DELETE FROM events",
        "UPDATE jobs SET uid = 'other'",
        "DELETE FROM jobs",
        "INSERT OR REPLACE INTO events (job, n, at, body) VALUES (1, 1, '', '{}')",
        "INSERT INTO events (job, n, at, body) VALUES (1, 9, '', '{}')",
    ],
)
def test_no_program_can_rewrite_an_entry(job, path, statement):
    before = rows(path)
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as other,
        pytest.raises(sqlite3.IntegrityError, match=r"never|at the end"),
    ):
        other.execute(statement)
    assert rows(path) == before
    assert job.entries


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(steps=STEPS)
def test_any_sequence_of_readings_undo_and_corrections(tmp_path_factory, steps):
    path = tmp_path_factory.mktemp("store") / "jobs.db"
    with open_store(path) as store:
        job = store.open(store.create(Intake(unit="any")))
        job.begin_walk(Setup(pinout="9-pin-type-1"))
        model = play(job, steps)
        assert [(event.check, event.text) for event in job.walk_events if isinstance(event, Answer)] == model.readings()
        assert len(job.walk_events) == len(model.walk)
        assert [entry.event.text for entry in job.record.notes] == [text for _, text in model.notes]
        known = job.record
    assert len(rows(path)) == 2 + model.acknowledged  # what was undone is there too
    with open_store(path) as store:
        assert store.record(1) == known


def test_what_was_undone_stays_visible(job):
    job.begin_walk()
    job.add(Answer("volts:B-A:key_off", "1.2"))
    job.add(Back())
    assert job.walk_events == ()
    assert Answer("volts:B-A:key_off", "1.2") in job.events


@pytest.mark.parametrize(
    ("event", "why"),
    [
        (Answer("ohms:C-D:dead", "60"), "no walk"),
        (Back(), "nothing to take back"),
        (Corrected(1, "60"), "no reading"),
        (Withdrawn(1), "cannot be withdrawn"),
        (Withdrawn(99), "cannot be withdrawn"),
    ],
)
def test_an_event_without_a_place_is_refused_and_changes_nothing(job, path, event, why):
    before = rows(path)
    with pytest.raises(UsageError, match=why):
        job.add(event)
    assert rows(path) == before
    assert len(job.entries) == 1


def test_back_stops_at_the_start_of_the_walk(job):
    job.begin_walk()
    job.add(Skip("listen:own"))
    job.add(Back())
    with pytest.raises(UsageError, match="nothing to take back"):
        job.add(Back())


def test_takes_back_names_the_last_thing_that_stands(job):
    assert job.record.takes_back is None
    job.begin_walk()
    assert job.record.takes_back is None
    answer = job.add(Answer("ohms:C-D:dead", "60"))
    note = job.add(Note("wet connector"))
    assert job.record.takes_back == note
    job.add(Withdrawn(note.n))
    assert job.record.takes_back == answer
    job.add(Back())
    assert job.record.takes_back is None


def test_a_second_walk_leaves_the_first_in_the_record(job):
    job.begin_walk()
    job.add(Answer("ohms:C-D:dead", "60"))
    job.begin_walk(Setup(pinout="9-pin-type-2"))
    job.add(Answer("ohms:C-D:dead", "120"))
    assert [part.setup.pinout for part in job.record.walks] == ["9-pin-type-1", "9-pin-type-2"]
    assert [event.text for event in job.walk_events] == ["120"]


def test_search_looks_at_unit_complaint_and_cause(store):
    first = store.create(Intake(unit="Truck 12", complaint="keine Verbindung, Stecker Größe M"))
    second = store.create(Intake(unit="Trailer 7", complaint="drops out over bumps"))
    store.open(second).add(CauseConfirmed(["terminator_missing"], "terminating resistor missing"))
    store.open(first).add(Worded("cause", "water in the plug"))

    def found(query):
        return [job.id for job in store.list(query)]

    assert found("truck") == [first]
    assert found("TERMINATING trailer") == [second]
    assert found("groesse") == []
    assert found("GRÖSSE") == [first]
    assert found("water") == [first]
    assert found("100%") == []
    assert found("") == [first, second]  # the last changed first


def test_delete_takes_it_out_of_the_list_and_undelete_brings_it_back(store, job):
    store.delete(job.id)
    assert store.list() == []
    assert [line.id for line in store.list(deleted=True)] == [job.id]
    store.undelete(job.id)
    assert [line.id for line in store.list()] == [job.id]
    assert len(store.record(job.id).entries) == 3


def test_a_job_is_found_by_number_or_the_beginning_of_its_uid(store, job):
    uid = job.record.uid
    assert store.find(str(job.id)) == store.find(uid[:8]) == store.find(uid.upper()) == job.id
    for wrong in ("99", "zzzz", "", "1; DROP TABLE jobs"):
        with pytest.raises(UsageError, match="no such job"):
            store.find(wrong)


def test_a_walk_that_went_on_elsewhere_is_not_mixed_up(job, path):
    """Back in one window must not take back what another window has entered since."""
    job.begin_walk()
    job.add(Answer("volts:B-A:key_off", "12.41"))
    with open_store(path) as other:
        there = other.open(job.id)
        there.add(Answer("ohms:C-D:dead", "60"))
        with pytest.raises(MovedOnError, match="another window"):
            job.add(Back())
        note = job.add(Note("a note harms nobody"))
        assert note.n == 5
        assert [event.text for event in job.walk_events] == ["12.41", "60"]
        job.add(Back())
        assert [event.text for event in job.walk_events] == ["12.41"]
        assert [type(entry.event) for entry in there.refresh()] == [Note, Back]
        assert there.record == job.record


def test_threads_share_a_store(store, job):
    def work(name):
        own = store.open(job.id)
        for k in range(20):
            own.add(Photo(f"{name}-{k}.jpg"))

    threads = [threading.Thread(target=work, args=(name,)) for name in "abc"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    paths = [photo.path for photo in store.record(job.id).photos]
    assert sorted(paths) == sorted(f"{name}-{k}.jpg" for name in "abc" for k in range(20))


def test_the_clock_never_runs_back_in_a_job(store, job, monkeypatch):
    later = job.add(Note("at the truck")).at
    monkeypatch.setattr(store, "_clock", lambda: later.replace(year=2001))
    assert job.add(Note("after the laptop's battery died")).at == later


def test_the_folder_is_the_users_own_or_the_one_named(monkeypatch, tmp_path):
    monkeypatch.setenv("LINKCHECK_DATA", str(tmp_path / "here"))
    assert data_path() == tmp_path / "here" / "jobs.db"
    monkeypatch.delenv("LINKCHECK_DATA")
    assert data_path().name == "jobs.db"
    assert "linkcheck" in data_path().parts


def test_a_session_writes_to_the_job_and_resumes_from_it(store, job):
    setup = job.begin_walk()
    session = Session(setup, (), job)
    for text in ("no_power", "0.01"):
        session.take(Answer(session.check.id, text))
    session.take(Back())
    assert [event.text for event in store.open(job.id).walk_events] == ["no_power"]
    again = Session(setup, store.open(job.id).walk_events, job)
    assert again.card == session.card
    assert again.walk.suspects.suspects == session.walk.suspects.suspects


def test_a_reading_that_could_not_be_kept_does_not_count(store, job, monkeypatch):
    session = Session(job.begin_walk(), (), job)
    session.take(Answer("listen:own", "no_power"))
    card, suspects = session.card, session.walk.suspects

    def refuse(*_):
        raise DataError("The disk is full.")

    monkeypatch.setattr(store, "append", refuse)
    with pytest.raises(DataError):
        session.take(Answer("volts:B-A:key_off", "0.01"))
    assert (session.card, session.walk.suspects) == (card, suspects)
    assert session.walk.readings == 1
