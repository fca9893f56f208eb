"""The sheet of a walk: what faces show, in words and verdicts."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.jobs.session import Session
from linkcheck.jobs.sheet import expected_words, sheet_of, verdict
from linkcheck.jobs.walk_file import NoRecord
from linkcheck.pinout import CAUTIONS
from linkcheck.walk.messages import Answer, Setup


@pytest.mark.parametrize(
    ("expect", "words"),
    [
        ({"low": 12.2, "high": 12.9, "unit": "V"}, "12.20 to 12.90 V"),
        ({"low": 56.9, "high": 63.4, "unit": "ohm"}, "56.9 to 63.4 ohm"),
        ({"low": 950.0, "high": 1170000.0, "unit": "ohm"}, "950.0 ohm to 1.17 Mohm"),
        ({"low": 1000.0, "high": None, "unit": "ohm"}, "over 1 kohm, or OL"),
        ({"low": None, "high": None, "unit": "ohm"}, "OL"),
        ({"shows": "frames"}, "frames"),
    ],
)
def test_a_band_as_one_says_it(expect, words):
    assert expected_words(expect) == words


@given(st.floats(0, 1e6), st.floats(0, 1e6), st.floats(0, 1e7))
def test_a_reading_is_low_sound_or_high_by_its_band(one, other, value):
    low, high = sorted((one, other))
    found = verdict(value, {"low": low, "high": high, "unit": "ohm"})
    assert found == ("low" if value < low else "high" if value > high else "sound")


def test_ol_is_sound_only_where_the_band_is_open():
    assert verdict(math.inf, {"low": 1000.0, "high": None, "unit": "ohm"}) == "sound"
    assert verdict(math.inf, {"low": None, "high": None, "unit": "ohm"}) == "sound"
    assert verdict(math.inf, {"low": 55.0, "high": 65.0, "unit": "ohm"}) == "high"
    assert verdict(4700.0, {"low": None, "high": None, "unit": "ohm"}) == "low"
    assert verdict("errors", {"shows": "frames"}) == "other"


def test_a_sheet_has_what_was_read_and_what_to_do_next():
    session = Session(Setup("9-pin-type-2", by_eye=True), [], NoRecord())
    first = sheet_of(session)
    assert first.cautions
    assert first.readings == ()
    assert first.evidence == ()
    session.take(Answer(first.check.id, first.words[0]))
    read = {each.text for each in CAUTIONS} | set(first.cautions)
    second = sheet_of(session, frozenset(read))
    assert second.cautions == ()
    assert [line.check for line in second.readings] == [first.check.id]
    assert second.readings[0].verdict == "other"
    assert second.evidence
    assert sorted(second.suspects, key=lambda each: -each.share) == list(second.suspects)
