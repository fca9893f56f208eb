import numpy as np
import pytest
from toy_trucks import FAULTS, OBSERVABLES, answer, truck_table

from linkcheck.diagnosis.belief import Weigher, log_prior_of
from linkcheck.diagnosis.next_check import Chooser
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import SOUND, Observable, Samples

TABLE = truck_table()
ODDS = {"none": 2.0, **dict.fromkeys(FAULTS, 1.0)}
EXACT = Assumptions(slip=0.0, redraw=0.0)
EVERY_CHECK = {each.id: 1.0 for each in OBSERVABLES}


def two(values, quantity="category", assumptions=EXACT, odds=(1.0, 1.0), **observable):
    """Chooser and belief over a sound truck and one fault, by one check."""
    words = {"categories": ("no", "yes"), "mistaken": 0.0} if quantity == "category" else {}
    one = Observable("check", quantity, "can", **{**words, **observable})
    samples = Samples([SOUND, ("fault",)], [one], np.array(values, np.float32)[:, None, :])
    weigher = Weigher(samples, np.log(odds), assumptions)
    return Chooser(weigher), weigher.belief([])


def bits(*args, **kwargs):
    chooser, belief = two(*args, **kwargs)
    return chooser.bits(belief, "check")


def test_a_check_that_splits_two_evenly_likely_is_worth_one_bit():
    assert bits([[0, 0], [1, 1]]) == pytest.approx(1.0, abs=1e-5)


def test_a_check_that_reads_alike_is_worth_nothing():
    assert bits([[1, 1], [1, 1]]) == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize(("mistaken", "capacity"), [(0.11 / 0.89, 0.5001), (0.05 / 0.95, 0.7136)])
def test_a_noisy_answer_is_worth_what_a_noisy_channel_carries(mistaken, capacity):
    """1 - H(0.11) = 0.5001 and 1 - H(0.05) = 0.7136: MacKay, "Information Theory, Inference, and Learning
    Algorithms", 9.6, binary symmetric channel; mistaken is the odds of the wrong word, the other's being one."""
    assert bits([[0, 0], [1, 1]], mistaken=mistaken) == pytest.approx(capacity, abs=2e-4)


def test_uneven_odds_carry_their_entropy():
    """H(1/4) = 0.8113 bits."""
    assert bits([[0, 0], [1, 1]], odds=(3.0, 1.0)) == pytest.approx(0.8113, abs=1e-4)


@pytest.mark.parametrize(("a", "b"), [(40.0, 30.0), (60.0, 120.0), (120.0, np.inf), (4e7 * 0.9, np.inf)])
def test_ohms_that_a_meter_tells_apart_are_told_apart(a, b):
    expected = 0.9 if b < 1e3 or a < 1e3 else 0.1
    assert bits([[a, a], [b, b]], "ohms") > expected


@pytest.mark.parametrize("factor", [1.0, 2.0])
def test_volts_are_told_apart_far_above_zero(factor):
    """11.5 and 12.6 V, and twice that on 24 V."""
    found = (
        bits([[11.5 * factor] * 2, [12.6 * factor] * 2], "dc_volts", subsystem="supply")
        if factor < 0
        else bits([[11.5 * factor] * 2, [12.6 * factor] * 2], "dc_volts")
    )
    assert found > 0.2


def test_information_is_never_below_zero_nor_above_the_entropy():
    weigher = Weigher(TABLE, log_prior_of(ODDS, TABLE.hypotheses, 0.1))
    belief = weigher.belief([])
    for choice in Chooser(weigher).rank(belief, EVERY_CHECK):
        assert 0.0 <= choice.bits <= belief.entropy_bits


def test_minutes_decide_between_equals():
    weigher = Weigher(TABLE, log_prior_of(ODDS, TABLE.hypotheses, 0.1))
    chooser, belief = Chooser(weigher), weigher.belief([])
    best = chooser.rank(belief, EVERY_CHECK)[0]
    dear = {**EVERY_CHECK, best.check: 30.0}
    assert chooser.rank(belief, dear)[0].check != best.check
    assert best.worth == pytest.approx(best.bits / best.minutes)


def test_what_is_known_is_not_worth_asking_again():
    weigher = Weigher(TABLE, log_prior_of(ODDS, TABLE.hypotheses, 0.1))
    chooser = Chooser(weigher)
    before = chooser.bits(weigher.belief([]), "fuse")
    after = chooser.bits(weigher.belief([Taken("supply", 12.5, 0.05), Taken("supply", 12.5, 0.05)]), "fuse")
    assert after < before / 3.0


def test_the_sharper_of_two_severities_is_expected_from_what_was_read():
    """A drop of several volts leads to several volts missing at the connector."""
    weigher = Weigher(TABLE, log_prior_of(ODDS, TABLE.hypotheses, 0.1), Assumptions(redraw=0.0))
    chooser = Chooser(weigher)
    wide = chooser.expected(weigher.belief([]), "supply")[TABLE.row(("joint",))]
    worst = float(TABLE.predictions(("joint",), "drop").max())
    narrow = chooser.expected(weigher.belief([Taken("drop", worst, 0.05)]), "supply")[TABLE.row(("joint",))]
    assert (narrow * np.log(narrow)).sum() > (wide * np.log(wide)).sum()


FIXED_ORDER = ("listen", "supply", "drop", "fuse", "high", "low", "pair", "high_ground", "low_ground", "end")


def walk(weigher, chooser, values, rng, choose):
    """Readings until one hypothesis has nine tenths; how many, and which."""
    taken = []
    while True:
        belief = weigher.belief(taken)
        left = {check: 1.0 for check in FIXED_ORDER if check not in {reading.check for reading in taken}}
        if belief.probability(belief.leader) >= 0.9 or not left:
            return len(taken), belief.leader
        check = choose(chooser, belief, left)
        column = weigher.samples.column(check)
        taken.append(Taken(check, *answer(values[column], OBSERVABLES[column], rng, slip=0.02)))


def test_information_a_minute_needs_fewer_readings_than_a_fixed_order():
    """The same technician, the same trucks, the same likelihoods; trucks that were not sampled for the table."""
    weigher = Weigher(TABLE, log_prior_of(ODDS, TABLE.hypotheses, 0.1))
    chooser, others = Chooser(weigher), truck_table(seed=7)
    ways = {
        "information": lambda chooser, belief, left: chooser.rank(belief, left)[0].check,
        "fixed": lambda _chooser, _belief, left: next(iter(left)),
    }
    count, right = {}, {}
    for name, choose in ways.items():
        rng = np.random.default_rng(3)
        ends = [
            (*walk(weigher, chooser, others.values[row, :, truck], rng, choose), others.hypotheses[row])
            for row in range(len(others.hypotheses))
            for truck in range(12)
        ]
        count[name] = np.mean([end[0] for end in ends])
        right[name] = np.mean([end[1] == end[2] for end in ends])
    assert count["information"] < 0.75 * count["fixed"]
    assert right["information"] > 0.9
    assert right["information"] > right["fixed"] - 0.05
