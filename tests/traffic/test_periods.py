"""Histograms against numpy's own quantiles; periods, jitter and missed cycles of made-up senders."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.traffic.histogram import GapHistogram
from linkcheck.traffic.periods import period, rhythm


def histogram_of(gaps_ns):
    histogram = GapHistogram()
    histogram.add(np.zeros(len(gaps_ns), np.uint32), np.asarray(gaps_ns, np.int64))
    return histogram


@given(st.lists(st.integers(10_000, 10**12), min_size=1, max_size=400), st.sampled_from([0.05, 0.5, 0.95]))
def test_quantiles_within_four_tenths_of_a_percent(gaps, share):
    (found,) = histogram_of(gaps).quantiles_ns(0, (share,))
    assert found == pytest.approx(np.quantile(gaps, share, method="inverted_cdf"), rel=0.004)


def test_first_frames_and_late_keys_are_left_out():
    histogram = GapHistogram(max_keys=2)
    histogram.add(np.array([0, 1, 2], np.uint32), np.array([-1, 10**7, 10**7]))
    assert histogram.quantiles_ns(0, (0.5,)) is None
    assert histogram.counts(1).sum() == 1


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
