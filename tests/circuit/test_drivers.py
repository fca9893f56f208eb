"""CAN drivers on a load: data-sheet limits, and the law of each side held exactly."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.circuit import sample_trucks
from linkcheck.circuit.drivers import CanDriver, Lines, drive_can


def driver(rail=5.0, drop=0.7, ohms=24.0, limit=1e9):
    one = np.ones(1)
    return CanDriver(rail * one, 0 * one, drop * one, drop * one, ohms * one, ohms * one, limit * one, limit * one)


def across(load_ohms, of):
    """Difference of the lines with a load between them and nothing else; the common mode is held by 1 Mohm at 2.5 V."""
    common = 1e6 / 2  # both lines together to the bias
    own = common / 1 + load_ohms / 4  # a line's own resistance to ground: common mode plus a quarter of the load
    lines = Lines(*(np.full(1, x) for x in (2.5, 2.5, own, own, common - load_ohms / 4)))
    drive = drive_can(lines, of)
    high = 2.5 + lines.high_ohms * drive.high_amps + lines.mutual_ohms * drive.low_amps
    low = 2.5 + lines.mutual_ohms * drive.high_amps + lines.low_ohms * drive.low_amps
    return float((high - low)[0])


@pytest.mark.parametrize(
    ("load", "volts", "low", "high"), [(45.0, 1.742, 1.4, 3.3), (70.0, 2.136, 1.4, 3.3), (2240.0, 3.525, 1.5, 5.0)]
)
def test_textbook_driver_gives_3_6_volts_over_its_own_48_ohm_and_the_load(load, volts, low, high):
    # Ohm: 3.6 V * load / (load + 48 ohm). Limits: TI TCAN1044V-Q1 data sheet SLLSF17B, driver dominant output.
    assert across(load, driver()) == pytest.approx(volts, abs=0.002)
    assert low <= across(load, driver()) <= high


def test_every_sampled_module_drives_inside_the_data_sheet_limits():
    # TI TCAN1044V-Q1 data sheet SLLSF17B: 1.4 to 3.3 V into 45 to 70 ohm
    trucks = sample_trucks(np.random.default_rng(2), 500)
    names = [f"{side}_{what}" for what in ("drop_volts", "on_ohms", "limit_amps") for side in ("high", "low")]
    figures = [trucks[f"module_{name}"] for name in names]
    sampled = CanDriver(trucks["module_rail_volts"], np.zeros((8, 500)), *figures)
    for load in (45.0, 60.0, 70.0):
        push = sampled.rail_volts - sampled.high_drop_volts - sampled.low_drop_volts
        amps = push / (load + sampled.high_on_ohms + sampled.low_on_ohms)
        amps = np.minimum(amps, np.minimum(sampled.high_limit_amps, sampled.low_limit_amps))
        assert (amps * load > 1.39).all()
        assert (amps * load < 3.3).all()


volts = st.floats(-5.0, 30.0)
positive = st.floats(0.01, 1e5)


@given(volts, volts, positive, positive, st.floats(0.0, 0.999), st.floats(0.04, 0.1))
def test_both_sides_obey_their_law_whatever_the_lines_are(high, low, high_ohms, low_ohms, coupling, limit):
    """Each current is its own diode, resistance and limit at the volts it leaves on its line."""
    mutual = coupling * np.sqrt(high_ohms * low_ohms)
    lines = Lines(*(np.full(1, x) for x in (high, low, high_ohms, low_ohms, mutual)))
    found = drive_can(lines, driver(limit=limit))
    on_high = high + high_ohms * found.high_amps + mutual * found.low_amps
    on_low = low + mutual * found.high_amps + low_ohms * found.low_amps
    tolerance = 1e-6 * (1 + max(high_ohms, low_ohms) / 24.0) * limit
    np.testing.assert_allclose(found.high_amps, np.clip((5.0 - 0.7 - on_high) / 24.0, 0.0, limit), atol=tolerance)
    np.testing.assert_allclose(-found.low_amps, np.clip((on_low - 0.7) / 24.0, 0.0, limit), atol=tolerance)


def test_a_line_above_the_rail_is_left_alone_by_the_high_side():
    # its diode blocks: a short to the battery does not flow back into the module
    lines = Lines(*(np.full(1, x) for x in (12.6, 12.2, 0.2, 60.0, 0.2)))
    assert drive_can(lines, driver()).high_amps[0] == 0.0
