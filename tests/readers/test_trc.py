"""The TRC text format, all versions, with the rows that are no frames."""

import io

import pytest
from reading import assert_adds_up, rows
from trc_examples import ALL, V1_0, V1_1, V1_2, V1_3, V2_0, V2_1

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.readers.trc import LOCAL, TrcCapture


def read_text(text):
    capture = TrcCapture("test", io.BytesIO(text.encode()))
    found = rows(capture.batches())
    assert_adds_up(capture.tally, found)
    return found, capture


def times(found):
    return [row[0] - found[0][0] for row in found]


@pytest.mark.parametrize("version", ALL)
def test_version_is_named_and_nothing_is_skipped(version):
    _, capture = read_text(ALL[version])
    assert capture.format == f"TRC {version}"
    assert capture.tally.skipped == 0
    assert capture.tally.comments == sum(line.startswith(";") or " EV " in line for line in ALL[version].splitlines())


@pytest.mark.parametrize("version", ALL)
def test_version_is_told_by_its_rows_where_the_header_is_lost(version):
    with_header, _ = read_text(ALL[version])
    body = "".join(line + "\n" for line in ALL[version].splitlines() if not line.startswith(";"))
    without, capture = read_text(body)
    assert [row[1:] for row in without] == [row[1:] for row in with_header]
    assert times(without) == times(with_header)
    assert capture.tally.skipped == 0


def test_version_1_0():
    found, _ = read_text(V1_0)
    assert found[0] == (1_841_000_000, "1", 1, 0, 8, bytes.fromhex("F001020304050607"))
    assert found[3] == (1_844_000_000, "1", 0x100, REMOTE, 3, b"")
    assert found[4] == (11_845_000_000, "1", 0x18FEF100, EXTENDED, 2, b"\xaa\xbb")


def test_version_1_1_starts_when_its_header_says():
    """12:52:32.484 on 24.03.2003 is 1048510352.484 (`date -u`); the header has ten decimals of a day."""
    found, capture = read_text(V1_1)
    assert abs(found[0][0] - (1_048_510_352_484_000_000 + 1_059_900_000)) < 1_000_000
    assert times(found)[1] == 239_000_000
    assert found[1][3] == SENT
    assert found[-1][2:] == (0x18FEF100, EXTENDED, 0, b"")
    assert capture.tally.notes == [LOCAL]


def test_versions_1_2_and_1_3_name_their_bus():
    found, _ = read_text(V1_2)
    assert [row[1] for row in found] == ["1", "2", "1", "1", "1"]
    found, _ = read_text(V1_3)
    assert [row[1:4] for row in found if not row[3] & ERROR] == [
        ("1", 0x401, 0),
        ("2", 0x18FEF100, EXTENDED | SENT),
        ("1", 0x400, REMOTE),
    ]


def test_version_2_flags():
    """FD: CAN FD, FB: with bit rate switch, FE: sender error-passive, BI: both."""
    found, _ = read_text(V2_1)
    fd = [row[3] for row in found if row[3] & FD]
    assert fd == [FD | BRS | SENT, FD | BRS | ESI | EXTENDED, FD | ESI | EXTENDED]
    assert found[2][4:] == (12, bytes(range(1, 13)))
    found, _ = read_text(V2_0)
    assert found[2][3:] == (FD | SENT, 12, bytes(range(1, 13)))


def test_error_rows_say_what_happened():
    """Kind 4 stuff error at place 2 (ID.28 to ID.21), receive and transmit counters 8 and 9."""
    row = next(row for row in read_text(V2_1)[0] if row[3] & ERROR)
    assert row[2] == 0x8 | 0x80 | 0x200
    assert row[5] == bytes([0, 0, 0x80 | 0x04, 2, 0, 0, 9, 8])


@pytest.mark.parametrize("text", [V1_0, V1_1, V1_2])
def test_an_error_in_the_ack_slot_of_a_sender_means_nobody_acknowledged(text):
    """`Error 0008 … 00 19 08 08`: neither bit, form nor stuff; while sending; place 19 hex is the ACK slot."""
    row = next(row for row in read_text(text)[0] if row[3] & ERROR and row[2] & 0x80)
    assert row[2] == 0x8 | 0x20 | 0x80 | 0x200
    assert (row[5][3], row[5][6], row[5][7]) == (0x19, 8, 8)


def test_states_and_counters():
    found, _ = read_text(V2_1)
    assert [(row[2], row[5][1], row[5][6:]) for row in found if row[3] & ERROR][1:] == [
        (0x40, 0, b"\0\0"),  # bus-off
        (0x200, 0, b"\3\2"),  # transmit 3, receive 2
    ]
    found, _ = read_text(V1_2)
    assert next((row[2], row[5][1]) for row in found if row[3] & ERROR) == (0x4, 0x04 | 0x08)  # warning


def test_back_to_active():
    found, _ = read_text(V2_1 + "     13     11336.600 ST 1         - Rx -  4    00 00 00 00\n")
    assert (found[-1][2], found[-1][5][1]) == (0x4, 0x40)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("     13     11336.600 DT 1      0800 Rx -  1    00", "identifier out of range"),
        ("     13     11336.600 DT 1  28FEF100 Rx -  1    00", "identifier out of range"),
        ("     13     11336.600 DT 1      0300 Rx -  3    00 01", "length says 3, the row holds 2 data bytes"),
        ("     13     11336.600 FB 1      0300 Rx -  9    00 01", "length says 9, the row holds 2 data bytes"),
        ("     13     11336.600 DT 1      0300 Rx -  2    00 0", "not a row of a TRC 2.1 file"),
        ("     13     11336.600 XX 1      0300 Rx -  1    00", "row type XX is not known"),
        ("     13     11336.600 ER 1         - Rx -  5    04 00 02 08", "an ER row that cannot be read"),
        ("     13     11336.600 ST 1         - Rx -  4    00 80 00 00", "controller state 00800000 is not known"),
        ("     13     11336.600 RR 1      0100 Rx -  9", "length out of range"),
        ("     13     11336.600 RR 1      0100 Rx -  1    00", "a remote frame with data"),
        ("rubbish", "not a row of a TRC 2.1 file"),
    ],
)
def test_damaged_row(row, reason):
    _, capture = read_text(V2_1 + row + "\n")
    assert [skip.reason for skip in capture.tally.skipped_lines] == [reason]
    assert capture.tally.skipped_lines[0].line == V2_1.count("\n") + 1


def test_many_rows_alike_are_read_as_one_is():
    head = ";$FILEVERSION=1.1\n"
    text = [f"{i:6d}){i * 7.3:12.1f}  Rx     18FEF1{i % 256:02X}  2  AA {i % 251:02X}\n" for i in range(3000)]
    found, _ = read_text(head + "".join(text))
    assert found == [
        (i * 7_300_000, "1", 0x18FEF100 + i % 256, EXTENDED, 2, bytes([0xAA, i % 251])) for i in range(3000)
    ]


def test_unknown_version_is_said():
    found, capture = read_text(V1_1.replace("=1.1", "=9.9"))
    assert len(found) == 6
    assert "version 9.9 of the TRC format is not known" in capture.tally.notes[0]
