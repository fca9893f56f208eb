import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.diagnosis.scale import OVER_OHMS, scale_of

CAN_OHMS, CAN_VOLTS = scale_of("ohms", "can"), scale_of("dc_volts", "can")


@given(
    st.sampled_from([CAN_OHMS, CAN_VOLTS, scale_of("dc_volts", "supply")]), st.floats(0.0, 30.0), st.floats(0.0, 30.0)
)
def test_a_larger_reading_never_lies_below_a_smaller_one(scale, a, b):
    low, high = sorted((a, b))
    assert scale.place(low) <= scale.place(high)


@given(st.floats(0.01, 30.0))
def test_one_unit_of_volts_is_one_on_the_axis(volts):
    step = 0.01 * float(CAN_VOLTS.unit(volts))
    assert float(CAN_VOLTS.place(volts + step) - CAN_VOLTS.place(volts)) == pytest.approx(0.01, abs=1e-3)


@given(st.floats(1.0, 1e6))
def test_one_unit_of_ohms_is_one_on_the_axis(ohms):
    unit = float(CAN_OHMS.unit(ohms))
    apart = float(CAN_OHMS.place(ohms + unit / 2.0) - CAN_OHMS.place(ohms - unit / 2.0))
    assert apart == pytest.approx(1.0, rel=0.05)


def test_volts_below_zero_mirror_those_above():
    assert float(CAN_VOLTS.place(-2.4)) == pytest.approx(-float(CAN_VOLTS.place(2.4)))


def test_open_circuit_lies_beyond_the_last_range():
    assert CAN_OHMS.place(np.inf) > CAN_OHMS.place(OVER_OHMS)
    assert CAN_OHMS.last == pytest.approx(float(CAN_OHMS.place(OVER_OHMS)))


def test_forty_and_thirty_ohms_lie_many_units_apart():
    assert CAN_OHMS.place(40.0) - CAN_OHMS.place(30.0) > 8.0


def test_high_ohms_are_coarse():
    """10 and 20 kohm depend on everything that is connected: within two units."""
    assert CAN_OHMS.place(2e4) - CAN_OHMS.place(1e4) < 2.0
