"""The plain text log: what is read, what is skipped and why, and `linkcheck replay` on it."""

import gzip
import io
import json
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from j1708.links import START_NS, chunks_of, message

from linkcheck.cli.main import main
from linkcheck.errors import DataError
from linkcheck.j1708.framing import CHARACTER_NS
from linkcheck.readers import open_capture
from linkcheck.readers.byte_log import HEADER, ByteLog, NotFramesError, byte_line
from linkcheck.readers.sniff import sniff
from linkcheck.readers.source import open_source

SPEED, LAMPS = message(128, [190, 0x40, 0x1F], [84, 60]), message(136, [49, 0])


def read(path, text):
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    log = ByteLog(open_source(str(path)))
    chunks = list(log.chunks())
    log.close()
    assert log.tally.lines == log.tally.frames + log.tally.skipped + log.tally.comments
    return chunks, log.tally


def test_what_is_written_is_read(tmp_path):
    chunks = [(end_ns // 1000 * 1000, data) for end_ns, data in chunks_of([SPEED, LAMPS, SPEED])]
    text = HEADER + "".join(byte_line(end_ns, data) for end_ns, data in chunks)
    assert read(tmp_path / "link.log", text)[0] == chunks


@pytest.mark.parametrize(
    "line",
    [
        "1.5 80 BE 40",
        "  (1.5)  80,be,40  # engine",
        "[1.500000] 80BE40",
        "1.5;0x80;0xBE;0x40",
        "1.5: 80 be 40\r",
    ],
)
def test_layouts(tmp_path, line):
    assert read(tmp_path / "link.log", f"# times of the last byte\n{line}\n")[0] == [(1_500_000_000, b"\x80\xbe\x40")]


def test_what_cannot_be_read_is_counted_with_its_reason(tmp_path):
    chunks, tally = read(tmp_path / "link.log", "0.1 80 BE 40 06 7C\nhello\n0.2 8\n99999999999.0 80\n\n0.3 80 B")
    assert len(chunks) == 1
    assert [(skip.line, skip.reason) for skip in tally.skipped_lines] == [
        (2, "no time and bytes in hexadecimal"),
        (3, "no time and bytes in hexadecimal"),
        (4, "time out of range"),
        (6, "no time and bytes in hexadecimal (the last line, perhaps cut off)"),
    ]


def test_times_of_the_first_byte_are_told_by_a_remark_or_by_lines_that_would_overlap(tmp_path):
    chunks = chunks_of([SPEED, LAMPS] * 20, idle_bits=12)
    starts = [(end_ns - len(data) * CHARACTER_NS, data) for end_ns, data in chunks]
    text = "".join(byte_line(time_ns, data) for time_ns, data in starts)
    for head in ("", "# times are those of the first byte\n"):
        got, tally = read(tmp_path / "link.log", head + text)
        assert [data for _, data in got] == [data for _, data in chunks]
        assert all(abs(end_ns - true_ns) <= 1000 for (end_ns, _), (true_ns, _) in zip(got, chunks, strict=True))
        assert "first byte" in tally.notes[0]


@given(st.lists(st.tuples(st.integers(0, 9_000_000_000 * 10**6), st.binary(min_size=1, max_size=40)), min_size=1))
def test_any_log_is_read_back(tmp_path_factory, rows):
    chunks = [(time_us * 1000, data) for time_us, data in rows]
    text = HEADER + "".join(byte_line(end_ns, data) for end_ns, data in chunks)
    assert read(tmp_path_factory.getbasetemp() / "any.log", text)[0] == chunks


@given(st.binary(max_size=300))
def test_any_bytes_are_accounted_for(tmp_path_factory, junk):
    read(tmp_path_factory.getbasetemp() / "junk.log", b"0.1 80 BE 40 06 7C\n" + junk)


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "link.log"
    chunks = chunks_of([SPEED, LAMPS, message(136, [194, 3, 231, 0b1011_1001, 3])] * 30, idle_bits=600)
    path.write_text(HEADER + "".join(byte_line(end_ns, data) for end_ns, data in chunks))
    return path


def test_it_is_told_by_its_content(log):
    assert sniff(log.read_bytes(), "x", whole=True) == "j1708"
    assert sniff(b"garbage\n" + log.read_bytes(), "x", whole=True) == "j1708"


def test_whoever_wants_frames_gets_a_sentence(log):
    with pytest.raises(NotFramesError, match="byte log of a J1708 link") as caught:
        open_capture(str(log))
    assert isinstance(caught.value, DataError)


def test_replay_prints_a_page(log, capsys):
    assert main(["replay", str(log), "--expect", "128,140"]) == 0
    page = capsys.readouterr().out
    assert "FAULT  90%  instrument cluster (MID 140) should be on this link" in page
    assert "SID 231   FMI 9  active   ×3  J1939 data link" in page
    assert "F to A" in page
    assert max(map(len, page.splitlines()[1:])) <= 100  # the first holds the path, however long


def test_replay_prints_json(log, capsysbinary):
    assert main(["replay", str(log), "--json", "--strict", "--expect", "140"]) == 1
    result = json.loads(capsysbinary.readouterr().out)
    assert result["schema"] == "linkcheck.j1708/1"
    assert result["messages"] == 90
    assert result["source"]["lines"] == 91
    assert [row["mid"] for row in result["senders"]] == [128, 136]


@pytest.mark.parametrize("packed", [False, True])
def test_replay_reads_standard_input(log, packed):
    data = gzip.compress(log.read_bytes()) if packed else log.read_bytes()
    done = subprocess.run(
        [sys.executable, "-m", "linkcheck", "replay", "-", "--json"], input=data, capture_output=True, check=True
    )
    assert json.load(io.BytesIO(done.stdout))["messages"] == 90


def test_a_part_of_a_log(log, capsysbinary):
    assert main(["replay", str(log), "--json", "--from", "1", "--to", "2"]) == 0
    result = json.loads(capsysbinary.readouterr().out)
    assert 0 < result["messages"] < 90
    assert result["last_s"] <= 1.01


def test_options_for_frames_are_ignored_and_said_so(log, capsys):
    assert main(["replay", str(log), "--bit-rate", "250k"]) == 0
    assert "--bit-rate" in capsys.readouterr().err


def test_times_start_at_the_first_byte():
    assert byte_line(START_NS + 1_234_567, b"\x80") == "1700000000.001234 80\n"
