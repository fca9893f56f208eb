"""One rough table of predictions for all tests of the walk."""

import pytest

from linkcheck.diagnosis.samples import hypothesis
from linkcheck.faults.catalogue import prior_odds
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.walk.engine import Walk
from linkcheck.walk.judge import Judge
from linkcheck.walk.layout import layout_of
from linkcheck.walk.messages import Setup
from linkcheck.walk.table import predict_table


@pytest.fixture(scope="session")
def layout():
    return layout_of(load_pinout(find_pinout("9-pin-type-1")))


@pytest.fixture(scope="session")
def judge(layout):
    faults = layout.faults()
    table = predict_table(layout.equipment, [hypothesis(fault) for fault in faults], size=60)
    return Judge(table, {fault: share for fault, share in prior_odds().items() if fault in faults})


@pytest.fixture
def new_walk(layout, judge):
    def make(events=(), **setup):
        return Walk(Setup("9-pin-type-1", **setup), layout, judge, events)

    return make
