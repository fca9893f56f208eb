import numpy as np
import pytest
from toy_trucks import FAULTS, truck_table

from linkcheck.diagnosis.belief import Weigher, log_prior_of
from linkcheck.diagnosis.explain import arguments, band, rival
from linkcheck.diagnosis.reading import Taken
from linkcheck.diagnosis.samples import SOUND
from linkcheck.errors import DataError

TABLE = truck_table()
WEIGHER = Weigher(TABLE, log_prior_of({"none": 4.0, **dict.fromkeys(FAULTS, 1.0)}, TABLE.hypotheses, 0.1))
READINGS = [
    Taken("pair", 120.3, 0.5),
    Taken("supply", 12.5, 0.05),
    Taken("listen", "silent"),
    Taken("pair", 120.1, 0.5),
]


def test_the_reading_that_shows_it_speaks_for_it_and_the_one_that_does_not_against():
    belief = WEIGHER.belief(READINGS)
    assert belief.leader == ("one_missing",)
    found = {argument.check: argument for argument in arguments(WEIGHER, belief, ("one_missing",), SOUND)}
    assert found["pair"].weight > 3.0
    assert [reading.value for reading in found["pair"].readings] == [120.3, 120.1]
    assert abs(found["supply"].weight) < 0.5
    against = {argument.check: argument for argument in arguments(WEIGHER, belief, ("one_missing",), ("short",))}
    assert against["listen"].weight < -1.0
    assert against["listen"].usual == "frames"


def test_the_weightiest_comes_first():
    found = arguments(WEIGHER, WEIGHER.belief(READINGS), ("one_missing",))
    weights = [abs(argument.weight) for argument in found]
    assert weights == sorted(weights, reverse=True)


def test_the_rival_is_the_best_of_the_others():
    belief = WEIGHER.belief(READINGS)
    assert rival(belief, belief.leader) == belief.ranking[1]
    assert rival(belief, ("flat",)) == belief.leader


@pytest.mark.parametrize("check", ["supply", "pair", "high", "drop"])
def test_the_band_holds_nineteen_of_twenty_sound_trucks(check):
    low, high = band(WEIGHER, SOUND, check)
    values = truck_table(seed=12).predictions(SOUND, check)
    assert np.mean((values >= low) & (values <= high)) > 0.93


def test_a_band_of_ohms_does_not_reach_below_zero_and_an_open_one_has_no_end():
    assert band(WEIGHER, SOUND, "fuse")[0] == 0.0
    assert band(WEIGHER, ("fuse_open",), "fuse") == (np.inf, np.inf)


def test_words_have_no_band():
    with pytest.raises(DataError, match="no band"):
        band(WEIGHER, SOUND, "listen")
