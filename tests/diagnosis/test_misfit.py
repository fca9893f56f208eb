import numpy as np
import pytest
from toy_trucks import FAULTS, OBSERVABLES, answer, truck_table

from linkcheck.diagnosis.belief import Weigher, log_prior_of
from linkcheck.diagnosis.misfit import bayes_bound, misfit, with_unknown
from linkcheck.diagnosis.reading import Taken
from linkcheck.diagnosis.samples import SOUND

TABLE = truck_table()
ODDS = {"none": 4.0, **dict.fromkeys(FAULTS, 1.0)}
WEIGHER = Weigher(TABLE, log_prior_of(ODDS, TABLE.hypotheses, 0.1))
OTHER_TRUCKS = truck_table(seed=99)  # of the same make, not those that were sampled
GOOD = [
    Taken("supply", 12.48, 0.05), Taken("drop", 0.02, 0.01), Taken("fuse", 0.1, 0.2), Taken("pair", 60.2, 0.5),
    Taken("high", 2.62, 0.02), Taken("low", 2.37, 0.02), Taken("listen", "frames"),
]  # fmt: skip


def readings_of(row, truck, rng):
    return [
        Taken(each.id, *answer(OTHER_TRUCKS.values[row, column, truck], each, rng))
        for column, each in enumerate(OBSERVABLES)
    ]


@pytest.mark.parametrize(
    ("p_value", "bound"),
    # Sellke, Bayarri and Berger, "Calibration of p values", The American Statistician 55 (2001), table 1
    [(0.05, 0.407), (0.01, 0.125), (0.005, 0.072), (0.001, 0.0188)],
)
def test_the_bound_is_the_published_one(p_value, bound):
    assert bayes_bound(p_value) == pytest.approx(bound, abs=4e-4)


@pytest.mark.parametrize("p_value", [0.37, 0.5, 1.0])
def test_a_fitting_hypothesis_loses_nothing(p_value):
    assert bayes_bound(p_value) == 1.0


def test_trucks_of_the_hypothesis_seldom_misfit():
    """Of a hundred trucks that have the fault, few are below five in a hundred."""
    rng = np.random.default_rng(5)
    values = []
    for k in range(100):
        which = OTHER_TRUCKS.hypotheses[k % len(OTHER_TRUCKS.hypotheses)]
        values.append(misfit(WEIGHER, readings_of(OTHER_TRUCKS.row(which), k, rng), which).p_value)
    assert np.mean(np.array(values) < 0.05) < 0.1
    assert np.mean(values) > 0.4


def test_a_fault_that_nobody_knows_is_noticed():
    """Good supply, but 27 ohm between the lines, 4 V on high and 60 ohm to ground, read twice: no row says so."""
    strange = [*GOOD[:3], Taken("pair", 27.0, 0.4), Taken("high", 4.1, 0.03), Taken("high_ground", 60.0, 0.6)]
    strange += [Taken("high", 4.1, 0.03), Taken("pair", 27.1, 0.4)]
    belief = WEIGHER.belief(strange)
    test = misfit(WEIGHER, strange, belief.leader)
    assert test.p_value < 0.01
    assert with_unknown(belief, [test], unknown=0.02).none_of_these > 0.25


def test_none_of_these_takes_its_share_from_all():
    belief = WEIGHER.belief(GOOD)
    test = misfit(WEIGHER, GOOD, SOUND)
    after = with_unknown(belief, [test], unknown=0.02)
    assert after.none_of_these == pytest.approx(0.02, abs=1e-6)
    assert after.probabilities.sum() + after.none_of_these == pytest.approx(1.0)
    np.testing.assert_allclose(after.probabilities / after.probabilities.sum(), belief.probabilities)


def test_the_odd_one_out_is_named():
    """Everything sound but 3 ohm from high to ground: asked again before it is believed."""
    odd = [*GOOD, Taken("high_ground", 3.0, 0.2)]
    test = misfit(WEIGHER, odd, SOUND)
    assert test.contradictions(0.02) == ("high_ground",)


def test_one_slip_is_forgiven_and_two_alike_are_not():
    """Slips happen once in fifty readings, the same slip twice hardly ever."""
    once = misfit(WEIGHER, [*GOOD, Taken("high_ground", 3.0, 0.2)], SOUND)
    twice = misfit(WEIGHER, [*GOOD, Taken("high_ground", 3.0, 0.2), Taken("high_ground", 3.1, 0.2)], SOUND)
    assert twice.p_value < 0.02 < once.p_value


def test_the_same_readings_give_the_same_p_value():
    assert misfit(WEIGHER, GOOD, SOUND) == misfit(WEIGHER, list(GOOD), SOUND)
