"""Two captures of a published data set, with figures found by two independent programs.

SystemsCyber/CyberTruckResources, commit f434e585. No licence is stated, so the files are not here: set
LINKCHECK_OPEN_DATA to a folder that holds them. Bench capture: "04_CAN Logging/candump-2021-10-14_234124.log", 6,278
frames in 28.431 s. Single-truck capture (blob 22efb333): 34,980 frames in 64.758912 s at 250 kbit/s, grouped by
identifier, so it must be read by time.
"""

import os
from pathlib import Path

import pytest

from linkcheck.survey import CaptureFile
from linkcheck.traffic import Options

FOLDER = os.environ.get("LINKCHECK_OPEN_DATA")


def channel_of(frames):
    if FOLDER is None:
        pytest.skip("LINKCHECK_OPEN_DATA does not name a folder with the published captures")
    for path in Path(FOLDER).rglob("*.log"):
        result = CaptureFile(str(path), Options(bit_rate=250_000)).run()
        if result.source["frames"] == frames:
            return next(iter(result.channels.values()))
    pytest.skip(f"no capture of {frames} frames in {FOLDER}")


def periods(channel, address):
    (source,) = [s for s in channel.source_addresses if s.address == address]
    return {row.pgn: row.period_ms for row in source.pgns}


def test_bench_capture():
    channel = channel_of(6278)
    assert channel.bus_load.mean == pytest.approx(0.1276, abs=0.0001)
    assert channel.dominant_share == pytest.approx(0.0607, abs=0.0001)
    assert periods(channel, 0)[61444] == pytest.approx(15.0, abs=0.2)
    assert channel.transport.shortest_bam_gap_ms == pytest.approx(52.4, abs=0.1)


def test_single_truck_capture():
    channel = channel_of(34_980)
    assert channel.bus_load.mean == pytest.approx(0.3095, abs=0.0001)
    assert channel.dominant_share == pytest.approx(0.1345, abs=0.0001)
    assert channel.wire_bits / channel.frames == pytest.approx(143.23, abs=0.01)
    assert channel.meter.can_high_v == pytest.approx(2.634, abs=0.001)
    assert periods(channel, 0)[61444] == pytest.approx(20.0, abs=0.2)
    assert periods(channel, 0)[65262] == pytest.approx(1000, rel=0.02)
