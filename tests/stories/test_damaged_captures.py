"""Every shipped capture, cut short at every byte of its last kilobyte: no traceback, every line accounted for."""

import gzip
from pathlib import Path

import pytest

from linkcheck.readers import open_capture
from linkcheck.survey import CaptureFile
from linkcheck.traffic import Options

CAPTURES = sorted((Path(__file__).parents[2] / "captures").glob("*.log*"))
KEPT = 4096  # what stands before the last kilobyte is the same for every cut


def text_of(path):
    raw = path.read_bytes()
    return gzip.decompress(raw) if path.suffix == ".gz" else raw


@pytest.mark.parametrize("path", CAPTURES, ids=lambda path: path.name)
def test_cut_at_every_byte_of_the_last_kilobyte(path, tmp_path):
    text = text_of(path)
    tail = text[-KEPT:]
    tail = tail[tail.index(b"\n") + 1 :]
    file = tmp_path / "cut.log"
    for cut in range(len(tail) - 1024, len(tail)):
        file.write_bytes(tail[:cut])
        capture = open_capture(str(file))
        frames = sum(len(batch) for batch in capture.batches())
        capture.close()
        tally = capture.tally
        assert tally.frames == frames
        assert tally.lines == tally.frames + tally.skipped + tally.comments
        assert tally.lines == len(tail[:cut].splitlines())
        assert frames >= tail[:cut].count(b"\n")  # whole lines are never lost


@pytest.mark.parametrize("path", CAPTURES, ids=lambda path: path.name)
def test_a_cut_capture_is_analysed_to_the_end(path, tmp_path):
    text = text_of(path)
    file = tmp_path / "cut.log"
    for cut in range(len(text) - 1024, len(text), 331):
        file.write_bytes(text[:cut])
        result = CaptureFile(str(file), Options()).run()
        assert sum(channel.frames for channel in result.channels.values()) == result.source["frames"]
        damaged = {finding.finding for finding in result.findings}
        assert ("damaged_lines" in damaged) == bool(result.source["skipped"])
