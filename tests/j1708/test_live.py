"""A live link through a pseudo-terminal that stands for the serial port (POSIX)."""

import json
import os
import threading
import time

import pytest
from j1708.links import message

from linkcheck.cli.j1708_listen import listen_link
from linkcheck.errors import DataError
from linkcheck.j1708.framing import CHARACTER_NS
from linkcheck.live.j1708_port import J1708Port
from linkcheck.readers.byte_log import ByteLog
from linkcheck.readers.source import open_source

pty = pytest.importorskip("pty")
tty = pytest.importorskip("tty")

MESSAGES = [message(128, [190, 0x40, 0x1F], [84, 60]), message(136, [49, 0]), message(140, [96, 120])]


@pytest.fixture
def line():
    """Both ends: the one that talks, and the path of the other."""
    talker, other = pty.openpty()
    tty.setraw(talker)
    tty.setraw(other)
    path = os.ttyname(other)
    os.close(other)
    yield talker, path
    os.close(talker)


def talk(talker, messages, gap_s=0.03):
    time.sleep(0.3)  # opening a port throws away what came before
    for data in messages:
        os.write(talker, data)
        time.sleep(gap_s)


def test_bytes_arrive_with_the_time_they_had(line):
    talker, path = line
    with J1708Port(path) as port:
        before = time.time_ns()
        os.write(talker, MESSAGES[0])
        end_ns, data = port.read()
        assert data == MESSAGES[0][: len(data)]
        assert before - 1_000_000_000 <= end_ns <= time.time_ns() + CHARACTER_NS


def test_silence_is_no_data_and_no_error(line):
    with J1708Port(line[1]) as port:
        assert port.read()[1] == b""


def test_nothing_is_ever_written(line):
    talker, path = line
    with J1708Port(path) as port:
        os.write(talker, MESSAGES[0])
        port.read()
        os.set_blocking(talker, False)
        with pytest.raises(BlockingIOError):
            os.read(talker, 1)


def test_a_port_that_is_not_there_is_a_sentence():
    with pytest.raises(DataError, match="cannot be opened"):
        J1708Port("/dev/no-such-port")


def test_listening_gives_the_page_and_the_recording_of_it(line, tmp_path, capsysbinary):
    talker, path = line
    record = tmp_path / "link.log"
    thread = threading.Thread(target=talk, args=(talker, MESSAGES * 5))
    thread.start()
    code = listen_link(path, seconds=1.5, record=str(record), as_json=True, strict=True)
    thread.join()
    result = json.loads(capsysbinary.readouterr().out)
    assert code == 0
    assert result["messages"] == 15
    assert [row["mid"] for row in result["senders"]] == [128, 136, 140]
    log = ByteLog(open_source(str(record)))
    assert b"".join(data for _, data in log.chunks()) == b"".join(MESSAGES * 5)
    log.close()
