"""Bus load against an independent count of bits and time."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_reference import frame_bits

from linkcheck.frames import EXTENDED, FrameBatch
from linkcheck.traffic import Analysis, Options
from linkcheck.traffic.meter import meter_volts
from linkcheck.traffic.series import Series

MS = 1_000_000


def batch_of(rows, channels=("can0",)):
    return FrameBatch.from_rows(rows, channels)


def test_mean_load_is_wire_bits_over_rate_and_time():
    rng = np.random.default_rng(5)
    rows, bits, dominant = [], 0, 0
    for i in range(500):
        data = rng.integers(0, 256, rng.integers(0, 9)).astype(np.uint8).tobytes()
        identifier = int(rng.integers(0, 1 << 29))
        wire = frame_bits(identifier, data, extended=True)
        bits += len(wire)
        dominant += wire.count(0)
        rows.append((i * 2 * MS, 0, identifier, EXTENDED, len(data), data))
    analysis = Analysis(Options(bit_rate=250_000))
    analysis.eat(batch_of(rows))
    channel = analysis.result().channels["can0"]
    span = 499 * 0.002
    assert channel.wire_bits == bits
    assert channel.dominant_bits == dominant
    assert channel.bus_load.mean == pytest.approx(bits / (250_000 * span), rel=1e-12)
    assert channel.dominant_share == pytest.approx(dominant / (250_000 * span), rel=1e-12)


def test_meter_volts_follow_the_dominant_share():
    # A published single-truck capture has the lines dominant 13.45 % of the time; with typical levels (2.5 V, +-1 V;
    # NXP TJA1051 data sheet rev. 7, table 7) a meter that averages shows 2.634, 2.366 and 0.269 V, 5.000 V together.
    volts = meter_volts(0.1345)
    assert volts.can_high_v == pytest.approx(2.634, abs=0.001)
    assert volts.can_low_v == pytest.approx(2.366, abs=0.001)
    assert volts.difference_v == pytest.approx(0.269, abs=0.001)
    assert volts.can_high_v + volts.can_low_v == pytest.approx(5.0, abs=1e-9)


def test_worst_second_counts_whole_seconds_from_the_first_frame():
    # 100 frames a second, but 200 in the third; the last, unfinished second is fuller still and must not count.
    times = [i * 10 * MS for i in range(200)]
    times += [2_000 * MS + i * 5 * MS for i in range(200)]
    times += [3_000 * MS + i * 1 * MS for i in range(300)]
    data = bytes(8)
    size = len(frame_bits(0x18FEF100, data, extended=True))
    analysis = Analysis(Options(bit_rate=250_000))
    analysis.eat(batch_of([(t, 0, 0x18FEF100, EXTENDED, 8, data) for t in times]))
    load = analysis.result().channels["can0"].bus_load
    assert load.peak_1s == pytest.approx(200 * size / 250_000)
    assert load.peak_1s_at_s == pytest.approx(2.0)


def test_two_channels_are_reckoned_apart():
    rows = [(i * MS, i % 2, 0x18FEF100, EXTENDED, 8, bytes(8)) for i in range(1000)]
    analysis = Analysis(Options(bit_rate=250_000))
    analysis.eat(batch_of(rows, ("can0", "can1")))
    channels = analysis.result().channels
    assert [channels[name].frames for name in ("can0", "can1")] == [500, 500]
    assert channels["can0"].bus_load.mean == pytest.approx(channels["can1"].bus_load.mean, rel=0.01)


def test_without_time_stamps_no_load_is_invented():
    analysis = Analysis(Options(timeless=True))
    analysis.eat(batch_of([(i * 1000, 0, 0x18FEF100, EXTENDED, 8, bytes(8)) for i in range(50)]))
    channel = analysis.result().channels["can0"]
    assert channel.bus_load.mean is None
    assert channel.meter is None
    assert channel.first_s is None


@given(
    st.lists(st.tuples(st.integers(0, 40_000), st.integers(0, 200)), min_size=1, max_size=300),
    st.lists(st.integers(1, 40), min_size=1, max_size=20),
)
def test_series_keeps_sums_and_peaks_whatever_the_batches(events, cuts):
    events = sorted(events)
    times = np.array([t for t, _ in events], np.int64) * MS
    amounts = np.array([a for _, a in events], np.int64)
    series = Series(1)
    at = i = 0
    while at < len(times):
        step = cuts[i % len(cuts)]
        series.add(times[at : at + step], (amounts[at : at + step],))
        at, i = at + step, i + 1
    view = series.snapshot(int(times[-1]))
    assert int(view.sums[0].sum()) == int(amounts.sum())
    since = times - times[0]
    for width, peak in ((100 * MS, view.peak_100ms), (1000 * MS, view.peak_1s)):
        whole = int(since[-1] // width)
        sums = [int(amounts[(since >= k * width) & (since < (k + 1) * width)].sum()) for k in range(whole)]
        assert (peak.value if peak else None) == (max(sums) if sums else None)


def test_series_stays_small_over_a_month():
    series = Series(1)
    for hour in range(24 * 30):
        start = hour * 3_600_000 * MS
        series.add(np.arange(start, start + 3_600_000 * MS, 60_000 * MS), (None,))
    view = series.snapshot(24 * 30 * 3_600_000 * MS)
    assert int(view.sums[0].sum()) == 24 * 30 * 60
    assert view.sums.shape[1] <= 2048
