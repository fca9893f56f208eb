"""The bit rate read off frames sent back to back, with the lengths of the independent routine."""

import numpy as np
import pytest
from wire_reference import frame_bits

from linkcheck.frames import EXTENDED, FrameBatch
from linkcheck.traffic import Analysis, Options


def traffic(rate, seed, *, count=3000, burst=6, jitter_ns=0, period_ns=20_000_000):
    """Bursts of frames back to back (as periodic messages due at once are), then a pause."""
    rng = np.random.default_rng(seed)
    rows, now = [], 10**9
    for i in range(count):
        data = rng.integers(0, 256, 8).astype(np.uint8).tobytes()
        identifier = 0x18FE0000 | int(rng.integers(0, 40)) << 8
        if i % burst == 0:
            now += int(period_ns * rng.uniform(0.5, 1.5))
        now += round(len(frame_bits(identifier, data, extended=True)) * 1e9 / rate)
        rows.append((now + int(rng.normal(0, jitter_ns)) if jitter_ns else now, 0, identifier, EXTENDED, 8, data))
    return FrameBatch.from_rows(rows, ("can0",))


def rate_of(batch, **options):
    analysis = Analysis(Options(**options))
    analysis.eat(batch)
    return analysis.result().channels["can0"]


@pytest.mark.parametrize("rate", [125_000, 250_000, 500_000, 1_000_000])
def test_measured_from_exact_stamps(rate):
    found = rate_of(traffic(rate, seed=rate)).bit_rate
    assert (found.value, found.basis) == (rate, "measured")
    assert found.confidence > 0.9


@pytest.mark.parametrize("seed", range(5))
def test_measured_from_stamps_of_a_host_clock(seed):
    # 20 us of jitter is what a USB adapter with a host's clock shows; a frame lasts some 570 us.
    found = rate_of(traffic(250_000, seed, jitter_ns=20_000)).bit_rate
    assert (found.value, found.basis) == (250_000, "measured")


@pytest.mark.parametrize("off", [-0.01, -0.0005, 0.0, 0.0005, 0.008])
def test_a_clock_that_is_off_shows(off):
    channel = rate_of(traffic(250_000 * (1 + off), seed=6))
    assert channel.bit_rate.value == 250_000
    assert channel.bit_rate.clock_off == pytest.approx(off, abs=0.0006)
    # 16 quanta, phase 2 of 2, jump 1: 1/(20 * 16) = 0.31 % by the first condition of the CAN specification.
    assert ("clock_off" in {f.finding for f in channel.findings}) == (abs(off) > 0.0031)


def test_a_host_clock_is_too_coarse_to_judge_the_bus_by():
    assert rate_of(traffic(250_000, 7, jitter_ns=20_000)).bit_rate.clock_off is None


def test_sparse_traffic_shows_no_rate_and_none_is_claimed():
    found = rate_of(traffic(250_000, 3, burst=1)).bit_rate
    assert (found.value, found.basis, found.confidence) == (250_000, "assumed", 0.0)


def test_wrong_claim_is_a_finding():
    channel = rate_of(traffic(500_000, 4), bit_rate=250_000)
    assert (channel.bit_rate.value, channel.bit_rate.basis, channel.bit_rate.measured) == (250_000, "given", 500_000)
    assert "bit_rate_claim" in {finding.finding for finding in channel.findings}


def test_right_claim_is_no_finding():
    channel = rate_of(traffic(500_000, 4), bit_rate=500_000)
    assert "bit_rate_claim" not in {finding.finding for finding in channel.findings}
