"""Histograms against numpy's own quantiles; periods, jitter and missed cycles of made-up senders."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.frames import FrameBatch, Marks
from linkcheck.frames.kernel import KERNEL
from linkcheck.traffic.periods import period, rhythm
from linkcheck.traffic.tally import KeyTally


def marked(keys, gaps_ns):
    """A batch and its marks for keys and gaps made by hand."""
    n = len(keys)
    times = np.cumsum(np.maximum(np.asarray(gaps_ns, np.int64), 1))
    batch = FrameBatch.from_rows(
        [(int(t), 0, 0x18FEF100 + int(k), 1, 8, bytes(8)) for t, k in zip(times, keys, strict=True)], ("",)
    )
    gaps = np.asarray(gaps_ns, np.int64)
    bits = np.arange(n).astype(np.uint16)
    return batch, Marks(bits, bits, np.asarray(keys, np.uint32), gaps, gaps, gaps, None)


def tally_of(keys, gaps_ns, max_keys=2048, *, kernel=None):
    tally = KeyTally(max_keys, kernel=kernel)
    batch, marks = marked(keys, gaps_ns)
    tally.add(batch, marks, int(max(keys)) + 1)
    return tally


def histogram_of(gaps_ns):
    return tally_of([0] * len(gaps_ns), gaps_ns)


@given(st.lists(st.integers(10_000, 10**12), min_size=1, max_size=400), st.sampled_from([0.05, 0.5, 0.95]))
def test_quantiles_within_four_tenths_of_a_percent(gaps, share):
    (found,) = histogram_of(gaps).gap_quantiles_ns(0, (share,))
    assert found == pytest.approx(np.quantile(gaps, share, method="inverted_cdf"), rel=0.004)


@pytest.mark.parametrize("kernel", [False, None])
def test_first_frames_and_late_keys_are_left_out(kernel):
    tally = tally_of([0, 1, 2], [-1, 10**7, 10**7], max_keys=2, kernel=kernel)
    assert tally.gap_quantiles_ns(0, (0.5,)) is None
    assert tally.gap_counts(1).sum() == 1
    assert tally.gap_quantiles_ns(2, (0.5,)) is None
    assert tally.count.tolist() == [1, 1, 1]


@given(
    st.lists(
        st.lists(st.tuples(st.integers(0, 6), st.integers(-1, 2**45)), min_size=1, max_size=30), min_size=1, max_size=4
    )
)
def test_kernel_counts_what_numpy_counts(batches):
    if not KERNEL:
        pytest.skip("the compiled kernel is not built here")
    tallies = [KeyTally(4, kernel=kernel) for kernel in (True, False)]
    keys = 0
    for rows in batches:
        batch, marks = marked([k for k, _ in rows], [g for _, g in rows])
        keys = max(keys, int(marks.key.max()) + 1)
        for tally in tallies:
            tally.add(batch, marks, keys)
    a, b = tallies
    for name in ("count", "bits", "first_ns", "last_ns", "longest_ns", "_histogram"):
        assert getattr(a, name).tolist() == getattr(b, name).tolist(), name


def test_steady_sender_with_missed_cycles():
    rng = np.random.default_rng(1)
    gaps = rng.normal(20e6, 0.4e6, 2000)
    gaps[100] = 40e6  # one cycle missed
    gaps[200] = 100e6  # four missed
    found = period(histogram_of(gaps), 0)
    assert found.steady
    assert found.period_ns == pytest.approx(20e6, rel=0.01)
    assert found.jitter_ns == pytest.approx(0.4e6 * 1.645, rel=0.1)  # half the middle 90 % of a normal spread
    assert (found.missed, found.single_misses) == (5, 1)


def test_messages_on_demand_have_no_missed_cycles():
    rng = np.random.default_rng(2)
    found = period(histogram_of(rng.exponential(50e6, 500) + 1e5), 0)
    assert not found.steady
    assert found.missed == 0


def test_rhythm_is_the_fastest_steady_message():
    slow, fast = histogram_of([100e6] * 50), histogram_of([10e6] * 500)
    assert rhythm([period(slow, 0), period(fast, 0)]).period_ns == pytest.approx(10e6, rel=0.004)
    assert rhythm([]) is None
