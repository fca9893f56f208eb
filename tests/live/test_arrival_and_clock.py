"""Times of arrival and the steady clock."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.frames import EXTENDED, wire_bits
from linkcheck.frames.records import RECORD, RECORD_FORMAT, batch_of
from linkcheck.live.arrival import Backlog, least_ns, spread
from linkcheck.live.clock import SteadyClock

RATE = 250_000


def records(times, size=8):
    rows = (
        RECORD_FORMAT.pack(t, 0x18FEF100 + i % 256, EXTENDED, 0, size, bytes([i % 256] * size))
        for i, t in enumerate(times)
    )
    return np.frombuffer(b"".join(rows), RECORD).copy()


@given(st.lists(st.integers(0, 8), min_size=1, max_size=20), st.binary(min_size=160, max_size=160))
def test_no_frame_is_shorter_than_the_shortest(sizes, noise):
    """Against the exact length on the wire, which is checked against independent programs elsewhere."""
    body = b"".join(
        RECORD_FORMAT.pack(0, 0x18FEF100 + i, EXTENDED, 0, n, noise[8 * i : 8 * i + n]) for i, n in enumerate(sizes)
    )
    exact = wire_bits(batch_of(body, ("can0",))).astype(np.int64) * 1_000_000_000 // RATE
    assert (least_ns(np.frombuffer(body, RECORD), RATE) <= exact).all()


def test_a_block_is_spread_back_over_the_time_it_took():
    block = records([10**9] * 5)
    spread(block, RATE, 0)
    assert block["time_ns"][-1] == 10**9
    assert np.diff(block["time_ns"]).tolist() == [131 * 4000] * 4  # 67 + 64 bits of 4 us


@given(st.lists(st.integers(0, 5), min_size=1, max_size=40), st.integers(0, 6_000_000))
def test_spreading_keeps_order_and_bounds(blocks, not_before):
    times = np.sort(np.array(blocks)) * 1_000_000 + 1_000_000
    block = records(times.tolist())
    spread(block, RATE, not_before)
    assert (np.diff(block["time_ns"]) >= 0).all()
    assert (block["time_ns"] <= times).all()
    assert block["time_ns"][0] >= min(not_before, times[0])


def test_more_than_the_bus_can_carry_was_held_up():
    block = records([0] * 200)  # 105 ms of bus
    assert Backlog().add(block, RATE, 20_000_000) > 80_000_000
    assert Backlog().add(block, RATE, 100_000_000) == 0


def test_a_delay_that_comes_in_pieces_is_told_once():
    backlog = Backlog()
    told = [backlog.add(records([0] * 20), RATE, 1_000_000) for _ in range(10)]  # 10 ms of bus every millisecond
    assert sum(delay > 0 for delay in told) == 1
    assert backlog.add(records([0]), RATE, 200_000_000) == 0
    assert backlog.add(records([0] * 200), RATE, 0) > 0


def test_a_full_bus_read_in_time_is_never_behind():
    backlog = Backlog()
    assert not any(backlog.add(records([0] * 19), RATE, 10_000_000) for _ in range(1000))


def test_the_clock_goes_on_evenly_while_the_host_s_is_set():
    wall, steady = [10**18], [0]
    clock = SteadyClock(wall_ns=lambda: wall[0], steady_ns=lambda: steady[0])
    wall[0] += 10**9
    steady[0] += 10**9
    assert clock.step_ns() == 0
    before = clock.now_ns()
    wall[0] -= 3600 * 10**9  # somebody sets the clock back by an hour
    assert clock.step_ns() == -3600 * 10**9
    assert clock.step_ns() == 0
    assert clock.now_ns() == before
    assert clock.from_wall(wall[0]) == before


def test_a_clock_made_later_runs_as_the_first():
    first = SteadyClock()
    later = SteadyClock(first.start)
    assert abs(later.now_ns() - first.now_ns()) < 10**9
