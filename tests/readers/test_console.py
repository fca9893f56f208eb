"""candump's console output, in the layouts of can-utils (candump.c, lib.c: sprint_long_canframe)."""

import io
from pathlib import Path

import pytest
from reading import assert_adds_up, rows

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.readers.console import DELTAS, LOCAL, TIMELESS, ConsoleCapture

SENTRY = Path(__file__).parent.parent / "data" / "truck_sentry_console"


def read_text(text):
    capture = ConsoleCapture("test", io.BytesIO(text if isinstance(text, bytes) else text.encode()))
    found = rows(capture.batches())
    assert_adds_up(capture.tally, found)
    return found, capture


ONE_LINE = {
    "29 bits": ("  can0  18FEF100   [8]  00 11 22 33 44 55 66 77", 0x18FEF100, EXTENDED, 8, "0011223344556677"),
    "11 bits": ("  can0  123   [3]  AA BB CC", 0x123, 0, 3, "aabbcc"),
    "11 bits among 29": ("  can0       123   [3]  AA BB CC", 0x123, 0, 3, "aabbcc"),
    "no data": ("  can0  123   [0] ", 0x123, 0, 0, ""),
    "no data, blank cut off": ("  can0  123   [0]", 0x123, 0, 0, ""),
    "remote": ("  can0  123   [3]  remote request", 0x123, REMOTE, 3, ""),
    "FD": ("  can0  123  [02]  AA BB", 0x123, FD, 2, "aabb"),
    "FD 12": ("  can0  18FEF100  [12]  " + " ".join(["5A"] * 12), 0x18FEF100, FD | EXTENDED, 12, "5a" * 12),
    "-x": ("  can0  RX - -  123   [2]  AA BB", 0x123, 0, 2, "aabb"),
    "-x sent": ("  can0  TX - -  18FEF100   [1]  AA", 0x18FEF100, SENT | EXTENDED, 1, "aa"),
    "-x FD": ("  can0  RX B E  123  [01]  AA", 0x123, FD | BRS | ESI, 1, "aa"),
    "-x FD no switch": ("  can0  TX - E  123  [01]  AA", 0x123, FD | ESI | SENT, 1, "aa"),
    "-a": ("  can0  123   [3]  41 42 27                     'AB''", 0x123, 0, 3, "414227"),
    "-a full": ("  can0  123   [8]  30 31 20 33 34 35 36 37   '01 34567'", 0x123, 0, 8, "3031203334353637"),
    "-i": ("  can0  123   [2]  00010001 11110000", 0x123, 0, 2, "11f0"),
    "-S": ("  can0  123   [3]  CC`BB`AA", 0x123, 0, 3, "aabbcc"),
    "-S -a": ("  can0  123   [2]  42`41                        `BA`", 0x123, 0, 2, "4142"),
    "-8": ("  can0  123   {F}  00 11 22 33 44 55 66 77", 0x123, 0, 8, "0011223344556677"),
    "-8 plain": ("  can0  123   {3}  AA BB CC", 0x123, 0, 3, "aabbcc"),
    "lower case": ("  can0  18fef100   [2]  aa bb", 0x18FEF100, EXTENDED, 2, "aabb"),
    "colour": ("  \x1b[1;34mcan0\x1b[0m  123   [1]  AA", 0x123, 0, 1, "aa"),
    "bus-off": (
        "  can0  20000040   [8]  00 00 00 00 00 00 00 00   ERRORFRAME",
        0x40,
        ERROR,
        8,
        "0000000000000000",
    ),
}


@pytest.mark.parametrize("name", ONE_LINE)
@pytest.mark.parametrize("ending", ["\n", "\r\n", ""])
def test_one_line(name, ending):
    line, identifier, flags, length, payload = ONE_LINE[name]
    found, capture = read_text(f" (1436509052.249713){line}{ending}")
    assert found == [(1436509052249713000, "can0", identifier, flags, length, bytes.fromhex(payload))]
    assert not capture.tally.notes


@pytest.mark.parametrize("name", ONE_LINE)
def test_many_lines_alike_are_read_as_one_is(name):
    """Lines of one build are read as columns; a line alone is not."""
    line, *_ = ONE_LINE[name]
    found, _ = read_text("".join(f" (1436509052.{i:06d}){line}\n" for i in range(100)))
    alone, _ = read_text(f" (1436509052.000000){line}\n")
    assert found == [(1436509052_000000_000 + i * 1000, *alone[0][1:]) for i in range(100)]


def test_times_since_the_start():
    found, capture = read_text(
        " (000.000000)  can0  123   [0] \n (000.002047)  can0  123   [0] \n (1012.831664)  can0  123   [0] \n"
    )
    assert [row[0] for row in found] == [0, 2047000, 1012831664000]
    assert not capture.timeless


def test_times_since_the_line_before_are_added_up():
    deltas = [0, 20000, 499, 19501, 512, 19488, 20000]
    found, capture = read_text("".join(f" (000.{us:06d})  can0  123   [0] \n" for us in deltas))
    assert [row[0] for row in found] == [1000 * sum(deltas[: i + 1]) for i in range(len(deltas))]
    assert capture.tally.notes == [DELTAS]


def test_the_time_of_a_skipped_line_still_passes():
    lines = [f" (000.{us:06d})  can0  123   [0] \n" for us in (0, 500, 300, 400, 200)]
    lines[2] = " (000.000300)  can0  123   [2]  00\n"
    found, capture = read_text("".join(lines))
    assert [row[0] for row in found] == [0, 500_000, 1_200_000, 1_400_000]
    assert capture.tally.skipped_lines[0].reason == "line is cut short: 1 of 2 data bytes"


def test_one_step_back_does_not_make_times_deltas():
    stamps = [*range(0, 20_000, 1000), 5000, *range(6000, 26_000, 1000)]
    found, capture = read_text("".join(f" (000.{us:06d})  can0  123   [0] \n" for us in stamps))
    assert [row[0] for row in found] == [us * 1000 for us in stamps]
    assert not capture.tally.notes


def test_dates():
    """2015-07-10 06:17:32 UTC is 1436509052 (checked with `date -u -d @1436509052`)."""
    line = "  can0  123   [1]  00\n"
    found, capture = read_text(
        f" (2015-07-10 06:17:32.249713){line} (2015-07-10 06:17:59.999999){line} (2015-07-10 06:18:00.000000){line}"
    )
    assert [row[0] for row in found] == [1436509052249713000, 1436509079999999000, 1436509080000000000]
    assert capture.tally.notes == [LOCAL]


@pytest.mark.parametrize("stamp", ["2015-13-10 06:17:32.249713", "2015-07-10 06:17:75.000000", "2015-02-30 00:00:00.0"])
def test_dates_that_are_none(stamp):
    found, capture = read_text(f" (2015-07-10 06:17:32.2)  can0  123   [0] \n ({stamp})  can0  123   [0] \n")
    assert len(found) == capture.tally.skipped == 1


def test_nanoseconds():
    found, _ = read_text(" (0000000012.123456789)  can0  123   [0] \n")
    assert found[0][0] == 12_123_456_789


def test_no_times_at_all():
    found, capture = read_text("  can0  123   [0] \n  can0  124   [0] \njunk\n  can1  125   [0] \n")
    assert [(row[0], row[1], row[2]) for row in found] == [
        (0, "can0", 0x123),
        (1000, "can0", 0x124),
        (2000, "can1", 0x125),
    ]
    assert capture.timeless
    assert capture.tally.notes == [TIMELESS]


def test_a_line_without_time_among_timed_ones_is_skipped():
    found, capture = read_text(" (000.000000)  can0  123   [0] \n  can0  124   [0] \n")
    assert [row[2] for row in found] == [0x123]
    assert capture.tally.skipped_lines[0].reason == "no time stamp"


def test_several_interfaces_keep_their_names_and_order():
    found, _ = read_text(
        " (000.000000)  can1  123   [0] \n (000.000001)   slcan0  123   [0] \n (000.000002)  can1  124   [0] \n"
    )
    assert [row[1] for row in found] == ["can1", "slcan0", "can1"]


def test_remarks_and_drops():
    found, capture = read_text(
        " (000.000000)  can0  20000004   [8]  00 20 00 00 00 00 88 00   ERRORFRAME\n"
        "\tcontroller-problem{tx-error-passive}\n\terror-counter-tx-rx{{136}{0}}\n"
        "DROPCOUNT: dropped 3 CAN frames on 'can0' socket (total drops 3)\n"
        "DROPCOUNT: dropped 1 CAN frame on 'can0' socket (total drops 4)\n"
        "\ncan0: interface down\n"
    )
    assert found == [(0, "can0", 4, ERROR, 8, bytes([0, 32, 0, 0, 0, 0, 136, 0]))]
    assert (capture.tally.comments, capture.tally.dropped, capture.tally.skipped) == (6, 4, 0)


DAMAGED = {
    "  can0  123   [8]  00 11 22": "line is cut short: 3 of 8 data bytes",
    "  can0  123   [2]  00 11 22": "more data than its length says",
    "  can0  123   [9]  00 11 22 33 44 55 66 77 88": "length out of range",
    "  can0  123  [09]  00 11 22 33 44 55 66 77 88": "length out of range",
    "  can0  823   [0] ": "identifier out of range",
    "  can0  40000123   [0] ": "identifier out of range",
    "  can0  18FEF100   [0]   ERRORFRAME": "an error frame with the identifier of a data frame",
    "  can0  123   [1]  00 remote request": "a remote frame with data",
    "  can0  1234   [0] ": "not a line of candump console output",
    "  can0  123   [1]  0": "not a line of candump console output",
    "  can0  123   [1]  0G": "not a line of candump console output",
    "  can0  12G   [1]  00": "not a line of candump console output",
    "  can0  001 [0016] (00|80:07:BEEFCAFE) 00 01": "a CAN XL frame, which is not read",
    "hello": "not a line of candump console output",
}


@pytest.mark.parametrize("line", DAMAGED)
def test_damaged_line(line):
    _, capture = read_text(f" (000.000000){line}\n")
    assert [skip.reason for skip in capture.tally.skipped_lines] == [DAMAGED[line]]


def test_a_damaged_character_never_passes_among_lines_alike():
    """One character of one line replaced: the line reads as that character says, or is skipped."""
    good = [f" (000.{i:06d})  can0  18FEF1{i:02X}   [2]  AA {i:02X}\n" for i in range(60)]
    for place in range(len(good[30]) - 1):
        for other in b"Gz:-? \x00\xff7(":
            line = bytearray(good[30].encode())
            line[place] = other
            text = "".join(good[:30]).encode() + bytes(line) + "".join(good[31:]).encode()
            found, capture = read_text(text)
            alone, _ = read_text(good[0].encode() + bytes(line))
            assert found[30 : 31 - capture.tally.skipped] == alone[1:], bytes(line)


def test_a_line_without_end_is_bounded():
    found, capture = read_text(b" (000.000000)  can0  123   [0] \n" + b"x" * 3_000_000 + b"\n" + b"\0" * 2_000_000)
    assert len(found) == 1
    assert capture.tally.skipped == 2


@pytest.mark.parametrize(("name", "lines"), [("normal-head.log", 400), ("dos-head.log", 600)])
def test_real_recording(name, lines):
    """Every line of the real recordings is a frame on can0; data equal what the line says."""
    text = (SENTRY / name).read_text()
    found, capture = read_text(text)
    assert (len(found), capture.tally.skipped, capture.tally.notes) == (lines, 0, [])
    for (time_ns, channel, identifier, flags, length, payload), line in zip(found, text.splitlines(), strict=True):
        words = line.split()
        assert f"({time_ns // 10**9:03d}.{time_ns % 10**9 // 1000:06d})" == words[0]
        assert (channel, f"{identifier:08X}", f"[{length}]") == (words[1], words[2], words[3])
        assert (flags, payload.hex(" ").upper().split()) == (EXTENDED, words[4:])
