"""Quantiles and time stamps."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.bench.figures import latency, stamp_figures

START_NS = 1_700_000_000_000_000_000


def test_quantiles_of_a_known_row():
    found = latency([n * 1e6 for n in range(101)])
    assert (found.p50_ms, found.p95_ms, found.p99_ms, found.max_ms) == (50.0, 95.0, 99.0, 100.0)


@given(st.lists(st.floats(0, 1e9), min_size=1))
def test_quantiles_are_in_order(delays):
    found = latency(delays)
    assert found.p50_ms <= found.p95_ms <= found.p99_ms <= found.max_ms


def host_of(stamps_ms, ppm=0.0):
    return [START_NS + round(ms * 1e6 / (1 + ppm * 1e-6)) for ms in stamps_ms]


def test_stamps_that_wrap_are_not_steps_back():
    true = list(range(59_000, 61_500, 10))
    found = stamp_figures([ms % 60_000 for ms in true], host_of(true), 60_000)
    assert found.backward == 0
    assert found.jitter_ms == pytest.approx(0, abs=0.01)


def test_a_step_back_is_counted():
    true = list(range(0, 2_000, 10))
    stamps = [ms - 500 if ms == 1_000 else ms for ms in true]
    assert stamp_figures(stamps, host_of(true), 60_000).backward == 1


@pytest.mark.parametrize("ppm", [-200, 0, 50, 900])
def test_drift(ppm):
    true = list(range(0, 600_000, 1000))
    found = stamp_figures([ms % 60_000 for ms in true], host_of(true, ppm), 60_000)
    assert found.drift_ppm == pytest.approx(ppm, abs=1)


def test_jitter_of_the_host_is_seen():
    rng = np.random.default_rng(1)
    true = list(range(0, 20_000, 10))
    late = [ns + round(ms * 1e6) for ns, ms in zip(host_of(true), rng.uniform(0, 16, len(true)), strict=True)]
    assert 6 < stamp_figures(true, late, 60_000).jitter_ms < 10  # half of 16 ms either way


def test_a_short_run_tells_no_drift():
    rng = np.random.default_rng(1)
    true = list(range(0, 1500, 10))
    late = [ns + round(ms * 1e6) for ns, ms in zip(host_of(true), rng.uniform(0, 2, len(true)), strict=True)]
    found = stamp_figures(true, late, 60_000)
    assert abs(found.drift_ppm) < found.drift_error_ppm * 2
    assert "too short a run" in found.words


def test_the_uncertainty_of_a_drift_covers_it_in_most_runs():
    rng = np.random.default_rng(2)
    true = list(range(0, 60_000, 20))
    inside = 0
    for _ in range(100):
        host = host_of(true, 80)
        late = [ns + round(ms * 1e6) for ns, ms in zip(host, rng.normal(5, 1, len(true)), strict=True)]
        found = stamp_figures([ms % 60_000 for ms in true], late, 60_000)
        inside += abs(found.drift_ppm - 80) <= found.drift_error_ppm
    assert inside >= 88  # two standard errors: 95 of 100
