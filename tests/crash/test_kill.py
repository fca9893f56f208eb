"""Programs killed at any moment, and two programs at once: every reading that was acknowledged is there."""

import random
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from linkcheck.jobs.events import Intake
from linkcheck.jobs.store import open_store
from linkcheck.walk.messages import Answer

CHILD = Path(__file__).with_name("adding_child.py")
ROUNDS, PARTS = 200, 10  # kills in all, and the tests they are spread over


def begin(path):
    with open_store(path) as store:
        job = store.open(store.create(Intake(unit="Truck 12")))
        job.begin_walk()


def start(path):
    return subprocess.Popen(
        [sys.executable, str(CHILD), str(path), "1"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def texts(path):
    with open_store(path) as store:
        return [entry.event.text for entry in store.record(1).walk.answers]


@pytest.mark.parametrize("part", range(PARTS))
def test_kill_9_at_a_random_moment_loses_nothing_acknowledged(tmp_path, part):
    path = tmp_path / "jobs.db"
    begin(path)
    chance = random.Random(part)  # noqa: S311  no secret
    acknowledged = 0
    for _ in range(ROUNDS // PARTS):
        with start(path) as child:
            first = child.stdout.readline()
            assert first, child.stderr.read()
            time.sleep(chance.uniform(0, 0.03))
            child.kill()  # SIGKILL: nothing of the child runs after this
            said = [line for line in (first + child.stdout.read()).splitlines(keepends=True) if line.endswith("\n")]
        acknowledged = int(said[-1])
        kept = texts(path)
        # One more may have reached the disk before its number was said.
        assert kept[:acknowledged] == [str(k) for k in range(1, acknowledged + 1)]
        assert len(kept) - acknowledged <= 1
    assert acknowledged > ROUNDS // PARTS
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        assert other.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_two_programs_on_one_file(tmp_path):
    """Each adds to a job of its own as fast as it can; nothing of either is lost or mixed."""
    path = tmp_path / "jobs.db"
    code = (
        "import sys\n"
        "from linkcheck.jobs.store import open_store\n"
        "from linkcheck.jobs.events import Intake, Note\n"
        "with open_store(sys.argv[1]) as store:\n"
        "    job = store.open(store.create(Intake(unit=sys.argv[2])))\n"
        "    for k in range(150):\n"
        "        job.add(Note(f'{sys.argv[2]} {k}'))\n"
        "        store.list('nothing')\n"
    )
    names = ("first", "second", "third")
    children = [
        subprocess.Popen([sys.executable, "-c", code, str(path), name], stderr=subprocess.PIPE, text=True)
        for name in names
    ]
    for child in children:
        _, error = child.communicate(timeout=120)
        assert (child.returncode, error) == (0, "")
    with open_store(path) as store:
        jobs = {line.unit: store.record(line.id) for line in store.list()}
    assert sorted(jobs) == sorted(names)
    for name, job in jobs.items():
        assert [entry.event.text for entry in job.notes] == [f"{name} {k}" for k in range(150)]


def test_two_programs_on_one_job_keep_every_note(tmp_path):
    path = tmp_path / "jobs.db"
    begin(path)
    code = (
        "import sys\n"
        "from linkcheck.jobs.store import open_store\n"
        "from linkcheck.jobs.events import Note\n"
        "with open_store(sys.argv[1]) as store:\n"
        "    job = store.open(1)\n"
        "    for k in range(100):\n"
        "        job.add(Note(f'{sys.argv[2]} {k}'))\n"
    )
    children = [subprocess.Popen([sys.executable, "-c", code, str(path), name]) for name in "ab"]
    assert [child.wait(120) for child in children] == [0, 0]
    with open_store(path) as store:
        notes = [entry.event.text for entry in store.record(1).notes]
    for name in "ab":
        assert [note for note in notes if note.startswith(name)] == [f"{name} {k}" for k in range(100)]


def test_one_that_writes_does_not_stop_one_that_reads(tmp_path):
    path = tmp_path / "jobs.db"
    begin(path)
    with start(path) as child, open_store(path) as store:
        child.stdout.readline()
        seen = [len(store.record(1).walk.answers) for _ in range(50)]
        child.kill()
        assert seen == sorted(seen)
        assert isinstance(store.record(1).walk.answers[0].event, Answer)
