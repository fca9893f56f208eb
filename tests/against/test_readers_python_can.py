"""Files written by python-can's own writers, read back and compared frame by frame.

python-can: https://github.com/hardbyte/python-can, can/io/. Its writers leave some things out (CSV and SQLite know no
channel, direction or CAN FD, TRC no remote, FD or error frames, ASC no direction of an error frame); those are left
out of the comparison, nothing else is.
"""

import random
import time
from itertools import pairwise

import can
import pytest
from reading import read

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.frames.fd import LENGTHS
from linkcheck.readers import open_capture

START_S = 1436509052.25
MESSAGES = 500
MICROSECOND = 1000


def make(seed, *, fd, remote, error):
    chance = random.Random(seed)  # noqa: S311  # a seeded test
    messages = []
    for i in range(MESSAGES):
        extended = chance.random() < 0.8
        common = {
            "timestamp": START_S + i * 0.000_640,
            "channel": chance.randrange(2),
            "is_rx": chance.random() < 0.9,
            "is_extended_id": extended,
            "arbitration_id": chance.randrange(1 << (29 if extended else 11)),
        }
        kind = chance.random()
        if fd and kind < 0.2:
            common |= {"is_fd": True, "data": chance.randbytes(chance.choice(LENGTHS[1:]))}
            common |= {"bitrate_switch": chance.random() < 0.5, "error_state_indicator": chance.random() < 0.1}
        elif remote and kind < 0.3:
            common |= {"is_remote_frame": True, "dlc": chance.randrange(9)}
        elif error and kind < 0.4:
            common |= {"is_error_frame": True, "arbitration_id": 0x4, "data": bytes(8), "is_extended_id": False}
        else:
            common |= {"data": chance.randbytes(chance.randrange(9))}
        messages.append(can.Message(**common, check=not common.get("is_error_frame")))
    return messages


def write(path, messages):
    logger = can.Logger(str(path))
    for message in messages:
        logger.on_message_received(message)
    if path.suffix == ".db":  # its writer drops what it has not written when it stops too soon
        time.sleep(1.0)
    logger.stop()


def expected(message, *, flags):
    """(flags, identifier, length, data) of a message, with the flags a format keeps."""
    if message.is_error_frame:
        return ERROR
    bits = EXTENDED if message.is_extended_id else 0
    bits |= REMOTE if message.is_remote_frame else 0
    bits |= SENT if not message.is_rx else 0
    if message.is_fd:
        bits |= FD | (BRS if message.bitrate_switch else 0) | (ESI if message.error_state_indicator else 0)
    return bits & flags, message.arbitration_id, message.dlc, bytes(message.data)


ALL_FLAGS = EXTENDED | REMOTE | SENT | FD | BRS | ESI
FORMATS = {
    "asc": ({"fd": True, "remote": True, "error": True}, ALL_FLAGS, "12", "ASC text"),
    "blf": ({"fd": True, "remote": True, "error": True}, ALL_FLAGS, "12", "BLF"),
    "csv": ({"fd": False, "remote": True, "error": True}, EXTENDED | REMOTE, None, "python-can CSV table"),
    "db": ({"fd": False, "remote": True, "error": True}, EXTENDED | REMOTE, None, "python-can SQLite database"),
    "trc": ({"fd": False, "remote": False, "error": False}, EXTENDED | SENT, "12", "TRC 2.1"),
    # A candump log without the length a remote frame asks for: python-can does not write it.
    "log": ({"fd": True, "remote": False, "error": True}, ALL_FLAGS, ("can0", "can1"), "candump log"),
}


@pytest.mark.parametrize("suffix", FORMATS)
def test_python_can_file_comes_back(suffix, tmp_path):
    kinds, flags, channels, words = FORMATS[suffix]
    messages = make(suffix, **kinds)
    write(tmp_path / f"x.{suffix}", messages)
    found, capture = read(tmp_path / f"x.{suffix}")
    assert capture.format == words
    assert capture.tally.skipped == 0
    assert len(found) == len(messages)
    for row, message in zip(found, messages, strict=True):
        time_ns, channel, identifier, row_flags, length, payload = row
        start_s = START_S if suffix != "asc" else 0.0  # ASC counts from its first frame
        assert abs(time_ns - round((message.timestamp - START_S + start_s) * 1e9)) <= MICROSECOND
        if message.is_error_frame:
            assert row_flags & ERROR
            continue
        assert (row_flags, identifier, length, payload) == expected(message, flags=flags)
        if channels:
            assert channel == channels[message.channel]


def test_error_details_survive_where_python_can_keeps_them(tmp_path):
    """SocketCAN's class bits and eight bytes, as python-can's own interface hands them to its CSV writer."""
    data = bytes([0, 0x20, 0, 0, 0, 0, 136, 0])
    message = can.Message(timestamp=1.0, is_error_frame=True, arbitration_id=4, is_extended_id=False, dlc=8, data=data)
    write(tmp_path / "x.csv", [message])
    found, _ = read(tmp_path / "x.csv")
    assert found == [(10**9, "1", 4, ERROR, 8, data)]


@pytest.mark.parametrize("suffix", ["asc", "blf", "csv", "db", "log", "trc"])
def test_the_suffix_does_not_matter(suffix, tmp_path):
    messages = make(suffix, fd=False, remote=False, error=False)
    write(tmp_path / f"x.{suffix}", messages)
    (tmp_path / f"x.{suffix}").rename(tmp_path / "capture")
    found, capture = read(tmp_path / "capture")
    assert len(found) == len(messages)
    assert capture.format == FORMATS[suffix][3]


def test_the_channels_of_a_batch_only_grow(tmp_path):
    messages = make(7, fd=False, remote=False, error=False)
    write(tmp_path / "x.asc", messages)
    capture = open_capture(str(tmp_path / "x.asc"))
    names = [batch.channels for batch in capture.batches()]
    capture.close()
    assert all(later[: len(name)] == name for name, later in pairwise(names))
