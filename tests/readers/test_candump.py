"""candump logs: every legal layout, every kind of damage, and each line accounted for. Forms of a line: can-utils,
lib.c (parse_canframe) and candump.c."""

from __future__ import annotations

import io

import pytest
from frame_strategies import batches, same
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT, FrameBatch
from linkcheck.frames.kernel import KERNEL
from linkcheck.readers.candump import format_candump, open_candump

SIDES = [False, pytest.param(True, marks=pytest.mark.skipif(not KERNEL, reason="the kernel is not built here"))]
pytestmark = pytest.mark.parametrize("kernel", SIDES)

S = 10**9
GOOD = [
    (b"(1436509052.249713) can0 18FEF100#0011", (1436509052249713000, 0x18FEF100, EXTENDED, 2, b"\x00\x11")),
    (b"(0.5) can0 123#", (S // 2, 0x123, 0, 0, b"")),
    (b"(12) can0 7ff#aBcD\r", (12 * S, 0x7FF, 0, 2, b"\xab\xcd")),
    (b"  (12.) \t can0   7FF#aa.bb  ", (12 * S, 0x7FF, 0, 2, b"\xaa\xbb")),
    (b"(1.000000001) can0 00000001#", (S + 1, 1, EXTENDED, 0, b"")),
    (b"(1.123456789123) can0 00000001#", (1123456789, 1, EXTENDED, 0, b"")),
    (b"(9223372036.854775807) can0 001#", (2**63 - 1, 1, 0, 0, b"")),
    (b"(1.0) can0 20000004#0010000000000000", (S, 4, ERROR, 8, bytes([0, 16, 0, 0, 0, 0, 0, 0]))),
    (b"(1.0) can0 20000080#0000000000000000", (S, 0x80, ERROR, 8, bytes(8))),
    (b"(1.0) can0 123#R", (S, 0x123, REMOTE, 0, b"")),
    (b"(1.0) can0 123#R5", (S, 0x123, REMOTE, 5, b"")),
    (b"(1.0) can0 123#r8_d", (S, 0x123, REMOTE, 8, b"")),
    (b"(1.0) can0 123##0", (S, 0x123, FD, 0, b"")),
    (b"(1.0) can0 123##111", (S, 0x123, FD | BRS, 1, b"\x11")),
    (b"(1.0) can0 12345678##7" + b"5A" * 64, (S, 0x12345678, FD | BRS | ESI | EXTENDED, 64, b"\x5a" * 64)),
    (b"(1.0) can0 123#1122334455667788_B", (S, 0x123, 0, 8, bytes.fromhex("1122334455667788"))),
    (b"(1.0) can0 123#11 T", (S, 0x123, SENT, 1, b"\x11")),
    (b"(1.0) can0 123#11 R", (S, 0x123, 0, 1, b"\x11")),
]
BAD = [
    (b"garbage", "no time in brackets"),
    (b"1.5 can0 123#11", "no time in brackets"),
    (b"(1.5 can0 123#11", "no time in brackets"),
    (b"(-1.5) can0 123#11", "not a number of seconds"),
    (b"(1.5.5) can0 123#11", "not a number of seconds"),
    (b"(9223372036.854775808) can0 123#11", "beyond the year 2262"),
    (b"(1.5) can0", "no interface and frame"),
    (b"(1.5) can0\0 123#11", "interface name"),
    (b"(1.5) sixteen_letters_ 123#11", "interface name is longer than 15"),
    (b"(1.5) can0 12311", "no #"),
    (b"(1.5) can0 12345#11", "not 3 or 8 hex digits"),
    (b"(1.5) can0 12G#11", "not 3 or 8 hex digits"),
    (b"(1.5) can0 800#11", "larger than 11 bits"),
    (b"(1.5) can0 40000000#11", "larger than 29 bits"),
    (b"(1.5) can0 123#R9", "length of a remote frame"),
    (b"(1.5) can0 123#1", "odd number of hex digits"),
    (b"(1.5) can0 123#1G", "not hex digits"),
    (b"(1.5) can0 123#001122334455667788", "more than 8 data bytes"),
    (b"(1.5) can0 123#11_9", "length code behind the data"),
    (b"(1.5) can0 123##", "no flags digit"),
    (b"(1.5) can0 123##0" + b"11" * 9, "no CAN FD frame has 9 data bytes"),
    (b"(1.5) can0 20000004#R", "neither remote nor FD"),
    (b"(1.5) can0 123#11 X", "something follows the frame"),
    (b"(1.5) can0 123#11 T R", "something follows the frame"),
    (b"(1.5) can0 " + b" " * 4096 + b"123#11", "longer than 4096 bytes"),
]


def read(text, kernel, **how):
    log = open_candump("a.log", io.BytesIO(text), kernel=kernel, **how)
    found = list(log.batches())
    tally = log.tally
    assert tally.lines == tally.frames + tally.skipped + tally.comments
    assert tally.frames == sum(len(batch) for batch in found)
    return log, found


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
@pytest.mark.parametrize(("line", "frame"), GOOD)
def test_legal_line(kernel, line, frame, end):
    _, (batch,) = read(line + end, kernel)
    assert (batch.time_ns[0], batch.identifier[0], batch.flags[0], batch.length[0], batch.payload(0)) == frame


@pytest.mark.parametrize(("line", "frame"), GOOD)
def test_legal_line_among_others(kernel, line, frame):
    text = b"(1436509052.249713) can0 18FEF100#0011223344556677\n" * 3
    _, (batch,) = read(text + line + b"\n" + text, kernel)
    assert (batch.time_ns[3], batch.identifier[3], batch.flags[3], batch.length[3], batch.payload(3)) == frame
    assert batch.data[4].tobytes() == bytes.fromhex("0011223344556677")


@pytest.mark.parametrize(("line", "reason"), BAD)
def test_line_skipped_with_number_and_reason(kernel, line, reason):
    good = b"(1.5) can0 123#11\n"
    log, (batch,) = read(good + line + b"\n" + good, kernel)
    assert len(batch) == 2
    (skip,) = log.tally.skipped_lines
    assert skip.line == 2
    assert reason in skip.reason


def test_error_frames_are_no_ghost_addresses(kernel):
    # Error classes of Linux include/uapi/linux/can/error.h; none is a frame of address 4, 0x20 or 0x40.
    text = b"".join(b"(1.0) can0 200000%02X#0000000000000000\n" % kind for kind in (0x04, 0x20, 0x40))
    _, (batch,) = read(text, kernel)
    assert (batch.flags == ERROR).all()
    assert batch.identifier.tolist() == [0x04, 0x20, 0x40]


def test_channels_grow_and_keep_their_places(kernel):
    names = [b"can0", b"vcan1", b"interface_num15", b"can0", b"a"]
    text = b"".join(b"(1.0) %s 123#\n" % name for name in names)
    _, found = read(text, kernel, batch_frames=2)
    assert [batch.channels for batch in found] == [
        ("can0", "vcan1"),
        ("can0", "vcan1", "interface_num15"),
        ("can0", "vcan1", "interface_num15", "a"),
    ]
    assert [batch.channel.tolist() for batch in found] == [[0, 1], [2, 0], [3]]


def test_aligned_names_of_several_interfaces(kernel):
    _, (batch,) = read(b"(1.000000)  can0 123#\n(1.000000) vcan0 123#\n", kernel)  # candump pads to the longest
    assert batch.channels == ("can0", "vcan0")


def test_interface_beyond_255_is_skipped(kernel):
    text = b"".join(b"(1.0) can%d 123#\n" % i for i in range(257)) + b"(1.0) can254 123#\n"
    log, (batch,) = read(text, kernel)
    assert len(batch.channels) == 255
    assert batch.channel[-1] == 254
    assert [skip.line for skip in log.tally.skipped_lines] == [256, 257]
    assert log.tally.skipped_lines[0].reason == "more than 255 interfaces"


def test_comments_and_lost_frames(kernel):
    text = b"# remark\n\n ; remark\r\n\t\r\nDROPCOUNT: dropped 5 CAN frames on 'can0' socket (total drops 12)\n"
    log, found = read(text + text.replace(b"5 CAN frames", b"1 CAN frame"), kernel)
    assert not found
    assert (log.tally.comments, log.tally.dropped) == (10, 6)


def test_only_the_first_thousand_skips_are_kept(kernel):
    log, (batch,) = read(b"garbage\n" * 5000 + b"(1.0) can0 123#\n" + b"DROPCOUNT: dropped 2 CAN frames on\n", kernel)
    assert (len(batch), log.tally.skipped, log.tally.dropped) == (1, 5000, 2)
    assert [skip.line for skip in log.tally.skipped_lines] == list(range(1, 1001))


@pytest.mark.parametrize("text", [b"", b"\n", b"#"])
def test_next_to_nothing(kernel, text):
    log, found = read(text, kernel)
    assert not found
    assert log.tally.lines == len(text)


def test_last_line_without_end_is_taken_and_said(kernel):
    log, (batch,) = read(b"(1.0) can0 123#11\n(2.0) can0 123#22", kernel)
    assert batch.data[:, 0].tolist() == [0x11, 0x22]
    assert log.tally.notes == ["The last line has no end; the file may be cut short."]


def test_last_line_cut_short_anywhere(kernel):
    line = b"(1436509052.249713) can0 18FEF100#0011223344556677"
    for size in range(1, len(line)):
        log, found = read(line[:size], kernel)
        assert (log.tally.skipped == 1) == (not found)
        assert bool(log.tally.notes) == bool(found)


def test_byte_order_mark(kernel):
    log, (batch,) = read(b"\xef\xbb\xbf(1.0) can0 123#11\n", kernel)
    assert (len(batch), log.tally.skipped) == (1, 0)


def test_endless_line_keeps_memory_flat(kernel):
    log, (batch,) = read(b"(1.0) can0 123#\n" + b"\0" * 5_000_000 + b"\n(1.0) can0 123#\n", kernel)
    assert len(batch) == 2
    assert [(skip.line, skip.reason) for skip in log.tally.skipped_lines] == [(2, "longer than 4096 bytes")]


def test_progress_and_label(kernel):
    text = b"(1.0) can0 123#11\n"
    log = open_candump("a.log", io.BytesIO(text), total_bytes=len(text), kernel=kernel)
    assert (log.path, log.format, log.progress) == ("a.log", "candump log", 0)
    list(log.batches())
    assert log.progress == 1
    assert open_candump("-", io.BytesIO(text)).progress is None


def test_batches_hold_what_was_asked_for(kernel):
    text = b"".join(b"(%d.0) can0 123##0%s\n" % (i, b"11" * 64) for i in range(10))
    _, found = read(text, kernel, batch_frames=4)
    assert [len(batch) for batch in found] == [4, 4, 2]
    assert [batch.wide_rows.tolist() for batch in found] == [[0, 1, 2, 3], [0, 1, 2, 3], [0, 1]]


@settings(max_examples=150, deadline=None)
@given(batch=batches(st.integers(0, 2**63 - 1)))
def test_written_and_read_back_equal(kernel, batch):
    _, found = read(format_candump(batch), kernel)
    if not len(batch):
        assert not found
        return
    (back,) = found
    names = [batch.channels[channel] for channel in batch.channel]
    assert [back.channels[channel] for channel in back.channel] == names  # numbered as met
    back.channel[:] = batch.channel
    assert same(back, batch)


def test_written_as_candump_writes(kernel):
    text = (
        b"(1436509052.249713) can0 18FEF100#0011223344556677\n"
        b"(1436509052.249713) can0 123#R\n"
        b"(1436509052.249713) can0 123#R5\n"
        b"(1436509052.249713) can0 20000004#0010000000000000\n"
        b"(1436509052.249713) can0 123##3AA\n"
    )
    _, (batch,) = read(text, kernel)
    assert format_candump(batch) == text


def test_nanoseconds_are_written_where_needed(kernel):
    _, (batch,) = read(b"(0.000000001) can0 123#\n(1.5) can0 123#\n", kernel)
    assert format_candump(batch) == b"(0.000000001) can0 123#\n(1.500000) can0 123#\n"


@pytest.mark.parametrize(("time_ns", "name"), [(-1, "can0"), (0, "can 0"), (0, "a" * 16), (0, "")])
def test_what_a_candump_log_cannot_hold(kernel, time_ns, name):  # noqa: ARG001 - writing has no kernel
    batch = FrameBatch.from_rows([(time_ns, 0, 1, 0, 0, b"")], (name,))
    with pytest.raises(DataError, match="A candump log cannot hold"):
        format_candump(batch)
