"""Damaged captures: nothing but `DataError` escapes, and every line is accounted for.

Formats read in the child process are read here by the child's own code in this process, so that thousands of damaged
files can be tried; a few go through the child.
"""

import contextlib
import gzip
import io
import json
import time
from pathlib import Path

import can
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reading import assert_adds_up, read, rows
from trc_examples import ALL

from linkcheck.errors import DataError
from linkcheck.frames import ERROR
from linkcheck.frames.records import RECORD
from linkcheck.readers.account import Account
from linkcheck.readers.console import ConsoleCapture
from linkcheck.readers.foreign import read as read_foreign
from linkcheck.readers.python_can import FRAMES, NEWS
from linkcheck.readers.trc import TrcCapture

SENTRY = Path(__file__).parent.parent / "data" / "truck_sentry_console" / "normal-head.log"
CONSOLE = SENTRY.read_bytes()[:6000] + (
    b" (000.077000)  can0  20000088   [8]  00 00 84 19 00 00 10 00   ERRORFRAME\n"
    b"\tprotocol-violation{{bit-stuffing-error}{acknowledge-slot}}\n\tbus-error\n"
    b" (000.078000)  can0       123   [3]  remote request\n"
    b" (000.079000)  can0  RX B -  18FEF100  [12]  00 01 02 03 04 05 06 07 08 09 0A 0B\n"
    b" (000.080000)  can1  123   [8]  00 01 02 03 04 05 06 07   '........'\n"
)
TEXTS = {f"trc {version}": (TrcCapture, text.encode()) for version, text in ALL.items()} | {
    "console": (ConsoleCapture, CONSOLE)
}


def messages():
    for i in range(120):
        kind = {"is_error_frame": True} if i % 20 == 7 else {"data": bytes(range(i % 9))}
        kind |= {"is_remote_frame": True, "dlc": 3, "data": None} if i % 20 == 11 else {}
        yield can.Message(
            timestamp=1436509052 + i / 100, arbitration_id=0x18FEF100 + i % 7, channel=i % 2, is_rx=bool(i % 5), **kind
        )


@pytest.fixture(scope="module")
def foreign(tmp_path_factory):
    """One good file of each format python-can writes."""
    folder = tmp_path_factory.mktemp("foreign")
    for suffix in ("asc", "csv", "blf", "db"):
        logger = can.Logger(str(folder / f"x.{suffix}"))
        for message in messages():
            logger.on_message_received(message)
        if suffix == "db":
            time.sleep(1.0)
        logger.stop()
    return {
        kind: (folder / f"x.{suffix}").read_bytes()
        for kind, suffix in {"asc": "asc", "csv": "csv", "blf": "blf", "sqlite": "db"}.items()
    }


KINDS = ["asc", "csv", "blf", "sqlite"]


def read_by_the_childs_code(kind, path):
    """What the child sends of a file, which must add up."""
    sent = {NEWS: [], FRAMES: []}
    account = Account(lambda part, body: sent[part].append(body))
    read_foreign(kind, str(path), account)
    if account.source:
        account.source.close()
    last = json.loads(sent[NEWS][-1])
    assert last["ended"]
    frames = sum(map(len, sent[FRAMES])) // RECORD.itemsize
    assert last["lines"] == frames + last["skipped"] + last["comments"]
    return frames, last


def read_text(name, data):
    opener, _ = TEXTS[name]
    capture = opener(name, io.BytesIO(data))
    found = rows(capture.batches())
    assert_adds_up(capture.tally, found)
    return found


@pytest.mark.parametrize("name", TEXTS)
def test_text_cut_at_every_byte(name):
    """A cut never makes a frame that was not there; what stands before the cut is unharmed."""
    _, data = TEXTS[name]
    whole = [row[1:] for row in read_text(name, data)]
    for end in range(max(0, len(data) - 1024), len(data)):
        cut = [row[1:] for row in read_text(name, data[:end])]
        assert cut == whole[: len(cut)]
        assert len(cut) >= len(whole) - data[end:].count(b"\n") - 1


@pytest.mark.parametrize("name", TEXTS)
@settings(max_examples=150, deadline=None)
@given(st.data())
def test_text_mangled(name, data):
    _, good = TEXTS[name]
    read_text(name, mangled(data, good))


def mangled(data, good):
    """A few bytes changed, taken out or put in, or a stretch moved."""
    text = bytearray(good)
    for _ in range(data.draw(st.integers(1, 8))):
        place = data.draw(st.integers(0, len(text) - 1))
        match data.draw(st.sampled_from(["change", "cut", "insert", "move"])):
            case "change":
                text[place] = data.draw(st.integers(0, 255))
            case "cut":
                del text[place : place + data.draw(st.integers(1, 40))]
            case "insert":
                text[place:place] = data.draw(st.binary(min_size=1, max_size=20))
            case "move":
                stretch = text[place : place + 60]
                del text[place : place + 60]
                text += stretch
        text = text or bytearray(b"x")
    return bytes(text)


@pytest.mark.parametrize("kind", KINDS)
def test_foreign_file_cut_anywhere(kind, foreign, tmp_path):
    good = foreign[kind]
    frames = []
    for end in sorted({*range(1, len(good), len(good) // 250), *range(len(good) - 64, len(good))}):
        (tmp_path / "x").write_bytes(good[:end])
        frames.append(read_by_the_childs_code(kind, tmp_path / "x")[0])
    assert max(frames) <= 120
    if kind in {"asc", "csv"}:
        assert frames == sorted(frames)


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_foreign_file_mangled(kind, foreign, tmp_path, data):
    (tmp_path / "x").write_bytes(mangled(data, foreign[kind]))
    read_by_the_childs_code(kind, tmp_path / "x")


@pytest.mark.parametrize("kind", KINDS)
def test_damaged_foreign_files_through_the_door(kind, foreign, tmp_path):
    good = foreign[kind]
    for end in (len(good) // 3, len(good) // 2, len(good) - 3):
        (tmp_path / "x").write_bytes(good[:end])
        with contextlib.suppress(DataError):
            read(tmp_path / "x")


@pytest.mark.parametrize("pack", [lambda data: data, gzip.compress], ids=["plain", "gzip"])
def test_any_bytes_through_the_door(pack, tmp_path):
    @settings(max_examples=60, deadline=None)
    @given(st.one_of(st.binary(max_size=300), st.text(alphabet="(0123.) can#ABF\n;\t[8]R,x:", max_size=300)))
    def check(content):
        data = content if isinstance(content, bytes) else content.encode()
        (tmp_path / "x").write_bytes(pack(data))
        with contextlib.suppress(DataError):
            read(tmp_path / "x")

    check()


GHOSTS = [0x4, 0x20, 0x40, 0x80, 0x10, 0x8, 0x2, 0x1, 0x100, 0x200, 0x88, 0x1FF]


@pytest.mark.parametrize("error", GHOSTS)
def test_error_frames_never_come_back_as_data_frames(error, tmp_path):
    """`20000004#…` read as a data frame would put a ghost at address 4 (python-can's candump reader does)."""
    data = bytes([0, 4, 0, 0, 0, 0, 96, 0])
    log = f"(1.0) can0 {0x20000000 | error:08X}#{data.hex()}\n"
    console = f" (001.000000)  can0  {0x20000000 | error:08X}   [8]  {data.hex(' ').upper()}   ERRORFRAME\n"
    (tmp_path / "log").write_text(log * 3)
    (tmp_path / "console").write_text(console * 3)
    # can-utils prints no word behind an error frame that is cut there.
    (tmp_path / "cut").write_text(console.replace("   ERRORFRAME", "") * 3)
    for name in ("log", "console", "cut"):
        found, _ = read(tmp_path / name)
        assert found == [(10**9, "can0", error, ERROR, 8, data)] * 3


@pytest.mark.parametrize("suffix", ["asc", "blf", "csv", "db"])
def test_error_frames_of_python_can_stay_error_frames(suffix, tmp_path):
    logger = can.Logger(str(tmp_path / f"x.{suffix}"))
    for error in GHOSTS:
        logger.on_message_received(
            can.Message(timestamp=1.0, is_error_frame=True, arbitration_id=error, is_extended_id=False, data=bytes(8))
        )
    if suffix == "db":
        time.sleep(1.0)
    logger.stop()
    found, _ = read(tmp_path / f"x.{suffix}")
    assert len(found) == len(GHOSTS)
    assert {row[3] for row in found} == {ERROR}
    kept = suffix in {"csv", "db"}
    assert [row[2] for row in found] == (GHOSTS if kept else [0x80] * len(GHOSTS))
