"""Whatever the batch boundaries, the same result: this is what makes live equal replay."""

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.traffic import Analysis, Options


def messy(seed, count=900):
    """Two channels, many kinds of frames, transport, codes, claims, requests, errors, silences and a clock step."""
    rng = np.random.default_rng(seed)
    rows, now = [], 10**9
    payloads = [
        (0x18ECFF00, "20130003FFCAFE00"),
        (0x18EBFF00, "01040001FF020403"),
        (0x18EBFF00, "0201FFFFFFFFFFFF"),
        (0x18EBFF00, "03FFFFFFFFFFFFFF"),
        (0x18FECA03, "04FF7F020901FFFF"),
        (0x18FECA03, "00FF00000000FFFF"),
        (0x18EA00F9, "EBFE00"),
        (0x18EEFF31, "0603BF0100000010"),
        (0x0CF00400, "F17D7D8013FFFFFF"),
        (0x18FEEE00, "7F3A4025FFFFFFFF"),
        (0x18FEF700, "FFFFFFFFF800FFFF"),
        (0x18FEF131, "0000000000000000"),
    ]
    for i in range(count):
        now += int(rng.choice([150_000, 600_000, 7_000_000, 400_000_000], p=[0.2, 0.6, 0.19, 0.01]))
        if i == count // 2:
            now -= 3_000_000_000
        channel = int(rng.random() < 0.2)
        kind = rng.random()
        if kind < 0.05:
            rows.append((now, channel, int(rng.choice([0x4, 0x8, 0x20, 0x40])), ERROR, 8, rng.bytes(8)))
        elif kind < 0.1:
            rows.append((now, channel, int(rng.integers(0, 0x7FF)), 0, 8, rng.bytes(8)))
        else:
            identifier, data = payloads[int(rng.integers(len(payloads)))]
            data = bytes.fromhex(data)
            rows.append((now, channel, identifier, EXTENDED, len(data), data))
    return FrameBatch.from_rows(rows, ("can0", "can1"))


def result(batch, cuts):
    analysis = Analysis(Options())
    at = i = 0
    while at < len(batch):
        step = cuts[i % len(cuts)]
        analysis.eat(batch.take(slice(at, at + step)))
        at, i = at + step, i + 1
    return msgspec.to_builtins(analysis.result())


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 5), st.lists(st.integers(1, 300), min_size=1, max_size=6))
def test_any_cut_gives_the_same_result(seed, cuts):
    batch = messy(seed)
    assert result(batch, cuts) == result(batch, [len(batch)])


@pytest.mark.parametrize("seed", range(3))
def test_one_by_one(seed):
    batch = messy(seed, 300)
    assert result(batch, [1]) == result(batch, [len(batch)])


def test_asking_in_between_changes_nothing():
    batch = messy(1)
    analysis = Analysis(Options())
    for at in range(0, len(batch), 100):
        analysis.eat(batch.take(slice(at, at + 100)))
        analysis.result()
    assert msgspec.to_builtins(analysis.result()) == result(batch, [100])
