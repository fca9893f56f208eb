"""Silences: alone, together, bus-wide, never back; and none where a sender is merely late."""

import numpy as np
import pytest

from linkcheck.frames import EXTENDED, FrameBatch
from linkcheck.traffic import Analysis, Options

MS, S = 1_000_000, 1_000_000_000


def truck(seconds, silences, *, seed=0, senders=((0, 20), (3, 10), (11, 100), (15, 100), (49, 50))):
    """Addresses with their periods (ms); `silences`: {address: [(from_s, to_s)]}."""
    rng = np.random.default_rng(seed)
    rows = []
    for address, period_ms in senders:
        phase = rng.uniform(0, period_ms)
        for k in range(int(seconds * 1000 / period_ms)):
            at = (phase + k * period_ms + rng.normal(0, 0.02 * period_ms)) / 1000
            if not any(a <= at < b for a, b in silences.get(address, [])):
                rows.append((int(at * S), 0, 0x18FEF100 | address, EXTENDED, 8, bytes(8)))
    rows.sort()
    return FrameBatch.from_rows(rows, ("can0",))


def analyse(batch, **options):
    analysis = Analysis(Options(bit_rate=250_000, **options))
    analysis.eat(batch)
    return analysis.result().channels["can0"]


def named(channel, finding):
    return [f for f in channel.findings if f.finding == finding]


@pytest.mark.parametrize("seed", range(10))
def test_sound_truck_has_no_silence(seed):
    channel = analyse(truck(60, {}, seed=seed))
    assert channel.silence.spells == []
    assert not [f for f in channel.findings if f.severity == "fault"]


def test_module_that_drops_out_alone():
    channel = analyse(truck(60, {11: [(10, 12), (40, 40.8)]}))
    spells = channel.silence.spells
    assert [s.address for s in spells] == [11, 11]
    assert spells[0].start_s == pytest.approx(10, abs=0.11)
    assert spells[0].length_s == pytest.approx(2, abs=0.2)
    assert spells[1].cycles_lost in (7, 8)
    (finding,) = named(channel, "address_silent")
    assert finding.evidence["address"] == 11
    assert channel.silence.together == []


def test_two_modules_on_one_branch_are_told_from_one_elsewhere():
    shared = [(10, 12), (20, 21), (33, 35), (50, 50.9)]
    channel = analyse(truck(80, {11: shared, 15: shared, 49: [(5, 6), (70, 72)]}))
    assert channel.silence.together == [[11, 15]]
    (finding,) = named(channel, "silent_together")
    assert finding.evidence["addresses"] == [11, 15]


def test_silences_at_different_times_are_not_put_together():
    channel = analyse(truck(80, {11: [(10, 12), (30, 31)], 15: [(20, 21), (60, 62)]}))
    assert channel.silence.together == []


def test_the_whole_bus_falls_silent():
    gap = [(30, 33)]
    channel = analyse(truck(60, dict.fromkeys((0, 3, 11, 15, 49), gap)))
    (finding,) = named(channel, "bus_silent")
    assert finding.evidence["times"][0][0] == pytest.approx(30, abs=0.1)
    assert not named(channel, "address_silent")
    assert len(channel.silence.bus_gaps) == 1


def test_module_that_never_comes_back():
    channel = analyse(truck(60, {15: [(25, 61)]}))
    (finding,) = named(channel, "never_came_back")
    assert finding.evidence["address"] == 15
    assert channel.silence.spells[0].end_s is None


def test_missing_address_against_the_vehicle():
    channel = analyse(truck(20, {}), expect={0: "engine", 3: "", 11: "", 15: "", 33: "body", 49: ""})
    (finding,) = named(channel, "address_missing")
    assert finding.evidence["missing"] == [33]
    channel = analyse(truck(20, {}), expect={0: "", 3: "", 11: "", 15: ""})
    (finding,) = named(channel, "address_unexpected")
    assert finding.evidence["unexpected"] == [49]


def test_senders_that_lose_one_cycle_in_ten_are_not_called_silent():
    rng = np.random.default_rng(9)
    batch = truck(60, {})
    channel = analyse(batch.take(np.flatnonzero(rng.random(len(batch)) > 0.1)))
    assert not named(channel, "address_silent")
    assert named(channel, "cycles_missed")
