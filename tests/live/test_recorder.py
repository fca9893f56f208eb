"""The recorder: what it writes is what was heard, whatever the disk does."""

import errno
import json

import pytest
import zstandard

from linkcheck.errors import DataError, UsageError
from linkcheck.frames import EXTENDED, FrameBatch
from linkcheck.readers import open_capture
from linkcheck.survey.recorder import Plan, Recorder

SECOND = 1_000_000_000


def batch(at_s, count=10, first=0):
    rows = [
        (int(at_s * SECOND) + 1000 * i, 0, 0x18FEF100, EXTENDED, 8, (first + i).to_bytes(8, "little"))
        for i in range(count)
    ]
    return FrameBatch.from_rows(rows, ("can0",))


def numbers(path):
    capture = open_capture(str(path))
    found = [int.from_bytes(part.payload(row), "little") for part in capture.batches() for row in range(len(part))]
    capture.close()
    assert capture.tally.skipped == 0
    return found


def test_every_batch_is_on_disk_at_once(tmp_path):
    recorder = Recorder(Plan(str(tmp_path / "a.log")))
    recorder.write(batch(1), SECOND)
    assert numbers(tmp_path / "a.log") == list(range(10))
    recorder.close()


def test_an_earlier_capture_is_never_overwritten(tmp_path):
    (tmp_path / "a.log").write_text("precious\n")
    with pytest.raises(DataError):
        Recorder(Plan(str(tmp_path / "a.log")))
    assert (tmp_path / "a.log").read_text() == "precious\n"


def test_zst_is_a_log_compressed(tmp_path):
    recorder = Recorder(Plan(str(tmp_path / "a.log.zst")))
    for second in range(5):
        recorder.write(batch(second, first=10 * second), second * SECOND)
    recorder.close()
    assert numbers(tmp_path / "a.log.zst") == list(range(50))
    plain = zstandard.ZstdDecompressor().decompressobj().decompress((tmp_path / "a.log.zst").read_bytes())
    assert plain.startswith(b"(0.000000) can0 18FEF100#")


def test_rotation_loses_and_doubles_nothing(tmp_path):
    recorder = Recorder(Plan(str(tmp_path / "a.log"), rotate_bytes=2000))
    for second in range(20):
        recorder.write(batch(second, first=10 * second), second * SECOND)
    recorder.close()
    assert len(recorder.files) > 3
    assert [n for path in recorder.files for n in numbers(path)] == list(range(200))


def test_a_ring_keeps_the_last_files_and_leaves_those_of_others(tmp_path):
    (tmp_path / "a-0007.log").write_text("precious\n")
    recorder = Recorder(Plan(str(tmp_path / "a.log"), rotate_bytes=1000, keep=2))
    for second in range(20):
        recorder.write(batch(second, first=10 * second), second * SECOND)
    recorder.close()
    assert len(recorder.files) == 2
    assert recorder.files[0].name > "a-0008.log"
    assert (tmp_path / "a-0007.log").read_text() == "precious\n"
    assert numbers(recorder.files[-1])[-1] == 199


def test_a_trigger_keeps_the_seconds_before_and_after(tmp_path):
    recorder = Recorder(Plan(str(tmp_path / "a.log"), triggered=True, before_s=3, after_s=2))
    for tenth in range(300):
        now = tenth * SECOND // 10
        recorder.write(batch(tenth / 10, 1, tenth), now)
        if tenth in (100, 110, 250):
            recorder.trigger(now, "a reason")
    recorder.close()
    first, second = (numbers(path) for path in recorder.files)
    assert (first[0], first[-1]) == (70, 131)
    assert (second[0], second[-1]) == (220, 271)
    assert first == list(range(70, 132))


def test_nothing_triggered_makes_no_log(tmp_path):
    recorder = Recorder(Plan(str(tmp_path / "a.log"), triggered=True))
    recorder.write(batch(1), SECOND)
    recorder.close()
    assert list(tmp_path.iterdir()) == []


class FullDisk:
    """A disk with room for so many bytes, which takes half a line before it says so."""

    def __init__(self, room):
        self.room = room

    def open(self, path):
        disk, stream = self, path.open("xb", buffering=0)

        class File:
            def write(self, block):
                part = bytes(block)[: disk.room]
                if not part:
                    raise OSError(errno.ENOSPC, "No space left on device")
                disk.room -= len(part)
                return stream.write(part)

            truncate, close = staticmethod(stream.truncate), staticmethod(stream.close)

        return File()


@pytest.mark.parametrize("name", ["a.log", "a.log.zst"])
def test_a_full_disk_stops_the_writing_and_nothing_else(tmp_path, name):
    disk = FullDisk(1000 if name == "a.log" else 120)
    recorder = Recorder(Plan(str(tmp_path / name)), disk.open)
    for second in range(10):
        recorder.write(batch(second, first=10 * second), second * SECOND)
    assert "No space left" in recorder.problem
    disk.room = 1 << 20
    for second in range(20, 25):
        recorder.write(batch(second, first=10 * second), second * SECOND)
    recorder.close()
    assert recorder.problem == ""
    whole = [n for path in recorder.files for n in numbers(path)]
    assert whole[-50:] == list(range(200, 250))
    assert whole == sorted(set(whole))
    assert recorder.missed == 100 - recorder.written + 50
    kinds = [json.loads(line)["kind"] for line in (tmp_path / "a.events.jsonl").read_text().splitlines()]
    assert kinds == ["disk", "disk"]


def test_a_disk_that_stays_full_leaves_no_heap_of_empty_files(tmp_path):
    disk = FullDisk(400)
    recorder = Recorder(Plan(str(tmp_path / "a.log")), disk.open)
    for second in range(60):
        recorder.write(batch(second), second * SECOND)
    recorder.close()
    assert len(list(tmp_path.glob("*.log"))) <= 1


def test_what_the_kernel_dropped_stands_in_the_log_as_candump_writes_it(tmp_path):
    recorder = Recorder(Plan(str(tmp_path / "a.log")))
    recorder.write(batch(1), SECOND)
    recorder.dropped("can0", 7, 7)
    recorder.close()
    capture = open_capture(str(tmp_path / "a.log"))
    list(capture.batches())
    assert (capture.tally.dropped, capture.tally.skipped) == (7, 0)
    capture.close()


def test_plans_that_make_no_sense():
    with pytest.raises(UsageError):
        Plan("a.log", keep=3)
    with pytest.raises(UsageError):
        Plan("a.log", triggered=True, before_s=10_000)
    with pytest.raises(DataError):
        Recorder(Plan("/no/such/folder/a.log"))
