"""Quantities in files: the right number in the right unit, and nothing else gets in."""

import contextlib
import keyword
import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.quantities import in_unit


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("60 ohm", "ohm", 60.0),
        ("60Ω", "ohm", 60.0),
        ("60 \u2126", "ohm", 60.0),
        ("4.7 kΩ", "ohm", 4700.0),
        ("1.2 Mohm", "ohm", 1.2e6),
        ("12.6 V", "V", 12.6),
        ("100 mV", "V", 0.1),
        ("250 kbit/s", "bit/s", 250000.0),
        ("10 A", "A", 10.0),
        ("0.8 mm²", "mm²", 0.8),
        ("10 ft", "m", 3.048),  # international foot, 0.3048 m exactly (1959 agreement)
        ("1 in", "mm", 25.4),
    ],
)
def test_quantities_of_a_pinout(text, unit, value):
    assert in_unit(text, unit) == pytest.approx(value)


@pytest.mark.parametrize(
    "text",
    [
        "60",
        "ohm",
        "",
        "12 V",
        "250 kHz",
        "60 furlong",
        "60 ohm ohm",
        "9**9**9 ohm",
        "1e400 ohm",
        "9" * 400 + " ohm",
        "٣ ohm",
    ],
)
def test_anything_else_is_a_sentence(text):
    with pytest.raises(DataError):
        in_unit(text, "ohm")


def test_a_frequency_is_no_bit_rate():
    with pytest.raises(DataError):
        in_unit("250 kHz", "bit/s")


words = st.one_of(
    st.text(max_size=20), st.text(alphabet="VAmkMoihnsbt/²Ωµ \u2126", max_size=8), st.sampled_from(keyword.kwlist)
)


@given(words, st.sampled_from(["ohm", "V", "bit/s", "m"]))
def test_only_the_documented_error_escapes(text, unit):
    for attempt in (text, "12 " + text):
        with contextlib.suppress(DataError):
            assert math.isfinite(in_unit(attempt, unit))


def test_the_rooms_door_loads_no_pint():
    code = "import sys, linkcheck.quantities, linkcheck.pinout; print(sorted({'pint', 'numpy'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
