"""What the practice meter shows: within its data sheet, typed back without loss, OL where its ranges end."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.practice.meter_face import MeterFace
from linkcheck.quantities import read_reading

CONTACT_OHMS = 0.2  # five times the spread of what two probe tips add
SEEDS = st.integers(0, 500)


@given(SEEDS, st.floats(-30.0, 30.0))
def test_volts_stay_within_the_accuracy_statement(seed, volts):
    face = MeterFace(seed)
    reading = read_reading(face.volts(volts, "a").typed, "dc_volts")
    assert abs(reading.value - volts) <= face.meter.limit_of_error(reading)


@given(SEEDS, st.floats(0.0, 39e6))
def test_ohms_stay_within_the_accuracy_statement_and_the_contact(seed, ohms):
    face = MeterFace(seed)
    reading = read_reading(face.ohms(ohms, "a").typed, "ohms")
    assert abs(reading.value - ohms) <= face.meter.limit_of_error(reading) + CONTACT_OHMS


@given(SEEDS, st.one_of(st.floats(41e6, 1e12), st.just(math.inf)))
def test_beyond_the_last_range_it_shows_ol(seed, ohms):
    assert MeterFace(seed).ohms(ohms, "a").typed == "OL"


@pytest.mark.parametrize(
    ("volts", "digits"),  # a 6000-count display: 600.0 mV, 6.000 V, 60.00 V (common practice, no source)
    [(0.25, "000.0 mV"), (2.5, "0.000 V"), (12.4, "00.00 V"), (-12.4, "-00.00 V")],
)
def test_volts_have_a_6000_count_displays_digits(volts, digits):
    shown = MeterFace(1).volts(volts, "a").shown
    assert "".join("0" if each.isdigit() else each for each in shown) == digits


@pytest.mark.parametrize(
    ("ohms", "digits"),
    [(59.8, "00.0 ohm"), (4700.0, "0.000 kohm"), (47e3, "00.00 kohm"), (470e3, "000.0 kohm"), (4.7e6, "0.000 Mohm"),
     (12e6, "00.00 Mohm")],
)  # fmt: skip
def test_ohms_have_a_6000_count_displays_digits(ohms, digits):
    shown = MeterFace(1).ohms(ohms, "a").shown
    assert "".join("0" if each.isdigit() else each for each in shown) == digits


def test_the_last_digit_moves_and_the_same_reading_repeats():
    face = MeterFace(3)
    assert len({face.volts(12.4, f"time {n}").shown for n in range(20)}) > 1
    assert face.volts(12.4, "a") == MeterFace(3).volts(12.4, "a")
