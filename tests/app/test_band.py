"""Where a reading stands beside its band: laws of a scale, whatever the figures."""

import math

from hypothesis import given
from hypothesis import strategies as st

from linkcheck.app.widgets.band import place_marks

VOLTS = st.floats(-5, 30, allow_nan=False)
OHMS = st.floats(0, 1e8, allow_nan=False)
COLUMNS = st.integers(8, 120)


@st.composite
def bands(draw):
    unit = draw(st.sampled_from(["V", "ohm"]))
    low = draw(VOLTS if unit == "V" else OHMS)
    if unit == "ohm" and draw(st.booleans()):
        return {"low": draw(st.sampled_from([low, None])), "high": None, "unit": unit}
    return {"low": low, "high": low + draw(st.floats(0, 1e6 if unit == "ohm" else 10)), "unit": unit}


def values(expect):
    return OHMS if expect["unit"] == "ohm" else VOLTS


@given(bands(), st.data(), COLUMNS)
def test_everything_is_on_the_bar_and_a_sound_reading_is_on_the_band(expect, data, columns):
    value = data.draw(values(expect))
    marks = place_marks(expect, value, columns)
    assert 0 <= marks.first <= marks.last < columns
    assert 0 <= marks.at < columns
    low = math.inf if expect["low"] is None else expect["low"]
    high = math.inf if expect["high"] is None else expect["high"]
    if low <= value <= high:
        assert marks.first <= marks.at <= marks.last
        assert marks.beyond == 0 or high == math.inf


@given(bands(), st.data(), COLUMNS)
def test_more_is_never_further_left(expect, data, columns):
    low, high = sorted([data.draw(values(expect)), data.draw(values(expect))])
    assert place_marks(expect, low, columns).at <= place_marks(expect, high, columns).at


@given(bands(), COLUMNS)
def test_ol_stands_at_the_right_end(expect, columns):
    if expect["unit"] == "ohm":
        marks = place_marks(expect, math.inf, columns)
        assert marks.at == columns - 1
        assert marks.beyond == (0 if expect["high"] is None else 1)
