"""A job out to a file and in again; files that are none."""

import json
import re
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from job_strategies import STEPS, play

from linkcheck.errors import DataError
from linkcheck.jobs import events
from linkcheck.jobs.events import Intake, Note, TrafficAttached
from linkcheck.jobs.exchange import export_job, import_job, read_job
from linkcheck.jobs.store import open_store
from linkcheck.jobs.traffic_summary import SERIES_POINTS, SeriesSummary, summary_of
from linkcheck.survey import CaptureFile
from linkcheck.traffic import Options
from linkcheck.walk.messages import Answer, Setup

ROOT = Path(__file__).parents[2]
FORMAT = ROOT / "linkcheck" / "jobs" / "format.md"


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100, deadline=None)
@given(steps=STEPS)
def test_export_then_import_is_equal(tmp_path_factory, steps):
    folder = tmp_path_factory.mktemp("exchange")
    with open_store(folder / "one.db") as one, open_store(folder / "other.db") as other:
        job = one.open(one.create(Intake(unit="any", shield=True, odometer="412 300 km")))
        job.begin_walk(Setup(pinout="9-pin-type-1"))
        play(job, steps)
        file = folder / "job.json"
        file.write_text(export_job(job.record), encoding="utf-8")
        done = import_job(other, str(file))
        assert done.new
        there = other.record(done.job)
        assert (there.uid, there.entries) == (job.record.uid, job.record.entries)
        assert export_job(there) == file.read_text(encoding="utf-8")
        assert other.list("any")[0].readings == one.list("any")[0].readings


def test_a_job_grows_by_what_is_new_in_the_file(store, job, tmp_path):
    file = tmp_path / "job.json"
    with open_store(tmp_path / "other.db") as other:
        file.write_text(export_job(job.record))
        first = import_job(other, str(file))
        job.add(Note("second visit"))
        file.write_text(export_job(job.record))
        assert import_job(other, str(file)).added == 1
        assert import_job(other, str(file)).added == 0
        assert other.record(first.job).entries == job.entries
        assert import_job(store, str(file)).added == 0


def test_a_job_that_went_on_differently_is_not_mixed(store, job, tmp_path):
    file = tmp_path / "job.json"
    with open_store(tmp_path / "other.db") as other:
        file.write_text(export_job(job.record))
        there = other.open(import_job(other, str(file)).job)
        there.add(Note("there"))
        job.add(Note("here"))
        file.write_text(export_job(there.record))
        with pytest.raises(DataError, match="differently"):
            import_job(store, str(file))
    assert [entry.event.text for entry in store.record(job.id).notes] == ["here"]


def broken(text, change):
    data = json.loads(text)
    change(data)
    return json.dumps(data)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda d: d.update(schema="linkcheck.job/9"), "it is linkcheck.job/9"),
        (lambda d: d.pop("schema"), "no schema"),
        (lambda d: d.pop("uid"), "uid"),
        (lambda d: d.update(uid="../../etc"), "uid"),
        (lambda d: d.update(entries=[]), "begins with its intake"),
        (lambda d: d["entries"].pop(0), "begins with its intake"),
        (lambda d: d["entries"][1].update(n=7), "entry 2: Entries are numbered"),
        (lambda d: d["entries"][1].update(at="2026-03-02T07:30:00"), "offset"),
        (lambda d: d["entries"][1].update(at="yesterday"), "at"),
        (lambda d: d["entries"][1].update(event={"type": "dance"}), "dance"),
        (lambda d: d["entries"][1].update(event={"type": "note", "text": 5}), "text"),
        (lambda d: d["entries"][1].update(event={"type": "back"}), "entry 2: This entry does not fit"),
        (lambda d: d["entries"][1].update(event={"type": "withdrawn", "of": 1}), "does not fit"),
        (lambda d: d["entries"][1].update(extra=1), "extra"),
    ],
)
def test_a_file_that_is_no_job_gets_a_sentence_and_changes_nothing(job, tmp_path, change, says):
    job.add(Note("x"))
    file = tmp_path / "job.json"
    file.write_text(broken(export_job(job.record), change))
    with open_store(tmp_path / "other.db") as other:
        with pytest.raises(DataError, match=re.escape(says)) as caught:
            import_job(other, str(file))
        assert str(file) in caught.value.sentence
        assert other.list() == []


@pytest.mark.parametrize("data", [b"", b"[]", b"\xff\xfe", b"{" * 5000, b"[" * 100_000])
def test_no_json_at_all(tmp_path, data):
    file = tmp_path / "job.json"
    file.write_bytes(data)
    with pytest.raises(DataError, match="no job"):
        read_job(str(file))


def test_what_a_job_keeps_of_a_capture_is_what_replay_prints(job):
    """Against the whole result: every figure kept is the very same, the load over time thinned at most."""
    whole = msgspec.to_builtins(CaptureFile(str(ROOT / "captures" / "drops-over-bumps.log"), Options()).run())
    kept = msgspec.to_builtins(summary_of(whole))

    def same(part, of, path=""):
        for key, value in part.items():
            if key == "series" and value is not None:
                assert len(value["mean"]) <= SERIES_POINTS
                assert max(value["peak_100ms"]) == max(of[key]["peak_100ms"])
            elif isinstance(value, dict):
                same(value, of[key], f"{path}/{key}")
            elif isinstance(value, list) and value and isinstance(value[0], dict):
                for each, other in zip(value, of[key], strict=True):
                    same(each, other, f"{path}/{key}")
            else:
                assert value == of[key], f"{path}/{key}"

    same(kept, whole)
    entry = job.add(TrafficAttached("before", summary_of(whole)))
    assert job.record.traffic["before"] == entry.event
    assert len(msgspec.json.encode(entry)) < 20_000


def test_an_hour_of_load_is_thinned_without_losing_its_peak():
    mean = [0.2] * 3600
    peak = [0.3] * 3600
    peak[1234] = 0.97
    thin = SeriesSummary(0.0, 1.0, mean, peak).thinned(240)
    assert (len(thin.mean), thin.step_s, max(thin.peak_100ms)) == (240, 15.0, 0.97)
    assert thin.mean == pytest.approx([0.2] * 240)


@pytest.mark.parametrize("wrong", [{}, {"schema": "linkcheck.traffic/9", "source": {}, "channels": {}}, 5, "x"])
def test_something_that_is_no_analysis(wrong):
    with pytest.raises(DataError):
        summary_of(wrong)


def test_the_format_page_names_every_type_and_key():
    page = FORMAT.read_text()
    for kind in events.JobEvent.__args__:
        info = msgspec.inspect.type_info(kind)
        assert f"`{info.tag}`" in page, info.tag
        row = next(line for line in page.splitlines() if line.startswith(f"| `{info.tag}`"))
        for each in info.fields:
            assert f"`{each.encode_name}`" in row, f"{info.tag}.{each.encode_name}"


def test_the_example_on_the_format_page_can_be_imported(store, tmp_path):
    (example,) = re.findall(r"```json\n(.*?)```", FORMAT.read_text(), re.DOTALL)
    file = tmp_path / "example.json"
    file.write_text(example)
    done = import_job(store, str(file))
    assert [type(event) for event in store.open(done.job).walk_events] == [Answer]
