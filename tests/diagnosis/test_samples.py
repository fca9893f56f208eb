import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from toy_trucks import truck_table

from linkcheck.diagnosis.samples import SOUND, Samples, digest, hypothesis
from linkcheck.errors import DataError

TABLE = truck_table()
BYTES = TABLE.to_bytes()


def test_a_table_comes_back_as_it_went():
    back = Samples.from_bytes(BYTES)
    assert back.hypotheses == TABLE.hypotheses
    assert back.observables == TABLE.observables
    np.testing.assert_array_equal(back.values, TABLE.values)


@given(st.integers(0, len(BYTES) - 1))
def test_a_table_cut_short_is_refused_with_a_sentence(length):
    with pytest.raises(DataError, match="Build it anew"):
        Samples.from_bytes(BYTES[:length])


@given(st.binary(max_size=200))
def test_anything_else_is_refused_with_a_sentence(data):
    with pytest.raises(DataError, match="Build it anew"):
        Samples.from_bytes(data)


def test_predictions_must_fit_their_names():
    with pytest.raises(DataError, match="do not fit"):
        Samples([SOUND], TABLE.observables, TABLE.values)


def test_an_unknown_check_or_fault_is_named():
    with pytest.raises(DataError, match="no_such_check"):
        TABLE.column("no_such_check")
    with pytest.raises(DataError, match="flat \\+ short"):
        TABLE.row(hypothesis("short", "flat"))


def test_rows_are_added_and_replaced():
    values = TABLE.values[:2] + 1.0
    more = TABLE.with_rows([SOUND, ("flat", "short")], values)
    assert len(more.hypotheses) == len(TABLE.hypotheses) + 1
    np.testing.assert_array_equal(more.predictions(SOUND, "pair"), TABLE.predictions(SOUND, "pair") + 1.0)
    np.testing.assert_array_equal(more.predictions(("third",), "pair"), TABLE.predictions(("third",), "pair"))


def test_a_hypothesis_does_not_depend_on_the_order_of_its_faults():
    assert hypothesis("b", "a", "b") == hypothesis("a", "b") == ("a", "b")
    assert hypothesis("none") == SOUND


def test_the_digest_tells_the_parts_apart():
    assert digest(["ab", "c"]) != digest(["a", "bc"]) != digest(["bc", "a"])
    assert digest(["a"]) == digest(["a"])
