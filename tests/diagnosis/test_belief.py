import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from toy_trucks import FAULTS, OBSERVABLES, answer, truck_table

from linkcheck.diagnosis.belief import Weigher, log_prior_of
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import SOUND

TABLE = truck_table()
ODDS = {"none": 4.0, **dict.fromkeys(FAULTS, 1.0)}
WEIGHER = Weigher(TABLE, log_prior_of(ODDS, TABLE.hypotheses, 0.1))


@st.composite
def walks(draw, least=0, most=8):
    """Readings that some truck of the table could give, a few checks read twice."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    row, truck = draw(st.integers(0, len(TABLE.hypotheses) - 1)), draw(st.integers(0, TABLE.trucks - 1))
    taken = []
    for column in draw(st.lists(st.integers(0, len(OBSERVABLES) - 1), min_size=least, max_size=most)):
        value, spread = answer(TABLE.values[row, column, truck], OBSERVABLES[column], rng, slip=0.1)
        taken.append(Taken(OBSERVABLES[column].id, value, spread))
    return taken


@given(walks())
def test_probabilities_add_up_to_one(readings):
    belief = WEIGHER.belief(readings)
    assert belief.probabilities.sum() == pytest.approx(1.0)
    assert (belief.probabilities >= 0.0).all()
    assert sum(belief.of_fault.values()) == pytest.approx(1.0)
    for weights in belief.weights.values():
        np.testing.assert_allclose(weights.sum(axis=1), 1.0)


@given(walks(least=2), st.randoms())
def test_the_order_of_readings_does_not_matter(readings, random):
    shuffled = readings.copy()
    random.shuffle(shuffled)
    expected = WEIGHER.belief(readings).probabilities
    np.testing.assert_allclose(WEIGHER.belief(shuffled).probabilities, expected, rtol=1e-6, atol=1e-12)


@given(walks())
def test_without_a_reading_nothing_but_the_prior_is_left(readings):
    """A skipped check is no reading: the belief is what it was."""
    WEIGHER.belief(readings)
    assert WEIGHER.belief([]).probability(SOUND) == pytest.approx(4.0 / 12.0)
    np.testing.assert_array_equal(WEIGHER.belief(readings).probabilities, WEIGHER.belief(list(readings)).probabilities)


@given(walks(most=4))
def test_a_reading_that_all_take_for_certain_changes_little(readings):
    """The end of the line reads 120 ohm under nearly every fault: 120 ohm there tells them hardly apart."""
    indifferent = [("flat",), ("fuse_open",), ("third",), ("one_missing",)]
    before = WEIGHER.belief(readings)
    after = WEIGHER.belief([*readings, Taken("end", 120.0, 0.5)])
    rows = [TABLE.row(which) for which in indifferent]
    kept = before.probabilities[rows] > 1e-3
    if "end" not in {reading.check for reading in readings} and kept.sum() > 1:
        ratio = (after.probabilities[rows] / before.probabilities[rows])[kept]
        assert ratio.max() / ratio.min() < 5.0


def test_the_prior_is_the_odds():
    belief = WEIGHER.belief([])
    assert belief.probability(("flat",)) == pytest.approx(1.0 / 12.0)
    assert belief.entropy_bits == pytest.approx(-(4 / 12) * np.log2(4 / 12) - 8 * (1 / 12) * np.log2(1 / 12))


def test_a_second_fault_has_the_odds_of_a_pair():
    """All pairs with one of nine together are as likely as `pair` says, beside that one alone."""
    names = [f"f{k}" for k in range(10)]
    odds = {"none": 1.0, **dict.fromkeys(names, 2.0)}
    pairs = [(names[0], other) for other in names[1:]]
    logs = log_prior_of(odds, [(names[0],), *pairs], 0.1)
    # The pair may have begun with either of its two faults, hence twice.
    assert np.exp(logs[1:]).sum() / np.exp(logs[0]) == pytest.approx(2.0 * 0.1)


def test_one_slip_is_outweighed():
    """0 V at the connector once, then everything like a sound truck."""
    readings = [
        Taken("supply", 0.0, 0.01), Taken("supply", 12.48, 0.05), Taken("fuse", 0.1, 0.2), Taken("drop", 0.02, 0.01),
        Taken("pair", 60.2, 0.5), Taken("high", 2.62, 0.02), Taken("low", 2.37, 0.02), Taken("listen", "frames"),
    ]  # fmt: skip
    assert WEIGHER.belief(readings).leader == SOUND


def test_high_ohms_on_the_same_lines_count_once():
    """Two readings of 20 kohm to ground say no more than one."""
    one = WEIGHER.belief([Taken("high_ground", 2.1e5)])
    two = WEIGHER.belief([Taken("high_ground", 2.1e5), Taken("low_ground", 2.12e5)])
    rows = [TABLE.row(SOUND), TABLE.row(("short",))]
    odds = [belief.probabilities[rows[1]] / belief.probabilities[rows[0]] for belief in (one, two)]
    assert odds[1] > odds[0] / 3.0
    assert two.high_lines == {"can_ground": ("high_ground", "low_ground")}


def test_low_ohms_count_each():
    low = [Taken("high_ground", 2.0, 0.2), Taken("low_ground", 62.0, 0.5)]
    assert WEIGHER.belief(low).high_lines == {}
    assert WEIGHER.belief(low).probability(("short",)) > WEIGHER.belief(low[:1]).probability(("short",))


def test_readings_of_one_subsystem_hang_together():
    """A flat battery explains low volts; 12.45 V at the connector and 12.44 V there again is one battery."""
    together = Weigher(TABLE, WEIGHER.log_prior, Assumptions(redraw=0.0))
    apart = Weigher(TABLE, WEIGHER.log_prior, Assumptions(redraw=1.0))
    # 20 ohm of joint read by the drop and by the supply fit one truck; 0.3 ohm by one and 20 ohm by the other do not.
    drops = np.array(TABLE.predictions(("joint",), "drop")), np.array(TABLE.predictions(("joint",), "supply"))
    worst, least = int(drops[0].argmax()), int(drops[0].argmin())
    fits = [Taken("drop", float(drops[0][worst]), 0.02), Taken("supply", float(drops[1][worst]), 0.02)]
    clash = [Taken("drop", float(drops[0][worst]), 0.02), Taken("supply", float(drops[1][least]), 0.02)]
    ratio = {}
    for name, weigher in (("together", together), ("apart", apart)):
        scores = [weigher.belief(each).evidence["supply"].log_mean[TABLE.row(("joint",))] for each in (fits, clash)]
        ratio[name] = scores[0] - scores[1]
    assert ratio["together"] > ratio["apart"]


@given(walks(least=1))
@settings(max_examples=30)
def test_what_a_check_adds_is_what_is_missing_without_it(readings):
    belief = WEIGHER.belief(readings)
    check = readings[0].check
    if any(check in checks for checks in belief.high_lines.values()):
        return  # there, leaving one out changes how the others count
    without = WEIGHER.belief([reading for reading in readings if reading.check != check])
    logs = np.log(belief.probabilities + 1e-300) - np.log(without.probabilities + 1e-300)
    kept = (belief.probabilities > 1e-9) & (without.probabilities > 1e-9)
    difference = (belief.adds[check] - logs)[kept]
    np.testing.assert_allclose(difference - difference.mean(), 0.0, atol=1e-6)
