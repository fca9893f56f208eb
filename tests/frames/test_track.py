"""The tracker: keys in order of appearance, gaps, and the same marks from kernel and twin, however batches are cut."""

from __future__ import annotations

from itertools import chain, pairwise

import numpy as np
import pytest
from frame_strategies import batches
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcheck.frames import ERROR, EXTENDED, FD, REMOTE, FrameBatch, Tracker, wire_bits
from linkcheck.frames.kernel import KERNEL

needs_kernel = pytest.mark.skipif(not KERNEL, reason="the kernel is not built here")
SIDES = [False, pytest.param(True, marks=needs_kernel)]
MARKS = ("wire_bits", "dominant_bits", "key", "gap_ns", "source_gap_ns", "bus_gap_ns")
TIMES = st.one_of(st.integers(0, 100), st.integers(0, 2**62), st.sampled_from([2**63 - 1, -(2**62)]))


def mark(rows, kernel, **how):
    tracker = Tracker(kernel=kernel, **how)
    return tracker, tracker.annotate(FrameBatch.from_rows(rows, ("can0", "can1")))


def data(time_ns, identifier, channel=0, flags=EXTENDED):
    return (time_ns, channel, identifier, flags, 8, bytes(8))


def as_lists(marks):
    fast = np.zeros(len(marks.key), np.uint16) if marks.fast_bits is None else marks.fast_bits
    return [getattr(marks, name).tolist() for name in MARKS] + [fast.tolist()]


def tables(tracker):
    return [tracker.key_channel.tolist(), tracker.key_identifier.tolist(), tracker.key_flags.tolist()]


@pytest.mark.parametrize("kernel", SIDES)
class TestMarks:
    def test_keys_are_dense_in_order_of_appearance(self, kernel):
        rows = [data(0, 7), data(1, 9), data(2, 7), data(3, 7, channel=1), data(4, 7, flags=0)]
        tracker, marks = mark(rows, kernel)
        assert marks.key.tolist() == [0, 1, 0, 2, 3]
        assert tables(tracker) == [[0, 0, 1, 0], [7, 9, 7, 7], [EXTENDED, EXTENDED, EXTENDED, 0]]
        assert len(tracker) == 4

    def test_kind_makes_a_key_but_fd_does_not(self, kernel):
        flags = [0, REMOTE, ERROR, FD]
        assert mark([data(0, 7, flags=f) for f in flags], kernel)[1].key.tolist() == [0, 1, 2, 0]

    def test_gap_is_the_time_since_the_same_key(self, kernel):
        _, marks = mark([data(100, 7), data(150, 9), data(300, 7), data(290, 7), data(400, 7)], kernel)
        assert marks.gap_ns.tolist() == [-1, -1, 200, 0, 110]  # back in time counts as none, and starts anew

    def test_source_gap_is_the_time_since_the_same_sender(self, kernel):
        rows = [data(0, 0x18FEF103), data(5, 0x103, flags=0), data(10, 0x0CF00403), data(20, 0x18FEF103, channel=1)]
        rows += [data(30, 0x03, flags=ERROR), data(40, 0x18FEF103)]
        assert mark(rows, kernel)[1].source_gap_ns.tolist() == [-1, -1, 10, -1, -1, 30]

    def test_bus_gap_skips_error_frames(self, kernel):
        rows = [data(0, 4, flags=ERROR), data(10, 1), data(20, 4, flags=ERROR), data(30, 2), data(40, 1, channel=1)]
        assert mark(rows, kernel)[1].bus_gap_ns.tolist() == [-1, -1, 10, 20, -1]

    def test_forget_keeps_keys_and_forgets_times(self, kernel):
        tracker = Tracker(kernel=kernel)
        batch = FrameBatch.from_rows([data(0, 7), data(1, 9)], ("can0",))
        tracker.annotate(batch)
        tracker.forget()
        marks = tracker.annotate(batch)
        assert marks.key.tolist() == [0, 1]
        assert marks.gap_ns.tolist() == [-1, -1]
        assert marks.source_gap_ns.tolist() == [-1, -1]
        assert marks.bus_gap_ns.tolist() == [-1, 1]

    def test_last_key_is_shared_once_the_others_are_taken(self, kernel):
        rows = [data(t, identifier) for t, identifier in enumerate([1, 2, 3, 4, 2, 3, 5])]
        tracker, marks = mark(rows, kernel, max_keys=3)
        assert marks.key.tolist() == [0, 1, 2, 2, 1, 2, 2]
        assert marks.gap_ns.tolist() == [-1, -1, -1, 1, 3, 2, 1]
        assert tables(tracker)[1] == [1, 2, 3]

    def test_many_keys(self, kernel):
        identifiers = [i * 2654435761 % 2**29 for i in range(3000)] * 2
        tracker, marks = mark([data(t, identifier) for t, identifier in enumerate(identifiers)], kernel)
        assert len(tracker) == 3000
        assert marks.key.tolist() == list(range(3000)) * 2
        assert marks.gap_ns.tolist() == [-1] * 3000 + [3000] * 3000

    def test_batch_without_frames(self, kernel):
        tracker, marks = mark([], kernel)
        assert len(tracker) == len(marks.key) == 0

    def test_columns_need_not_be_contiguous(self, kernel):
        rows = [data(t, t % 5) for t in range(20)]
        whole = FrameBatch.from_rows(rows, ("can0",))
        marks = Tracker(kernel=kernel).annotate(whole.take(slice(None, None, 2)))
        assert as_lists(marks) == as_lists(mark(rows[::2], kernel)[1])

    @settings(max_examples=100, deadline=None)
    @given(batch=batches(TIMES), cuts=st.lists(st.integers(0, 40), max_size=5), limit=st.sampled_from([2, 5, 65536]))
    def test_marks_do_not_depend_on_batch_boundaries(self, kernel, batch, cuts, limit):
        edges = [0, *sorted(min(cut, len(batch)) for cut in cuts), len(batch)]
        whole, parts = Tracker(limit, kernel=kernel), Tracker(limit, kernel=kernel)
        want = as_lists(whole.annotate(batch))
        got = [as_lists(parts.annotate(batch.take(slice(a, b)))) for a, b in pairwise(edges)]
        assert [list(chain(*columns)) for columns in zip(*got, strict=True)] == want
        assert tables(parts) == tables(whole)


@needs_kernel
@settings(max_examples=100, deadline=None)
@given(some=st.lists(batches(TIMES, max_size=150), max_size=3), limit=st.sampled_from([1, 2, 5, 65536]))
def test_kernel_equals_twin(some, limit):
    kernel, twin = Tracker(limit, kernel=True), Tracker(limit, kernel=False)
    for batch in some:
        assert as_lists(kernel.annotate(batch)) == as_lists(twin.annotate(batch))
    assert tables(kernel) == tables(twin)


@needs_kernel
@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_kernel_equals_twin_on_columns_no_reader_makes(data):
    n = data.draw(st.integers(0, 20))
    column = lambda top: data.draw(st.lists(st.integers(0, top), min_size=n, max_size=n))  # noqa: E731
    wide_rows = sorted(data.draw(st.sets(st.integers(0, 25), max_size=5)))
    batch = FrameBatch(
        ("can0",),
        np.array(column(1000), np.int64),
        np.array(column(255), np.uint8),
        np.array(column(2**32 - 1), np.uint32),
        np.array(column(255), np.uint8),
        np.array(column(255), np.uint8),
        np.array(column(2**64 - 1), np.uint64).view(np.uint8).reshape(n, 8),
        np.array(wide_rows, np.int64),
        np.arange(len(wide_rows) * 64, dtype=np.uint8).reshape(-1, 64),
    )
    assert as_lists(Tracker(kernel=True).annotate(batch)) == as_lists(Tracker(kernel=False).annotate(batch))


def test_wire_bits_of_a_batch():
    assert wire_bits(FrameBatch.from_rows([data(0, 0)], ("can0",))).tolist() == [150]  # can-utils, canframelen
