"""Bursts from time gaps. Timing: SAE J1708 (9600 bit/s, ten bits a character, ends after ten bits of idle)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from j1708.links import START_NS, byte_by_byte, chunks_of

from linkcheck.j1708.framing import BIT_NS, CHARACTER_NS, LONGEST_BURST, Framer


def bursts(chunks):
    framer = Framer()
    done = [burst for end_ns, data in chunks for burst in framer.feed(end_ns, data)]
    return done + framer.finish()


def test_a_character_and_the_longest_message_take_as_long_as_the_standard_says():
    character_ms = CHARACTER_NS / 1e6
    assert character_ms == pytest.approx(1.0417, abs=1e-4)
    (burst,) = bursts([(START_NS, bytes(21))])
    assert (burst.end_ns - burst.start_ns) / 1e6 == pytest.approx(21.875, abs=1e-4)


@pytest.mark.parametrize(("idle_bits", "count"), [(0, 1), (2, 1), (5, 1), (7, 2), (10, 2), (26, 2)])
def test_ten_bits_of_idle_end_a_message_and_two_do_not(idle_bits, count):
    assert len(bursts(chunks_of([b"\x80\x01", b"\x02\x03"], idle_bits))) == count


def test_a_live_link_hands_out_a_message_once_it_is_silent():
    framer = Framer()
    framer.feed(START_NS, b"\x80\x54\x10\x1c")
    assert framer.quiet(START_NS + round(2 * BIT_NS)) == []
    assert [burst.data for burst in framer.quiet(START_NS + round(10 * BIT_NS))] == [b"\x80\x54\x10\x1c"]
    assert framer.finish() == []


def test_a_clock_that_jumps_back_ends_the_burst():
    assert len(bursts([(START_NS, b"\x80\x01"), (START_NS - 3_600_000_000_000, b"\x80\x01")])) == 2


def test_a_line_that_never_falls_silent_does_not_fill_the_memory():
    pieces = bursts([(START_NS, bytes(5000))])
    assert max(len(burst.data) for burst in pieces) == LONGEST_BURST
    assert sum(len(burst.data) for burst in pieces) == 5000


def _with_times(steps):
    time_ns, out = START_NS, []
    for step, data in steps:
        time_ns += step
        out.append((time_ns, data))
    return out


chunks = st.lists(
    st.tuples(st.integers(-3_000_000_000, 3_000_000_000), st.binary(min_size=0, max_size=40)), max_size=40
).map(_with_times)


@given(chunks)
def test_whole_and_byte_by_byte_give_the_same_bursts(chunked):
    assert bursts(chunked) == bursts(byte_by_byte(chunked))


@given(chunks)
def test_no_byte_is_lost_or_moved(chunked):
    assert b"".join(burst.data for burst in bursts(chunked)) == b"".join(data for _, data in chunked)
