"""What a report says of a job, against the job's own entries and what the walk said at the time."""

import shutil
from pathlib import Path

import pytest
from report_jobs import reading, walked

from linkcheck.jobs.events import Corrected, Intake, Worded
from linkcheck.jobs.session import Session
from linkcheck.jobs.store import open_store
from linkcheck.report.compose import compose
from linkcheck.walk.messages import Answer, Back, Repaired

PINOUTS = Path(__file__).parents[2] / "pinouts"


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "jobs.db") as opened:
        yield opened


@pytest.mark.parametrize(
    ("name", "outcome"),
    [
        ("fuse", "repair_confirmed"),
        ("terminator", "repair_confirmed"),
        ("terminal", "repair_confirmed"),
        ("unrepaired", "cause_proven"),
        ("unfinished", "not_confirmed"),
        ("stated", "cause_stated"),
        ("empty", "no_readings"),
    ],
)
def test_the_outcome_is_no_more_than_the_readings_carry(reports, name, outcome):
    report = reports[name]
    assert report.outcome == outcome
    if outcome != "repair_confirmed":
        said = f"{report.headline} {report.confirmation.text}".lower()
        assert any(word in said for word in ("not confirmed", "not repaired", "do not prove"))


def test_every_reading_of_the_job_is_in_the_table_before_or_after(jobs, reports):
    for name, record in jobs.items():
        if record.walk is None:
            continue
        typed = [[]]
        for event in record.walk.events:
            if isinstance(event, Repaired):
                typed.append([])
            elif isinstance(event, Answer):
                typed[-1].append((event.check, event.text))
        shown = [
            sorted((row.check, figure.typed) for row in reports[name].readings for figure in row.rounds[k])
            for k in range(len(reports[name].rounds))
        ]
        assert shown == [sorted(each) for each in typed]


def test_terminator_job_in_words(reports):
    """60 ohm with both terminators, 120 with one: ISO 11898-2 and SAE J1939-11 ask for 120 ohm at either end."""
    report = reports["terminator"]
    row = next(row for row in report.readings if row.check == "ohms:C-D:dead")
    before, after = (figures[-1] for figures in row.rounds)
    assert before.value == pytest.approx(120, rel=0.05)
    assert after.value == pytest.approx(60, rel=0.05)
    assert (before.verdict, after.verdict) == ("high", "ok")
    assert row.proof
    assert row.expected.low < 60 < row.expected.high
    assert "terminator missing" in report.cause.text
    assert "ohm before" in report.confirmation.text
    assert report.found.behind == ["C", "D"]
    assert report.found.cavities == []


def test_a_bad_cavity_is_named_as_the_connector_names_it(reports):
    assert reports["terminal"].found.cavities == ["16"]
    assert "cavity 16" in reports["terminal"].cause.text
    assert reports["fuse"].found.behind == ["B"]


def test_the_belief_is_what_the_walk_said_at_the_time(store):
    job = store.open(store.create(Intake(unit="x")))
    session = Session(job.begin_walk(), (), job)
    session.settle()
    told = []
    for _ in range(5):
        session.take(Answer(session.check.id, reading(session, ("feed_fuse_open",), session.check)))
        told.append(session.walk.suspects)
    steps = compose(job.record).belief
    assert [step.n for step in steps] == [1, 2, 3, 4, 5]
    for step, then in zip(steps, told, strict=True):
        assert step.none_of_these == then.none_of_these
        shares = {each["fault"]: each["probability"] for each in then.suspects}
        assert all(shares[suspect.fault] == suspect.probability for suspect in step.suspects)
        assert step.suspects[0].fault == then.suspects[0]["fault"]


def test_what_was_undone_or_corrected_is_told_and_does_not_count(store):
    job = store.open(store.create(Intake(unit="x")))
    job.begin_walk()
    job.add(Answer("volts:B-A:key_off", "1.2"))
    job.add(Back())
    answer = job.add(Answer("volts:B-A:key_off", "1.24"), note="slipped")
    job.add(Corrected(answer.n, "12.4"))
    report = compose(job.record)
    (row,) = report.readings
    (figure,) = row.rounds[0]
    assert (figure.words, figure.verdict, figure.note) == ("12.40 V", "ok", "slipped")
    assert [change.text for change in report.changes] == [
        "taken back: volts B to A, key off: 1.20 V",
        "corrected to 12.4: volts B to A, key off: 1.24 V",
    ]


def test_an_unfinished_job_says_what_to_check_next_and_no_cause(reports):
    found = reports["unfinished"].found
    assert not found.proven
    assert (found.cavities, found.behind, found.repairs) == ([], [], [])
    assert found.then[0].startswith("Next check: ")
    assert not [step for step in found.then if "After the repair" in step]


def test_own_words_replace_the_programs_until_they_are_emptied(store):
    job = store.open(store.create(Intake(unit="x", complaint="dark")))
    job.add(Worded("cause", "Mouse in the fuse box."))
    cause = compose(job.record).cause
    assert (cause.text, cause.by) == ("Mouse in the fuse box.", "technician")
    job.add(Worded("cause", ""))
    assert compose(job.record).cause.by == "program"


def test_a_repair_that_did_not_help_is_not_called_good(store):
    job = walked(store, "terminator_missing", after=0)
    session = Session(job.setup, job.walk_events, job)
    session.take(Answer("ohms:C-D:dead", "119.8"))
    report = compose(job.record)
    assert report.outcome == "repaired"
    assert report.confirmation.text.startswith("Not confirmed yet.")
    assert "cavity C to cavity D" in report.confirmation.text


def test_two_repairs_are_two_columns(store):
    job = walked(store, "terminator_missing", after=0)
    session = Session(job.setup, job.walk_events, job)
    session.take(Answer("ohms:C-D:dead", "119.8"))
    session.take(Repaired(["terminator_missing"]))
    session.take(Answer("ohms:C-D:dead", "60.1"))
    report = compose(job.record)
    assert report.rounds == ["before the repair", "after repair 1", "after repair 2"]
    row = next(row for row in report.readings if row.check == "ohms:C-D:dead")
    assert [figures[-1].typed for figures in row.rounds[1:]] == ["119.8", "60.1"]
    assert report.outcome == "repair_confirmed"
    assert "119.8 ohm before, 60.1 ohm after" in report.confirmation.text


def test_a_pinout_that_is_gone_leaves_the_readings_as_typed(store, tmp_path):
    pinout = tmp_path / "own.toml"
    shutil.copy(PINOUTS / "9-pin-type-1.toml", pinout)
    job = store.open(store.create(Intake(unit="x", connector=str(pinout))))
    job.begin_walk()
    job.add(Answer("volts:B-A:key_off", "12.4"))
    assert compose(job.record).trouble == ""
    pinout.unlink()
    report = compose(job.record)
    assert "own.toml" in report.trouble
    assert report.outcome == "not_confirmed"
    assert [figure.typed for row in report.readings for figures in row.rounds for figure in figures] == ["12.4"]
