"""Formats read in the child process: what python-can drops in silence is accounted for, and it never hangs."""

import gzip
import os
import sqlite3
import struct
import subprocess
import sys
import time
import zlib

import can
import numpy as np
import pytest
from reading import read

from linkcheck.errors import DataError
from linkcheck.frames import ERROR, EXTENDED, FD, REMOTE, SENT
from linkcheck.frames.records import RECORD, RECORD_FORMAT
from linkcheck.readers import open_capture
from linkcheck.readers.foreign_formats import RELATIVE
from linkcheck.readers.python_can import ForeignCapture

ASC_HEAD = (
    "date Sat Sep 30 15:06:13.191 2017\nbase hex  timestamps absolute\ninternal events logged\n// version 9.0.0\n"
)


def read_text(tmp_path, text):
    (tmp_path / "x").write_text(text)
    return read(tmp_path / "x")


def reasons(capture):
    return {skip.line: skip.reason for skip in capture.tally.skipped_lines}


def test_asc_events_are_remarks_and_states_are_error_frames(tmp_path):
    """Lines after python-can's test/data/logfile.asc and test_CanErrorFrames.asc."""
    found, capture = read_text(
        tmp_path,
        ASC_HEAD
        + "Begin Triggerblock Sat Sep 30 15:06:13.191 2017\n"
        + "   0.000000 Start of measurement\n"
        + "   0.015991 CAN 1 Status:chip status error passive - TxErr: 132 RxErr: 0\n"
        + "   0.015992 CAN 2 Status:chip status error active\n"
        + "   1.015991 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%\n"
        + "   2.501000 1 ErrorFrame\n"
        + "   3.501000 1 ErrorFrame ECC: 10100010\n"
        + "   3.098426 1  18EBFF00x       Rx   d 8 01 A0 0F A6 60 3B D1 40  Length = 273910 BitCount = 141\n"
        + "   3.297743 1  J1939TP FEE3p        6    0  0   -   Rx   d 3 A0 0F A6\n"
        + "   3.298000 2  6F9             Tx   d 0\n"
        + "   3.298100 1  6F9             Rx   r 4\n"
        + "End TriggerBlock\n",
    )
    assert capture.tally.skipped == 0
    assert found == [
        (15_991_000, "1", 0x4 | 0x200, ERROR, 8, bytes([0, 0x20, 0, 0, 0, 0, 132, 0])),
        (15_992_000, "2", 0x4, ERROR, 8, bytes([0, 0x40, 0, 0, 0, 0, 0, 0])),
        (2_501_000_000, "1", 0x80, ERROR, 8, bytes(8)),
        # ECC 10 1 00010: stuff error, while receiving, at ID.28 to ID.21.
        (3_501_000_000, "1", 0x88, ERROR, 8, bytes([0, 0, 4, 2, 0, 0, 0, 0])),
        (3_098_426_000, "1", 0x18EBFF00, EXTENDED, 8, bytes.fromhex("01A00FA6603BD140")),
        (3_298_000_000, "2", 0x6F9, SENT, 0, b""),
        (3_298_100_000, "1", 0x6F9, REMOTE, 4, b""),
    ]


def test_asc_lines_that_python_can_drops_or_dies_on(tmp_path):
    found, capture = read_text(
        tmp_path,
        ASC_HEAD
        + "   1.000000 1  18EBFF00x       Rx   d 2 01 02\n"
        + "   2.000000 1  18EBFF00x       d 2 01 02\n"  # passed over in silence
        + "   3.000000 1  18EBFF00x       Rx   d 2 01\n"  # taken with one byte
        + "   4.000000 1  18EBFF00x       Rx   d 2 01 GG\n"  # dies
        + "   5.000000 1  58EBFF00x       Rx   d 0\n"  # taken as it is
        + "rubbish\n"
        + "   6.000000 1  18EBFF00x       Rx   d 2 03 04\n",
    )
    assert [(row[0], row[5]) for row in found] == [(10**9, b"\x01\x02"), (6 * 10**9, b"\x03\x04")]
    assert list(reasons(capture)) == [6, 7, 8, 9, 10]
    assert reasons(capture)[6] == "looks like a frame, but cannot be read as one"
    assert reasons(capture)[8].startswith("cannot be read: invalid literal")
    assert reasons(capture)[10] == "not a line of an ASC file"


def test_asc_without_a_header_keeps_its_first_line(tmp_path):
    found, capture = read_text(tmp_path, "   1.000000 1  123  Rx   d 1 01\n   2.000000 1  123  Rx   d 1 02\n")
    assert [row[5] for row in found] == [b"\x01", b"\x02"]
    assert capture.tally.skipped == 0


def test_asc_decimal_base(tmp_path):
    found, _ = read_text(tmp_path, "base dec  timestamps absolute\n   1.000000 1  291  Rx   d 2 17 255\n")
    assert (found[0][2], found[0][5]) == (0x123, b"\x11\xff")


def test_asc_relative_times_are_added_up(tmp_path):
    line = "   0.250000 1  123  Rx   d 1 01\n"
    found, capture = read_text(tmp_path, "base hex  timestamps relative\n" + 4 * line)
    assert [row[0] for row in found] == [250_000_000, 500_000_000, 750_000_000, 10**9]
    assert capture.tally.notes == [RELATIVE]


def test_asc_last_line_without_end_is_not_trusted(tmp_path):
    found, capture = read_text(tmp_path, ASC_HEAD + "  1.0 1  123  Rx   d 1 01\n  2.0 1  123  Rx   d 1 0")
    assert len(found) == 1
    assert reasons(capture) == {6: "the last line has no end; it may be cut short"}


CSV_HEAD = "timestamp,arbitration_id,extended,remote,error,dlc,data\n"


def test_csv_damage(tmp_path):
    found, capture = read_text(
        tmp_path,
        CSV_HEAD
        + "1.0,0x123,0,0,0,2,AQI=\n"
        + "1.1,0x123,0,0,0,3,AQI=\n"
        + "1.2,0x123,0,0\n"
        + "nan,0x123,0,0,0,0,\n"
        + "1e300,0x123,0,0,0,0,\n"
        + "1.3,0x823,0,0,0,0,\n"
        + "\n"
        + "1.4,0x18fef100,1,0,0,1,/w==\n"
        + "1.5,0x18fef100,1,0,0,1,/w",
    )
    assert [(row[0], row[2], row[5]) for row in found] == [
        (10**9, 0x123, b"\x01\x02"),
        (1_400_000_000, 0x18FEF100, b"\xff"),
    ]
    assert (capture.tally.comments, sorted(reasons(capture))) == (2, [3, 4, 5, 6, 7, 10])


def blf(path, count, *, append=b""):
    writer = can.BLFWriter(str(path))
    for i in range(count):
        writer.on_message_received(
            can.Message(timestamp=1436509052 + i / 1000, arbitration_id=0x18FEF100 + i % 256, data=bytes([i % 256] * 8))
        )
    writer.stop()
    with path.open("ab") as file:
        file.write(append)


def container(data):
    """A BLF block holding `data`, packed; layout as in python-can's can/io/blf.py."""
    packed = zlib.compress(data)
    size = 16 + 16 + len(packed)
    head = struct.pack("<4sHHLL", b"LOBJ", 16, 1, size, 10) + struct.pack("<H6xL4x", 2, len(data))
    return head + packed + b"\0" * (size % 4)


def object_(size, *, kind=1, version=1):
    head = struct.pack("<4sHHLL", b"LOBJ", 32, version, size, kind) + struct.pack("<LHHQ", 2, 0, 0, 0)
    return head + struct.pack("<HBBL8s", 1, 0, 8, 0x123, bytes(8))


@pytest.mark.parametrize("size", [0, 8, 31])
@pytest.mark.parametrize("version", [1, 3])
def test_blf_with_a_size_that_would_go_round_for_ever(size, version, tmp_path):
    """python-can yields the same object again and again for size 0, or spins without yielding for header version 3."""
    blf(tmp_path / "x.blf", 3, append=container(object_(48) + object_(size, version=version)) + container(object_(48)))
    found, capture = read(tmp_path / "x.blf")
    assert len(found) == 5
    assert list(reasons(capture).values()) == ["an object with an impossible size; the rest of its block is lost"]


def test_blf_with_a_block_that_cannot_be_unpacked(tmp_path):
    blf(tmp_path / "x.blf", 3)
    broken = bytearray(container(object_(48)))
    broken[40] ^= 0xFF
    (tmp_path / "x.blf").write_bytes((tmp_path / "x.blf").read_bytes() + bytes(broken) + container(object_(48)))
    found, capture = read(tmp_path / "x.blf")
    assert len(found) == 4
    assert next(iter(reasons(capture).values())).startswith("a block that cannot be unpacked")


def test_blf_cut_short_is_noticed(tmp_path):
    blf(tmp_path / "x.blf", 20_000)
    data = (tmp_path / "x.blf").read_bytes()
    (tmp_path / "x.blf").write_bytes(data[: len(data) // 2])
    found, capture = read(tmp_path / "x.blf")
    assert 0 < len(found) < 20_000
    assert any("the header promises 20000 objects" in note for note in capture.tally.notes)


def test_blf_other_objects_are_remarks(tmp_path):
    writer = can.BLFWriter(str(tmp_path / "x.blf"))
    writer.on_message_received(can.Message(timestamp=1.0, arbitration_id=1))
    writer.log_event("a remark", 1.0)
    writer.stop()
    found, capture = read(tmp_path / "x.blf")
    assert (len(found), capture.tally.comments, capture.tally.skipped) == (1, 1, 0)


def database(path, values):
    with sqlite3.connect(path) as connection:
        connection.execute(
            "CREATE TABLE messages (ts REAL, arbitration_id INTEGER, extended INTEGER, remote INTEGER,"
            " error INTEGER, dlc INTEGER, data BLOB)"
        )
        connection.executemany("INSERT INTO messages VALUES (?,?,?,?,?,?,?)", values)
    connection.close()


def test_sqlite_rows_that_make_no_sense(tmp_path):
    database(
        tmp_path / "x.db",
        [
            (1.0, 0x123, 0, 0, 0, 2, b"\1\2"),
            (None, 0x123, 0, 0, 0, 0, b""),
            (1.0, "text", 0, 0, 0, 0, b""),
            (1.0, 0x123, 0, 0, 0, 4, b"\1\2"),
            (1.0, 1 << 40, 1, 0, 0, 0, b""),
            (2.0, 0x18FEF100, 1, 0, 0, 1, b"\3"),
        ],
    )
    found, capture = read(tmp_path / "x.db")
    assert [row[2] for row in found] == [0x123, 0x18FEF100]
    assert list(reasons(capture)) == [2, 3, 4, 5]
    assert capture.progress == 1.0


def test_sqlite_without_the_table(tmp_path):
    with sqlite3.connect(tmp_path / "x.db") as connection:
        connection.execute("CREATE TABLE other (x)")
    connection.close()
    with pytest.raises(DataError, match=r"x\.db: This looks like .*no such table: messages"):
        read(tmp_path / "x.db")


def test_packed_sqlite_is_spooled_and_cleaned_up(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "spool"))
    (tmp_path / "spool").mkdir()
    database(tmp_path / "x.db", [(1.0, 0x123, 0, 0, 0, 2, b"\1\2")])
    (tmp_path / "x").write_bytes(gzip.compress((tmp_path / "x.db").read_bytes()))
    found, capture = read(tmp_path / "x")
    assert len(found) == 1
    assert capture.format == "python-can SQLite database, gzip"
    assert not list((tmp_path / "spool").iterdir())


def test_mf4_without_its_package_says_what_to_install(tmp_path):
    (tmp_path / "x.mf4").write_bytes(b"MDF     4.10    " + bytes(200))
    with pytest.raises(DataError, match="asammdf"):
        read(tmp_path / "x.mf4")


def test_a_child_without_progress_is_ended(tmp_path):
    """A named pipe that nobody writes to: the child waits for ever."""
    os.mkfifo(tmp_path / "pipe")
    capture = ForeignCapture("x", "csv", "CSV", str(tmp_path / "pipe"), patience_s=1.0)
    with pytest.raises(DataError, match="no progress for 1 s"):
        list(capture.batches())
    assert capture._child.returncode is not None


def test_a_child_that_dies_is_noticed(tmp_path):
    (tmp_path / "x").write_text(CSV_HEAD)
    capture = ForeignCapture("x", "csv", "CSV", str(tmp_path / "x"))
    capture._child.kill()
    capture._child.wait()
    with pytest.raises(DataError, match="broke off"):
        list(capture.batches())


def test_closing_early_ends_the_child(tmp_path):
    (tmp_path / "x").write_text(CSV_HEAD + "1.0,0x123,0,0,0,2,AQI=\n" * 200_000)
    capture = open_capture(str(tmp_path / "x"))
    next(capture.batches())
    capture.close()
    assert capture._reader._child.returncode is not None


def test_the_child_leaves_with_its_parent(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    code = (
        "import os, sys; from linkcheck.readers.python_can import ForeignCapture; "
        "c = ForeignCapture('x', 'csv', 'CSV', sys.argv[1]); print(c._child.pid); sys.stdout.flush(); os._exit(0)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path / "pipe")], capture_output=True, check=True)
    pid = int(done.stdout)
    deadline = time.monotonic() + 20
    while alive(pid):
        assert time.monotonic() < deadline, "the child lives on"
        time.sleep(0.05)


def alive(pid):
    state = subprocess.run(["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False).stdout
    return bool(state.strip()) and "Z" not in state


def test_nothing_is_imported_from_the_folder_the_user_is_in(tmp_path, monkeypatch):
    for name in ("can", "json", "numpy"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('taken from the wrong place')\n")
    monkeypatch.chdir(tmp_path)
    found, _ = read_text(tmp_path, CSV_HEAD + "1.0,0x123,0,0,0,2,AQI=\n")
    assert len(found) == 1


def test_record_is_the_same_on_both_sides():
    assert RECORD.itemsize == RECORD_FORMAT.size
    record = np.frombuffer(RECORD_FORMAT.pack(-5, 0x1FFFFFFF, FD, 3, 64, b"\x5a" * 64), RECORD)[0]
    assert list(record)[:5] == [-5, 0x1FFFFFFF, FD, 3, 64]
    assert record["data"].tobytes() == b"\x5a" * 64
