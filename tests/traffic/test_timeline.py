"""Clocks that jump, files that follow each other: the timeline lays them end to end, whatever the batches."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.frames import FrameBatch
from linkcheck.traffic.timeline import BACK_NS, FORWARD_NS, Timeline

S = 1_000_000_000


def frames_at(times):
    return FrameBatch.from_rows([(t, 0, 0x100, 0, 0, b"") for t in times], ("can0",))


def lay(times, cuts=(10**9,)):
    timeline, out, begins = Timeline(), [], []
    at = i = 0
    while at < len(times):
        step = cuts[i % len(cuts)]
        for part, begin in timeline.lay(frames_at(times[at : at + step])):
            begins += [begin] + [False] * (len(part) - 1)
            out += part.time_ns.tolist()
        at, i = at + step, i + 1
    return out, begins, timeline


def test_second_recording_is_laid_behind_the_first():
    out, begins, timeline = lay([0, S, 2 * S, 0, S])
    assert out == [0, S, 2 * S, 2 * S, 3 * S]
    assert begins == [False, False, False, True, False]
    assert [(seam.frame, seam.step_ns) for seam in timeline.seams] == [(3, -2 * S)]


def test_clock_set_forward_by_years_is_a_seam():
    out, _, timeline = lay([0, S, 1_700_000_000 * S, 1_700_000_001 * S])
    assert out == [0, S, S, 2 * S]
    assert timeline.seam_count == 1


def test_small_steps_back_are_left_alone_and_counted():
    out, _, timeline = lay([0, 5_000_000, 3_000_000, 6_000_000])
    assert out == [0, 5_000_000, 3_000_000, 6_000_000]
    assert (timeline.small_steps_back, timeline.largest_small_step_ns) == (1, 2_000_000)


@given(
    st.lists(
        st.one_of(st.integers(-10_000_000, 50_000_000), st.sampled_from([-5 * S, -BACK_NS, BACK_NS, 2 * FORWARD_NS])),
        min_size=1,
        max_size=60,
    ),
    st.lists(st.integers(1, 9), min_size=1, max_size=5),
)
def test_batches_make_no_difference(steps, cuts):
    times = np.cumsum([10**15, *steps]).tolist()
    whole, begins, a = lay(times)
    pieces, begins_too, b = lay(times, cuts)
    assert whole == pieces
    assert begins == begins_too
    assert a.seams == b.seams
    assert a.small_steps_back == b.small_steps_back
