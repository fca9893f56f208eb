"""Signals as columns against cantools, which decodes the same database frame by frame."""

from importlib import resources

import cantools
import numpy as np
import pytest

from linkcheck.j1939 import signal_table

DATABASE = cantools.database.load_string(
    resources.files("linkcheck.j1939").joinpath("signals.dbc").read_text("ascii"), "dbc"
)


@pytest.mark.parametrize("message", DATABASE.messages, ids=lambda message: message.name)
def test_columns_equal_cantools_frame_by_frame(message):
    data = np.random.default_rng(message.frame_id).integers(0, 256, (2000, 8), np.uint8)
    pgn = message.frame_id >> 8 & 0x3FFFF
    ours = signal_table().decode(pgn, data)
    assert set(ours) == {signal.name for signal in message.signals}
    theirs = [message.decode(bytes(row), scaling=True) for row in data]
    raws = [message.decode(bytes(row), scaling=False) for row in data]
    for signal in message.signals:
        decoded = ours[signal.name]
        values = np.array([row[signal.name] for row in theirs], float)
        raw = np.array([row[signal.name] for row in raws], np.int64)
        # SAE J1939-71: valid to FA, FAFF or FAFFFFFF; error FE..; not available FF..
        highest = raw >> (signal.length - 8)
        np.testing.assert_array_equal(decoded.values, np.where(highest <= 0xFA, values, np.nan))
        np.testing.assert_array_equal(decoded.error, highest == 0xFE)
        np.testing.assert_array_equal(decoded.not_available, highest == 0xFF)
        assert decoded.spec.spn == signal.spn
        assert decoded.spec.unit == signal.unit
