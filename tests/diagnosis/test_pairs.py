import numpy as np
import pytest
from toy_trucks import FAULTS, truck_table

from linkcheck.diagnosis.pairs import Pairs, pairs_with
from linkcheck.diagnosis.samples import SOUND

TABLE = truck_table()


def test_every_pair_with_a_fault_comes_once():
    pairs = pairs_with(TABLE, ["short", "third"])
    assert len(pairs) == len(set(pairs)) == 2 * (len(FAULTS) - 1) - 1
    assert all(pair == tuple(sorted(pair)) and set(pair) & {"short", "third"} for pair in pairs)


def test_what_only_one_fault_changes_is_its_own_prediction():
    both = Pairs(TABLE, [("flat", "one_missing")])
    np.testing.assert_array_equal(
        both.predictions(("flat", "one_missing"), "pair"), TABLE.predictions(("one_missing",), "pair")
    )
    np.testing.assert_array_equal(
        both.predictions(("flat", "one_missing"), "supply"), TABLE.predictions(("flat",), "supply")
    )
    np.testing.assert_array_equal(both.predictions(SOUND, "pair"), TABLE.predictions(SOUND, "pair"))
    assert both.hypotheses[: len(TABLE.hypotheses)] == TABLE.hypotheses


def test_what_hides_the_other_is_shown():
    """No power hides errors on the bus."""
    both = Pairs(TABLE, [("both_missing", "fuse_open")])
    assert (both.predictions(("both_missing", "fuse_open"), "listen") == 0).all()


def test_one_missing_and_a_third_terminator_read_like_two():
    """120 ohm beside 40 ohm less 60 ohm: 1/120 + 1/40 - 1/60 = 1/60."""
    both = Pairs(TABLE, [("one_missing", "third")])
    np.testing.assert_allclose(
        both.predictions(("one_missing", "third"), "pair"), TABLE.predictions(SOUND, "pair"), rtol=1e-4
    )


def test_a_short_beside_a_missing_terminator_stays_a_short():
    both = Pairs(TABLE, [("one_missing", "short_pair")])
    expected = TABLE.predictions(("short_pair",), "pair")
    np.testing.assert_allclose(both.predictions(("one_missing", "short_pair"), "pair"), expected, rtol=0.05)


def test_an_open_circuit_and_a_joint_stay_open():
    both = Pairs(TABLE, [("fuse_open", "joint")])
    assert np.isinf(both.predictions(("fuse_open", "joint"), "fuse")).all()
    assert both.predictions(("fuse_open", "joint"), "supply") == pytest.approx(0.0)


def test_no_pairs_leave_the_table_as_it_is():
    for each in TABLE.observables:
        np.testing.assert_array_equal(Pairs(TABLE, []).of_check(each.id), TABLE.of_check(each.id))
