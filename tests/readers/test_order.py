"""Files sorted by identifier come back in order of time; files whose clock was set back do not."""

from reading import assert_adds_up, read, rows

from linkcheck.frames import EXTENDED
from linkcheck.readers import regroup
from linkcheck.readers.order import SORTED


def line(time_s, identifier):
    return f"({1436509052 + time_s:.6f}) can0 {identifier:08X}#{int(time_s * 1000):016X}\n"


def block(identifier, period_s, *, until=20.0):
    return "".join(line(i * period_s, identifier) for i in range(int(until / period_s)))


def write(path, text):
    path.write_text(text)
    return str(path)


def regrouped(path, **options):
    """Rows and capture of a file that is sorted by identifier."""
    capture = regroup(path, **options)
    found = rows(capture.batches())
    capture.close()
    assert_adds_up(capture.tally, found)
    return found, capture


GROUPED = block(0x18FEF100, 0.1) + block(0x0CF00400, 0.02) + block(0x18FEEE00, 1.0)


def test_sorted_by_identifier(tmp_path):
    path = write(tmp_path / "x", GROUPED)
    found, capture = regrouped(path)
    as_recorded, _ = read(path)
    assert found == sorted(as_recorded, key=lambda row: row[0])
    assert SORTED in capture.tally.notes


def test_frames_of_one_time_keep_their_order(tmp_path):
    path = write(tmp_path / "x", block(3, 1.0) + block(1, 1.0) + block(2, 1.0))
    found, _ = regrouped(path)
    assert [row[2] for row in found[:6]] == [3, 1, 2, 3, 1, 2]


def test_long_payloads_move_with_their_frames(tmp_path):
    fd = "".join(f"({i}.5) can0 12345678##1{i:02X}{'5A' * 63}\n" for i in range(10))
    path = write(tmp_path / "x", "".join(f"({i}.0) can0 123#{i:02X}\n" for i in range(10)) + fd)
    found, _ = regrouped(path)
    assert [row[5][0] for row in found] == [i // 2 for i in range(20)]
    assert all(len(row[5]) == (64 if row[2] == 0x12345678 else 1) for row in found)


def test_a_clock_that_was_set_back_is_not_sorted(tmp_path):
    once = "".join(line(i * 0.01, 0x18FEF100 + i % 5) for i in range(1000))
    assert regroup(write(tmp_path / "x", once + once)) is None


def test_a_file_in_order_is_not_sorted(tmp_path):
    assert regroup(write(tmp_path / "x", "".join(line(i * 0.01, i % 5) for i in range(1000)))) is None


def test_small_steps_back_are_not_blocks(tmp_path):
    text = "".join(line(5 + i * 0.01 - 0.5 * (i % 3), i) for i in range(100))
    assert regroup(write(tmp_path / "x", text)) is None


def test_the_same_number_as_11_and_29_bits_is_two_identifiers(tmp_path):
    text = "".join(f"({i}.0) can0 123#\n" for i in range(9)) + "".join(f"({i}.0) can0 00000123#\n" for i in range(9))
    found, _ = regrouped(write(tmp_path / "x", text))
    assert [row[3] for row in found] == [0, EXTENDED] * 9


def test_too_many_frames_come_as_they_are_with_a_note(tmp_path):
    path = write(tmp_path / "x", GROUPED)
    found, capture = regrouped(path, max_frames=100)
    assert found == read(path)[0]
    assert "more than 100 frames" in capture.tally.notes[-1]


def test_standard_input_cannot_be_read_again():
    assert regroup("-") is None
