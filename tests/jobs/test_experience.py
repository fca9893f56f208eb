"""The shop's own confirmed causes: how they sharpen the odds, and that a walk keeps what it began with."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.faults.catalogue import prior_odds
from linkcheck.jobs.events import CauseConfirmed, Intake, Withdrawn
from linkcheck.jobs.experience import CATALOGUE_JOBS, sharpened
from linkcheck.jobs.session import Session
from linkcheck.report.compose import compose
from linkcheck.walk.messages import Answer

ODDS = prior_odds()
FAULTS = sorted(set(ODDS) - {"none"})
COUNTS = st.dictionaries(st.sampled_from([*FAULTS, "no such fault"]), st.integers(0, 500))


def test_without_causes_the_odds_are_the_catalogues():
    assert sharpened(ODDS, {}) == pytest.approx(ODDS)


@given(COUNTS)
def test_the_mean_of_a_dirichlet_prior_after_counts(counts):
    """(a p + n) / (a + N): Gelman et al., Bayesian Data Analysis, 3rd edition, 3.4, from memory."""
    found = sharpened(ODDS, counts)
    known = {fault: count for fault, count in counts.items() if fault in FAULTS}
    before, after = sum(ODDS[f] for f in FAULTS), sum(found[f] for f in FAULTS)
    assert after == pytest.approx(before)
    assert found["none"] == ODDS["none"]
    for fault in FAULTS:
        mean = (CATALOGUE_JOBS * ODDS[fault] / before + known.get(fault, 0)) / (CATALOGUE_JOBS + sum(known.values()))
        assert found[fault] / after == pytest.approx(mean)


def test_counted_are_confirmed_causes_of_jobs_that_stand(store):
    def confirmed(*faults):
        job = store.open(store.create(Intake(unit="x")))
        return job, job.add(CauseConfirmed(list(faults), "words"))

    confirmed("terminator_missing")
    confirmed("terminator_missing", "feed_fuse_open")
    job, entry = confirmed("cavity_open:B")
    job.add(Withdrawn(entry.n))
    job, _ = confirmed("cavity_open:C")
    store.delete(job.id)
    assert store.confirmed_causes() == {"terminator_missing": 2, "feed_fuse_open": 1}


def test_a_walk_keeps_the_causes_it_began_with_and_its_report_says_the_same(store, job):
    causes = {"cavity_open:B": 300}
    setup = job.begin_walk(causes=causes)
    session = Session(setup, (), job, causes)
    plain = Session(setup, (), job)
    for each in (session, plain):
        each.settle()
    share, usual = (each.walk.opinion.belief.of_fault["cavity_open:B"] for each in (session, plain))
    assert share > 5 * usual
    session.take(Answer("listen:own", "no_power"))
    again = store.open(job.id)
    assert again.causes == causes
    step = compose(again.record).belief[-1]
    told = session.walk.suspects.suspects[0]
    assert (step.suspects[0].fault, step.suspects[0].probability) == (told["fault"], told["probability"])
