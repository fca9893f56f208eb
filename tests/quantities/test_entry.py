"""What people type is read as they mean it: expected values follow the SI prefixes and IEC 60062."""

import contextlib
import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.quantities import read_reading


@pytest.mark.parametrize(
    ("text", "value", "resolution", "understood"),
    [
        ("12.41", 12.41, 0.01, "12.41 V"),
        ("12,41 v", 12.41, 0.01, "12.41 V"),
        ("12.41V DC", 12.41, 0.01, "12.41 V"),
        ("12.41 vdc", 12.41, 0.01, "12.41 V"),
        ("340mV", 0.340, 0.001, "340 mV"),
        ("340 MV", 0.340, 0.001, "340 mV"),
        ("-0.02", -0.02, 0.01, "-0.02 V"),
        ("\u22120.02", -0.02, 0.01, "-0.02 V"),
        ("+5", 5.0, 1.0, "5 V"),
        ("1.", 1.0, 1.0, "1 V"),
        (".5", 0.5, 0.1, "0.5 V"),
        ("≈ 2.5", 2.5, 0.1, "2.5 V"),
        ("12V4", 12.4, 0.1, "12.4 V"),
        ("850 µV", 850e-6, 1e-6, "850 µV"),
        ("12.41\u00a0V", 12.41, 0.01, "12.41 V"),
        ("1e-05", 1e-5, 1e-5, "0.00001 V"),
        ("0.000", 0.0, 0.001, "0.000 V"),
    ],
)
def test_volts_as_typed(text, value, resolution, understood):
    reading = read_reading(text, "dc_volts")
    assert (reading.value, reading.resolution, reading.understood) == (value, resolution, understood)


@pytest.mark.parametrize(
    ("text", "value", "resolution", "understood"),
    [
        ("59.8", 59.8, 0.1, "59.8 Ω"),
        ("60 ohms", 60.0, 1.0, "60 Ω"),
        ("60\u2126", 60.0, 1.0, "60 Ω"),
        ("4.7k", 4700.0, 100.0, "4.7 kΩ"),
        ("4k7", 4700.0, 100.0, "4.7 kΩ"),
        ("4.7 K", 4700.0, 100.0, "4.7 kΩ"),
        ("4.7 kilohm", 4700.0, 100.0, "4.7 kΩ"),
        ("0R5", 0.5, 0.1, "0.5 Ω"),
        ("1.2 MΩ", 1.2e6, 1e5, "1.2 MΩ"),
        ("1.2 megohms", 1.2e6, 1e5, "1.2 MΩ"),
        ("12 mohm", 0.012, 0.001, "12 mΩ"),
        ("060.2", 60.2, 0.1, "60.2 Ω"),
        ("1.234e+04", 12340.0, 10.0, "12340 Ω"),
    ],
)
def test_ohms_as_typed(text, value, resolution, understood):
    reading = read_reading(text, "ohms")
    assert (reading.value, reading.resolution, reading.understood) == (value, resolution, understood)


@pytest.mark.parametrize("text", ["OL", "0L", "O.L", "0.L", ".OL", "ol", "OL MΩ", "OLΩ", "O.L kΩ", "over", "open", "∞"])
def test_over_range_is_an_open_circuit_on_ohms_and_refused_on_volts(text):
    assert read_reading(text, "ohms").value == math.inf
    with pytest.raises(DataError, match="no answer on DC volts"):
        read_reading(text, "dc_volts")


@pytest.mark.parametrize(
    ("text", "quantity", "word"),
    [
        ("60 ohms", "dc_volts", "asks for DC volts"),
        ("4.7k Ω", "dc_volts", "asks for DC volts"),
        ("12.4 V", "ohms", "asks for ohms"),
        ("12V4", "ohms", "asks for ohms"),
        ("12 VAC", "dc_volts", "asks for DC volts"),
        ("12 V~", "dc_volts", "asks for DC volts"),
        ("60 dc", "ohms", "asks for ohms"),
        ("1.2 A", "dc_volts", "asks for DC volts"),
        ("1241", "dc_volts", "decimal point"),
        ("", "ohms", "no reading"),
        ("   ", "ohms", "no reading"),
        ("1" * 60, "ohms", "more here than one"),
        ("12.3 12.4", "dc_volts", "not a reading"),
        ("1,234.5", "ohms", "not a reading"),
        ("1.234,5", "ohms", "not a reading"),
        ("12 41", "dc_volts", "not a reading"),
        (".", "dc_volts", "not a reading"),
        ("-", "dc_volts", "not a reading"),
        ("12²", "dc_volts", "does not fit"),
        ("nan", "ohms", "not a reading"),
        ("1e99", "ohms", "more ohms than"),
        ("twelve", "dc_volts", "not a reading"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_sentence(text, quantity, word):
    with pytest.raises(DataError, match=word):
        read_reading(text, quantity)


def test_a_comma_is_a_decimal_point_and_says_so_where_it_could_part_thousands():
    assert read_reading("1,234", "ohms").value == 1.234
    assert "decimal point" in read_reading("1,234", "ohms").notes[0]
    assert read_reading("12,41", "dc_volts").notes == ()


def test_milli_and_mega_on_ohms_are_told_apart_and_said():
    milli, mega = read_reading("1.2m", "ohms"), read_reading("1.2M", "ohms")
    assert (milli.value, mega.value) == (0.0012, 1.2e6)
    assert "milli" in milli.notes[0]
    assert "mega" in mega.notes[0]


def test_less_than_zero_ohms_warns_of_voltage_on_the_circuit():
    assert "voltage" in read_reading("-0.3", "ohms").notes[0]


digits = st.decimals(min_value=Decimal("-99.9999"), max_value=Decimal("99.9999"), places=4)


@given(digits, st.integers(0, 4), st.sampled_from(["", " V", "v", " vdc", " mV"]), st.sampled_from(".,"))
def test_whatever_is_formatted_reads_back(number, places, unit, point):
    text = f"{number:.{places}f}".replace(".", point) + unit
    reading = read_reading(text, "dc_volts")
    scale = Decimal("0.001") if "m" in unit else 1
    assert reading.value == float(Decimal(f"{number:.{places}f}") * scale)
    assert reading.resolution == float(Decimal(10) ** -places * scale)
    again = read_reading(reading.understood, "dc_volts")
    assert (again.value, again.resolution) == (reading.value, reading.resolution)


near = st.text(alphabet="0123456789.,-+ eEkKmMµuoOlLvVΩrRdDcCaA~≈\u2212\u00a0²٣", max_size=14)


@given(st.one_of(st.text(), near), st.sampled_from(["dc_volts", "ohms"]))
def test_any_text_is_a_reading_or_a_sentence(text, quantity):
    with contextlib.suppress(DataError):
        reading = read_reading(text, quantity)
        assert read_reading(reading.understood, quantity).value == reading.value
        assert not math.isnan(reading.value)
