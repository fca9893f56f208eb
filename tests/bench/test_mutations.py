"""Every injected fault is caught, by the tests that `mutations.md` names, and a good adapter passes everything."""

import pytest
from bench.mutations import HEAD, TABLE, caught_by, line

from linkcheck.bench.simulation import FAULTS

WRITTEN = TABLE.read_text().removeprefix(HEAD).splitlines()


def test_the_table_has_every_fault():
    assert [row.split("|")[1].strip() for row in WRITTEN] == list(FAULTS)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_caught_by_the_tests_the_table_names(fault):
    rows = caught_by(fault)
    assert bool(rows) == (fault != "none")
    assert line(fault, rows) in WRITTEN
