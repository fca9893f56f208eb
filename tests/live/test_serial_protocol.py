"""The ASCII protocol against two published descriptions: the Linux driver's comments, python-can's interface."""

import can
import pytest
from can.interfaces.slcan import slcanBus
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.errors import UsageError
from linkcheck.frames import BRS, ERROR, EXTENDED, FD, REMOTE
from linkcheck.frames.fd import LENGTHS
from linkcheck.frames.records import batch_of
from linkcheck.live.serial_protocol import LineParser, frame_command, status_of


def read(characters, block=None):
    parser, records, answers, damaged = LineParser(), b"", [], 0
    size = block or max(1, len(characters))
    for at in range(0, len(characters), size):
        lines = parser.feed(characters[at : at + size], 7)
        records += lines.records
        answers += lines.answers
        damaged += lines.damaged
    return batch_of(records, ("can0",)), answers, damaged


# Examples in Linux drivers/net/can/slcan/slcan-core.c.
@pytest.mark.parametrize(
    ("line", "identifier", "flags", "payload"),
    [
        (b"t1230", 0x123, 0, ""),
        (b"t4563112233", 0x456, 0, "112233"),
        (b"T12ABCDEF2AA55", 0x12ABCDEF, EXTENDED, "AA55"),
        (b"r1230", 0x123, REMOTE, ""),
        (b"T1111222281122334455667788EA5F", 0x11112222, EXTENDED, "1122334455667788"),
    ],
)
def test_frames_of_the_linux_drivers_comments(line, identifier, flags, payload):
    batch, answers, damaged = read(line + b"\r")
    assert (int(batch.identifier[0]), int(batch.flags[0]), batch.payload(0).hex()) == (
        identifier,
        flags,
        payload.lower(),
    )
    assert (answers, damaged) == ([], 0)


# The same file: "sb256256: bus-off, counters 256", "sa057033: active, rx 57, tx 33"; "e1a: ACK error", "e3bcO".
def test_states_and_errors_of_the_linux_drivers_comments():
    batch, _, damaged = read(b"sb256256\rsa057033\re1a\re3bcO\r")
    assert damaged == 0
    assert set(batch.flags.tolist()) == {ERROR}
    bus_off, active, acknowledge, three = batch.identifier.tolist()
    assert bus_off & 0x40
    assert active & 0x4
    assert batch.data[1, 6:8].tolist() == [33, 57]
    assert acknowledge & 0x20
    assert three & 0x4
    assert batch.data[3, 2] == 0x08 | 0x01


@st.composite
def frames(draw):
    extended = draw(st.booleans())
    identifier = draw(st.integers(0, 0x1FFFFFFF if extended else 0x7FF))
    kind = draw(st.sampled_from([0, REMOTE, FD, FD | BRS]))
    size = draw(st.sampled_from(LENGTHS if kind & FD else LENGTHS[:9]))
    payload = b"" if kind & REMOTE else draw(st.binary(min_size=size, max_size=size))
    return identifier, kind | (EXTENDED if extended else 0), payload, size


@given(st.lists(frames(), min_size=1, max_size=8), st.integers(1, 40))
def test_any_frames_in_any_blocks_come_back(sent, block):
    text = b"".join(frame_command(*frame) + b"\r" for frame in sent)
    batch, answers, damaged = read(text, block)
    got = [
        (int(batch.identifier[i]), int(batch.flags[i]), batch.payload(i), int(batch.length[i]))
        for i in range(len(batch))
    ]
    assert got == sent
    assert (answers, damaged) == ([], 0)


class Line:
    """A serial line for python-can that keeps what is written."""

    def __init__(self):
        self.written = b""

    def write(self, characters):
        self.written += characters

    def flush(self):
        pass


@given(frames())
def test_frames_are_written_as_python_can_writes_them(frame):
    identifier, flags, payload, size = frame
    bus = slcanBus.__new__(slcanBus)
    bus.serialPortOrig = Line()
    bus.serialPortOrig.write_timeout = None
    message = can.Message(
        arbitration_id=identifier,
        is_extended_id=bool(flags & EXTENDED),
        is_remote_frame=bool(flags & REMOTE),
        is_fd=bool(flags & FD),
        bitrate_switch=bool(flags & BRS),
        dlc=size,
        data=payload or None,
    )
    bus.send(message)
    bus._is_shutdown = True
    assert frame_command(*frame) + b"\r" == bus.serialPortOrig.written


@given(st.binary(max_size=300), st.integers(1, 50))
def test_noise_is_counted_and_never_raises(noise, block):
    batch, _, _ = read(noise, block)
    assert all(length <= 64 for length in batch.length.tolist())


def test_a_cut_line_is_no_frame():
    whole = b"T18FEF10080102030405060708"
    for cut in range(1, len(whole)):
        batch, _, damaged = read(whole[:cut] + b"\r")
        assert len(batch) == 0, whole[:cut]
        assert damaged == 1


@pytest.mark.parametrize("line", [b"T0xF00A000", b"T0C_00A000", b"T+CF00A000", b"t 230", b"t12 1 1", b"sa+57033", b"s"])
def test_what_python_would_read_as_a_number_and_nobody_else_is_no_frame(line):
    batch, _, damaged = read(line + b"\r")
    assert (len(batch), damaged) == (0, 1)


def test_answers_between_frames_keep_their_order():
    batch, answers, _ = read(b"\rF08\rt1230\r\az\r")
    assert answers == [b"", b"F08", b"\a", b"z"]
    assert len(batch) == 1


def test_status_bits():
    status = status_of(0xA9)
    assert status.receive_full
    assert status.overrun
    assert status.passive
    assert status.bus_error
    assert not status.warning


def test_impossible_frames_are_refused():
    for frame in (
        (0x800, 0, b""),
        (0x20000000, EXTENDED, b""),
        (1, 0, bytes(9)),
        (1, FD, bytes(9)),
        (1, ERROR, bytes(8)),
    ):
        with pytest.raises(UsageError):
            frame_command(*frame)
