"""The meter's statement of accuracy against worked examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.quantities import Meter, Reading, read_reading
from linkcheck.quantities.meter import Accuracy, Range


def shown(value, resolution, quantity="dc_volts"):
    return Reading(quantity, value, resolution, f"{value}")


def test_one_percent_and_two_counts_at_100_0_volts_is_98_8_to_101_2():
    # Worked example common in meter makers' application notes: ±(1 % + 2) at 100.0 V. Common practice, no source.
    meter = Meter(volts=Accuracy(1, 2), volts_ranges=(Range(200, 0.1),))
    assert meter.limit_of_error(read_reading("100.0", "dc_volts")) == pytest.approx(1.2)


def test_one_percent_and_three_counts_at_120_0_volts_is_1_5():
    # As above, ±(1 % + 3) with 0.1 V steps.
    meter = Meter(volts=Accuracy(1, 3), volts_ranges=(Range(200, 0.1),))
    assert meter.limit_of_error(shown(120.0, 0.1)) == pytest.approx(1.5)


def test_ten_megohm_reads_a_15_kilohm_source_0_15_percent_low():
    # Voltage divider: 10 / 10.015 = 0.99850.
    assert Meter().loaded(1.0, 15e3) - 1 == pytest.approx(-0.0015, abs=5e-6)


def test_uncertainty_of_a_rectangular_band_is_its_half_width_over_root_three():
    # GUM (JCGM 100:2008), 4.3.7: a²/3 is the variance of a rectangular distribution of half width a.
    meter = Meter(volts=Accuracy(1, 2), volts_ranges=(Range(200, 0.1),))
    assert meter.uncertainty(read_reading("100.0", "dc_volts")) ** 2 == pytest.approx(1.2**2 / 3)


def test_leads_come_off_ohms_unless_nulled_and_never_off_volts():
    reading = read_reading("60.3", "ohms")
    assert Meter(lead_ohms=0.3).corrected(reading) == pytest.approx(60.0)
    assert Meter(leads_nulled=True).corrected(reading) == 60.3
    assert Meter().corrected(read_reading("12.4", "dc_volts")) == 12.4


def test_over_range_has_no_finite_uncertainty():
    assert Meter().uncertainty(read_reading("OL", "ohms")) == math.inf


def test_digits_left_off_widen_the_band():
    meter = Meter()
    assert meter.limit_of_error(read_reading("12", "dc_volts")) > meter.limit_of_error(
        read_reading("12.00", "dc_volts")
    )
    # "12" may stand for anything from 11.5 to 12.5.
    assert meter.limit_of_error(read_reading("12", "dc_volts")) >= 0.5


values = st.floats(0, 99, allow_nan=False)
steps = st.sampled_from([1e-4, 1e-3, 1e-2, 0.1, 1.0])


@given(values, values, steps, st.sampled_from(["dc_volts", "ohms"]))
def test_uncertainty_grows_with_the_reading(one, other, step, quantity):
    small, large = sorted((one, other))
    meter = Meter()
    assert meter.uncertainty(shown(small, step, quantity)) <= meter.uncertainty(shown(large, step, quantity))


@given(values, steps, steps, st.sampled_from(["dc_volts", "ohms"]))
def test_uncertainty_grows_with_the_last_digit(value, one, other, quantity):
    fine, coarse = sorted((one, other))
    meter = Meter()
    assert meter.uncertainty(shown(value, fine, quantity)) <= meter.uncertainty(shown(value, coarse, quantity))


@given(st.floats(-99, 99), steps)
def test_uncertainty_does_not_care_for_the_sign(value, step):
    assert Meter().uncertainty(shown(value, step)) == Meter().uncertainty(shown(-value, step))
