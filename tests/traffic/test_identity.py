"""One address, two devices; identifiers cut short; ghosts."""

import numpy as np
import pytest
from wire_reference import frame_bits

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.traffic import Analysis, Options

MS = 1_000_000


def analyse(rows, channels=("can0",), **options):
    analysis = Analysis(Options(bit_rate=250_000, **options))
    analysis.eat(FrameBatch.from_rows(sorted(rows), channels))
    return analysis.result().channels["can0"]


def train(identifier, period_ms, count, phase_ms, data, seed, clock=1.0):
    rng = np.random.default_rng(seed)
    return [
        (int((phase_ms + k * period_ms * clock + rng.normal(0, 0.3)) * MS), 0, identifier, EXTENDED, 8, data)
        for k in range(count)
    ]


def found(channel, name):
    return [f for f in channel.findings if f.finding == name]


@pytest.mark.parametrize(("phase", "clock"), [(20, 1.0), (35, 1.0), (60, 1.003), (81, 0.998)])
def test_two_devices_under_one_address(phase, clock):
    rows = train(0x18FEF131, 100, 300, 0, bytes(8), 1) + train(0x18FEF131, 100, 300, phase, b"\x11" * 8, 2, clock)
    (finding,) = found(analyse(rows), "address_twice")
    assert finding.evidence["address"] == 0x31
    assert finding.evidence["pgns"] == [65265]


@pytest.mark.parametrize("jitter_share", [0.01, 0.1, 0.3])
def test_one_device_with_a_restless_clock_is_one_device(jitter_share):
    rng = np.random.default_rng(3)
    rows = [
        (int((k + rng.normal(0, jitter_share)) * 100 * MS) + 10**9, 0, 0x18FEF131, EXTENDED, 8, bytes(8))
        for k in range(400)
    ]
    assert not found(analyse(rows), "address_twice")


def test_two_names_for_one_address():
    claim = 0x18EEFF31
    rows = train(0x18FEF131, 100, 50, 0, bytes(8), 1)
    rows += [(5 * MS, 0, claim, EXTENDED, 8, bytes.fromhex("0603BF0100000010"))]
    rows += [(900 * MS, 0, claim, EXTENDED, 8, bytes.fromhex("D06B010100000080"))]
    channel = analyse(rows)
    (finding,) = found(channel, "address_twice")
    # The lower NAME wins (SAE J1939-81; both NAMEs from the open data set SystemsCyber/CyberTruckResources).
    assert finding.evidence["names"] == ["1000000001BF0306", "8000000001016BD0"]


@pytest.mark.parametrize("really_long", [True, False])
def test_three_digits_that_took_29_bits(really_long):
    rng = np.random.default_rng(4)
    rows, now = [], 10**9
    for _ in range(400):
        data = rng.integers(0, 256, 8).astype(np.uint8).tobytes()
        identifier = int(rng.integers(0, 0x7FF))
        now += round(len(frame_bits(identifier, data, extended=really_long)) * 4000)  # 4 us a bit at 250 kbit/s
        rows.append((now, 0, identifier, 0, 8, data))
    channel = analyse(rows)
    assert bool(found(channel, "identifiers_cut_short")) is really_long
    assert bool(found(channel, "standard_identifiers")) is not really_long
    assert channel.source_addresses == []


def test_error_frames_make_no_addresses():
    rows = train(0x18FEF100, 100, 30, 0, bytes(8), 1)
    rows += [((i * 50 + 7) * MS, 0, bits, ERROR, 8, bytes(8)) for i, bits in enumerate((0x4, 0x20, 0x40) * 5)]
    channel = analyse(rows)
    assert [source.address for source in channel.source_addresses] == [0]
    assert channel.error_frames.total == 15


def test_lone_sender_that_nobody_acknowledges():
    # A claim of 8 bytes lasts some 0.57 ms at 250 kbit/s; without acknowledgement it is repeated at once.
    claim = bytes.fromhex("0603BF0100000010")
    rows = [(10**9 + i * 600_000, 0, 0x18EEFF00, EXTENDED, 8, claim) for i in range(200)]
    rows += [(10**9 + i * 600_000 + 300_000, 0, 0x20, ERROR, 8, bytes(8)) for i in range(200)]
    channel = analyse(rows)
    assert found(channel, "claim_unheard")
    assert found(channel, "no_acknowledgement")
