import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from toy_trucks import OBSERVABLES, SHOWS, truck_table

from linkcheck.diagnosis.likelihood import Column, bell, below
from linkcheck.diagnosis.next_check import Grid
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.errors import DataError

TABLE = truck_table()


def column(check, **assumptions):
    return Column(TABLE, check, Assumptions(**assumptions))


@pytest.mark.parametrize(
    ("quantile", "share"),
    # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of Student's t, 4 degrees of freedom
    [(1.533, 0.90), (2.132, 0.95), (2.776, 0.975), (3.747, 0.99), (4.604, 0.995), (7.173, 0.999)],
)
def test_tails_are_those_of_student_with_four_degrees(quantile, share):
    assert below(np.array(quantile)) == pytest.approx(share, abs=5e-5)
    assert below(np.array(-quantile)) == pytest.approx(1.0 - share, abs=5e-5)


def test_the_density_is_the_slope_of_the_distribution():
    at = np.linspace(-8.0, 8.0, 400)
    slope = (below(at + 1e-5) - below(at - 1e-5)) / 2e-5
    np.testing.assert_allclose(bell(at), slope, atol=1e-8)


@pytest.mark.parametrize("check", ["pair", "fuse", "supply", "high_ground"])
def test_a_truck_s_readings_add_up_to_one(check):
    """Over all places a reading can have, OL among them."""
    one = column(check)
    here = one.places[3, :1]
    places = np.arange(-2000.0, min(one.over, 2000.0), 0.02)
    total = one.fit(places[:, None], 1.3, here[None, :])[:, 0].sum() * 0.02
    total += float(one.fit(np.inf, 1.3, here)[0]) if np.isfinite(one.over) else 0.0
    assert total == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("check", [each.id for each in OBSERVABLES])
def test_binned_answers_never_promise_more_than_certainty(check):
    rows = np.arange(len(TABLE.hypotheses))
    trucks = column(check).some_places(rows).shape[1]
    shares = Grid(column(check), rows).answers(np.full((len(rows), trucks), 1.0 / trucks)).sum(axis=1)
    assert (shares > 0.85).all()
    assert (shares < 1.0 + 1e-5).all()


@given(st.floats(0.0, 100.0))
def test_a_reading_where_a_truck_predicts_it_is_likelier_than_any_other(ohms):
    one = column("pair", redraw=0.0)
    where = float(TABLE.predictions((), "pair")[0])
    at_truck = one.weigh([Taken("pair", where)])[0, 0]
    assert at_truck >= one.weigh([Taken("pair", ohms)])[0, 0] - 1e-12


def test_a_worse_meter_blurs():
    """A reading three volts off is believed more if the meter is bad."""
    fine, coarse = (column("supply").weigh([Taken("supply", 9.5, u)])[0].mean() for u in (0.01, 1.0))
    assert coarse > fine


def test_readings_that_agree_leave_no_room_for_a_slip():
    one = column("pair")
    row = TABLE.row(("one_missing",))
    once = one.weigh([Taken("pair", 120.0)])
    twice = one.weigh([Taken("pair", 120.0), Taken("pair", 120.2)])
    assert (twice[row].mean() / twice[0].mean()) > 10.0 * (once[row].mean() / once[0].mean())


def test_readings_that_disagree_are_alternatives():
    """60 and 120 ohm: neither a missing terminator nor a sound pair is ruled out, 90 ohm is not what was read."""
    one = column("pair")
    both = one.weigh([Taken("pair", 60.0), Taken("pair", 120.0)]).mean(axis=1)
    sound, missing, third = (both[TABLE.row(which)] for which in ((), ("one_missing",), ("third",)))
    assert 0.1 < sound / missing < 10.0
    assert sound > 100.0 * third


@given(st.permutations([60.1, 59.8, 120.0]))
def test_the_order_of_repeats_does_not_matter(values):
    one = column("pair")
    expected = one.weigh([Taken("pair", value) for value in (60.1, 59.8, 120.0)])
    np.testing.assert_allclose(one.weigh([Taken("pair", value) for value in values]), expected, rtol=1e-9)


@pytest.mark.parametrize(
    "reading",
    [
        Taken("listen", "static"),
        Taken("listen", 3.0),
        Taken("pair", "frames"),
        Taken("supply", float("inf")),
        Taken("pair", float("nan")),
    ],
)
def test_an_answer_of_another_kind_is_refused(reading):
    """OL on volts is an answer to refuse, not to weigh."""
    with pytest.raises(DataError, match="answered by"):
        column(reading.check).weigh([reading])


def test_neighbouring_words_are_mistaken_more_easily():
    chances = column("listen").confusion()
    silent, errors, frames, dark = (SHOWS.index(word) for word in ("silent", "errors", "frames", "no_power"))
    assert chances[silent, silent] > chances[silent, errors] > chances[dark, frames]
    np.testing.assert_allclose(chances.sum(axis=1), 1.0)
