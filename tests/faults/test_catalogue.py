"""The catalogue against itself, against the list of ids that outside programs rely on, and against the circuit."""

import numpy as np
import pytest
from listed_faults import LISTED

from linkcheck.circuit import KNOBS, Equipment
from linkcheck.faults.catalogue import FAULTS, NONE_OF_THESE, faults_for, prior_odds
from linkcheck.faults.fault import Proof, any_of, together
from linkcheck.faults.repairs import REPAIRS
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.table import predict_table

# The ids that a walk over JSON lines gives.
CONTRACT = ["none", *LISTED]
ROWS = list(FAULTS.values())
PROVABLE = [fault.id for fault in ROWS if fault.proof and fault.id != "none"]


@pytest.mark.parametrize("fault", CONTRACT)
def test_every_id_that_programs_rely_on_is_there(fault):
    assert fault in FAULTS
    assert NONE_OF_THESE not in FAULTS


def test_every_row_has_its_knob_and_its_repair():
    assert set(FAULTS) <= set(KNOBS)
    assert {fault.repair for fault in ROWS} == set(REPAIRS)
    assert all(name == fault.id for name, fault in FAULTS.items())


def test_every_row_says_why_and_ends_its_sentences():
    for fault in ROWS:
        assert fault.odds > 0.0
        assert fault.judgement.endswith(".")
        assert not fault.title.endswith(".")
        assert not fault.caution or fault.caution.endswith(".")
        assert fault.after
        assert fault.id == "none" or fault.causes
    for repair in REPAIRS.values():
        assert all(step.endswith(".") for step in repair.steps)


@pytest.mark.parametrize("fault", ROWS, ids=lambda fault: fault.id)
def test_what_a_row_names_is_there(fault):
    proofs = [proof for alternative in fault.proof for proof in alternative]
    named = [proof.check for proof in (*proofs, *fault.after)]
    named += [other.check for other in (*fault.look_alikes, *fault.causes) if other.check]
    assert set(named) <= set(CHECKS)
    assert {other.fault for other in (*fault.look_alikes, *fault.causes) if other.fault} <= set(FAULTS) - {fault.id}


@pytest.mark.parametrize("fault", ROWS, ids=lambda fault: fault.id)
def test_a_proof_has_bounds_or_words(fault):
    for proof in [proof for alternative in fault.proof for proof in alternative] + list(fault.after):
        words = CHECKS[proof.check].observable.categories
        if words:
            assert proof.shows
            assert set(proof.shows) < set(words)
        else:
            assert proof.low < proof.high
            assert not proof.shows
            assert not proof.follows_system or CHECKS[proof.check].quantity == "dc_volts"


def test_faults_of_what_is_not_fitted_are_left_out():
    bare = {fault.id for fault in faults_for(j1708=False, shield=False)}
    assert not any("j1708" in name or "F-G" in name or "shield" in name for name in bare)
    assert "cavity_open:F" not in bare
    assert set(prior_odds(j1708=False, shield=False)) == bare
    assert set(prior_odds()) == set(FAULTS)


def test_bounds_of_supply_volts_double_on_24_volts():
    proof = Proof("volts:B-A:key_off", 11.8, 13.2, follows_system=True)
    assert proof.met(12.4)
    assert not proof.met(12.4, 24.0)
    assert proof.met(25.1, 24.0)
    assert Proof("listen:own", shows=("frames",)).met("frames")
    assert not Proof("listen:own", shows=("frames",)).met("silent")


def test_alternatives_and_sets():
    a, b = Proof("a"), Proof("b")
    assert any_of(a, b) == ((a,), (b,))
    assert together(a, b) == ((a, b),)


# Against the circuit, which is itself checked against published figures and another simulator ---------------------


@pytest.fixture(scope="module")
def table():
    rows = [() if name == "none" else (name,) for name in FAULTS]
    return predict_table(Equipment(shield=True), rows, seed=3, size=60)


def share(table, which, alternatives):
    """Share of a hypothesis's trucks that read as one of the alternatives says."""

    def met(proof):
        words = CHECKS[proof.check].observable.categories
        values = table.predictions(which, proof.check)
        return np.array([proof.met(words[int(value)] if words else float(value)) for value in values])

    return np.mean(np.any([np.all([met(proof) for proof in together], axis=0) for together in alternatives], axis=0))


@pytest.mark.parametrize("fault", PROVABLE)
def test_a_truck_with_the_fault_reads_as_its_proof_says_and_a_sound_one_does_not(table, fault):
    assert share(table, (fault,), FAULTS[fault].proof) > 0.75
    assert share(table, (), FAULTS[fault].proof) < 0.3


@pytest.mark.parametrize("fault", list(FAULTS))
def test_a_sound_truck_reads_as_after_the_repair(table, fault):
    for proof in FAULTS[fault].after:
        assert share(table, (), [(proof,)]) > 0.75
