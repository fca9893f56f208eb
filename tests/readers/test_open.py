"""The door: what a file is, is told by its content; what cannot be read gets one sentence."""

import bz2
import gzip
import io
import lzma
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from reading import read
from trc_examples import V2_1

from linkcheck.errors import DataError, UsageError
from linkcheck.readers import open_capture, source
from linkcheck.readers.sniff import FORMATS, sniff

LOG = "(1436509052.249713) can0 18FEF100#0011223344556677\n"
CONSOLE = " (1436509052.249713)  can0  18FEF100   [8]  00 11 22 33 44 55 66 77\n"
ASC = "   3.098426 1  18EBFF00x       Rx   d 8 01 A0 0F A6 60 3B D1 40\n"
CSV = "1436509052.25,0x18fef100,1,0,0,2,AQI=\n"
TEXTS = {
    "candump": (LOG, "candump log"),
    "console": (CONSOLE, "candump console output"),
    "trc": (V2_1, "TRC 2.1"),
    "asc": (ASC, "ASC text"),
    "csv": (CSV, "python-can CSV table"),
}
GARBAGE = "\x00\x07login: technician\n#!/bin/sh\n" + "x" * 500 + "\n"


def refused(path, match):
    with pytest.raises(DataError, match=match) as caught:
        open_capture(str(path))
    assert caught.value.sentence.startswith(str(path))
    assert "\n" not in caught.value.sentence


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("before", ["", GARBAGE, GARBAGE * 40])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_text_is_told_by_its_lines(name, before, encoding, tmp_path):
    text, words = TEXTS[name]
    (tmp_path / "x").write_bytes((before + text * 3).encode(encoding))
    found, capture = read(tmp_path / "x")
    assert capture.format == words
    assert len(found) >= 3


@pytest.mark.parametrize("name", TEXTS)
def test_standard_input(name):
    text, words = TEXTS[name]
    code = (
        "from linkcheck.readers import open_capture\n"
        "c = open_capture('-'); n = sum(map(len, c.batches())); c.close(); print(c.path, c.format, n, c.progress)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], input=(text * 3).encode(), capture_output=True, check=True, timeout=60
    )
    progress = "None" if name in {"candump", "console", "trc"} else "1.0"
    n = 3 if name != "trc" else 30
    assert done.stdout.decode() == f"- {words} {n} {progress}\n"


def test_standard_input_in_small_pieces():
    code = "from linkcheck.readers import open_capture\nprint(sum(map(len, open_capture('-').batches())))"
    child = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    for _ in range(5):
        for piece in (LOG[:7], LOG[7:]):
            child.stdin.write(piece.encode())
            child.stdin.flush()
    out, _ = child.communicate(timeout=60)
    assert out == b"5\n"


@pytest.mark.parametrize("stdin", [None, subprocess.DEVNULL])
def test_nothing_on_standard_input(stdin):
    code = "from linkcheck.readers import open_capture\nopen_capture('-')"
    if stdin is None:
        code = "import sys; sys.stdin.close(); " + code.replace("\n", "; ")
    done = subprocess.run([sys.executable, "-c", code], stdin=stdin, capture_output=True, text=True, check=False)
    last = done.stderr.strip().splitlines()[-1]
    assert "DataError: -: " in last


def test_named_format_overrides_the_content(tmp_path):
    (tmp_path / "x").write_text(CONSOLE * 5 + LOG)
    found, capture = read(tmp_path / "x", format="candump")
    assert (len(found), capture.tally.skipped) == (1, 5)


def test_unknown_format_name():
    with pytest.raises(UsageError, match="candump, console, trc, asc, csv, blf, mf4, sqlite"):
        open_capture("x", format="xyz")


def test_files_that_are_not_there_or_not_readable(tmp_path):
    refused(tmp_path / "missing", "no such file")
    refused(tmp_path, "folder")
    (tmp_path / "empty").write_bytes(b"")
    refused(tmp_path / "empty", "empty")
    refused(tmp_path / "x\0y", "cannot be opened")
    refused(tmp_path / ("n" * 300), "cannot be opened")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path):
    (tmp_path / "x").write_text(LOG)
    (tmp_path / "x").chmod(0)
    refused(tmp_path / "x", "may not be read")


def test_permission_is_denied(tmp_path, monkeypatch):
    (tmp_path / "x").write_text(LOG)

    def deny(_path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(source, "_File", deny)
    refused(tmp_path / "x", "may not be read")


OTHER = {
    "prose": (b"Dear colleague,\nthe truck is fixed.\n", "No line of this file"),
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 100, "No line of this file"),
    "zeros": (bytes(100_000), "No line of this file"),
    "spreadsheet": (b"time;id;data\n1;2;3\n", "No line of this file"),
    "logic analyser": (b'name,type,start_time,duration,"identifier"\n', "logic analyser"),
    "xz": (lzma.compress(LOG.encode()), "xz archive.*Unpack"),
    "bzip2": (bz2.compress(LOG.encode()), "bzip2 archive.*Unpack"),
    "pcap": (b"\xd4\xc3\xb2\xa1\x02\x00\x04\x00" + bytes(16), "packet capture"),
}


@pytest.mark.parametrize("name", OTHER)
def test_other_files_are_named_or_refused(name, tmp_path):
    data, match = OTHER[name]
    (tmp_path / "x").write_bytes(data)
    refused(tmp_path / "x", match)


def test_a_zip_is_named(tmp_path):
    with zipfile.ZipFile(tmp_path / "x", "w") as archive:
        archive.writestr("drive.log", LOG)
    refused(tmp_path / "x", "zip archive.*Unpack")


def test_what_is_read_is_said():
    with pytest.raises(DataError) as caught:
        sniff(b"nothing", "x", whole=True)
    assert all(words in caught.value.sentence for words in FORMATS.values())


def test_a_cut_last_line_among_the_first_bytes_has_no_vote():
    assert sniff((CONSOLE + LOG[:40]).encode(), "x", whole=False) == "console"


def test_timeless_is_known_before_the_first_frame(tmp_path):
    (tmp_path / "x").write_text("  can0  123   [0] \n")
    capture = open_capture(str(tmp_path / "x"))
    assert capture.timeless
    capture.close()
    (tmp_path / "x").write_text(CONSOLE)
    capture = open_capture(str(tmp_path / "x"))
    assert not capture.timeless
    capture.close()


def test_close_before_reading_leaves_nothing_open(tmp_path):
    for text, _ in TEXTS.values():
        (tmp_path / "x").write_text(text)
        open_capture(str(tmp_path / "x")).close()


def test_a_stream_that_is_no_file_is_refused(monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO("x"))
    refused("-", "standard input")


def test_closing_does_not_wait_for_a_pipe_that_stands_still():
    code = "from linkcheck.readers import open_capture\nopen_capture('-').close(); print('closed')"
    text = "".join(f"(1.{i:06d}) can0 18FEF100#{i * 2654435761 % 2**64:016X}\n" for i in range(50_000))
    child = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    child.stdin.write(gzip.compress(text.encode())[:100_000])  # and then nothing, but no end either
    child.stdin.flush()
    assert child.stdout.readline() == b"closed\n"
    child.communicate(timeout=60)


def failing_disk(monkeypatch, *, at):
    """The system's read fails from this byte of the file on."""

    def read_into(file, buffer):
        if file.tell() >= at:
            raise OSError(5, "Input/output error")
        return io.FileIO.readinto(file, memoryview(buffer)[: at - file.tell()])

    monkeypatch.setattr(source, "_read_into", read_into)


@pytest.mark.parametrize("name", ["candump", "console", "trc"])
@pytest.mark.parametrize("pack", [bytes, gzip.compress], ids=["plain", "gzip"])
def test_a_disk_that_fails_is_a_note(name, pack, tmp_path, monkeypatch):
    text, _ = TEXTS[name]
    whole = pack((text * 30_000).encode())
    (tmp_path / "x").write_bytes(whole)
    failing_disk(monkeypatch, at=len(whole) // 2)
    found, capture = read(tmp_path / "x")
    assert found
    assert "reading stopped early: Input/output error" in capture.tally.notes


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="a file that cannot be read, on Linux")
def test_a_file_that_cannot_be_read_at_all():
    refused("/proc/self/mem", "cannot be read; reading stopped early: Input/output error")
