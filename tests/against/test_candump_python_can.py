"""Clean candump logs read as python-can's reader reads them (python-can 4, io/canutils.py)."""

from __future__ import annotations

import io

import can
import pytest
from frame_strategies import batches
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, FrameBatch
from linkcheck.frames.kernel import KERNEL
from linkcheck.readers.candump import format_candump, open_candump

SIDES = [False, pytest.param(True, marks=pytest.mark.skipif(not KERNEL, reason="the kernel is not built here"))]


@pytest.mark.parametrize("kernel", SIDES)
@settings(max_examples=150, deadline=None)
@given(batch=batches(st.integers(0, 2**31 * 10**6).map(lambda us: us * 1000), kinds=("data", "remote", "fd")))
def test_same_frames(kernel, batch):
    text = format_candump(batch)
    ours = list(open_candump("-", io.BytesIO(text), kernel=kernel).batches())
    theirs = list(can.CanutilsLogReader(io.StringIO(text.decode())))
    assert sum(map(len, ours)) == len(theirs) == len(batch)
    for mine in ours:
        for row, message in enumerate(theirs):
            flags = mine.flags[row]
            assert mine.time_ns[row] / 1e9 == pytest.approx(message.timestamp, abs=1e-6)
            assert mine.channels[mine.channel[row]] == message.channel
            assert mine.identifier[row] == message.arbitration_id
            assert bool(flags & EXTENDED) == message.is_extended_id
            assert bool(flags & REMOTE) == message.is_remote_frame
            assert bool(flags & FD) == message.is_fd
            assert bool(flags & BRS) == message.bitrate_switch
            assert bool(flags & ESI) == message.error_state_indicator
            assert mine.payload(row) == bytes(message.data)
            assert flags & REMOTE or mine.length[row] == message.dlc


@pytest.mark.parametrize("kernel", SIDES)
def test_error_frame_they_write(kernel, tmp_path):
    path = tmp_path / "a.log"
    with can.CanutilsLogWriter(path) as writer:
        writer(can.Message(timestamp=1.0, is_error_frame=True, channel="can0"))
    (batch,) = open_candump("-", io.BytesIO(path.read_bytes()), kernel=kernel).batches()
    assert batch.flags.tolist() == [ERROR]


def test_file_they_write_is_read_back(tmp_path):
    path = tmp_path / "a.log"
    messages = [
        can.Message(timestamp=1.5, arbitration_id=0x18FEF100, data=bytes(8), channel="can0"),
        can.Message(
            timestamp=2.5, arbitration_id=0x123, is_extended_id=False, data=b"\x01", channel="can1", is_rx=False
        ),
    ]
    with can.CanutilsLogWriter(path) as writer:
        for message in messages:
            writer(message)
    (batch,) = open_candump("-", io.BytesIO(path.read_bytes())).batches()
    assert isinstance(batch, FrameBatch)
    assert batch.identifier.tolist() == [0x18FEF100, 0x123]
    assert batch.time_ns.tolist() == [1_500_000_000, 2_500_000_000]
