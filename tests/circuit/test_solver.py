"""The solver against numpy's dense linear algebra, and against what holds for every resistive network."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.circuit.solver import INSULATION_SIEMENS, REFERENCE, Branch, Network

NAMES = (REFERENCE, "a", "b", "c", "d", "e", "f", "g")
SIZE = 3

siemens = st.floats(1e-6, 1e3)


@st.composite
def networks(draw):
    """Branches between up to eight nodes, three trucks, some with sources."""
    pairs = [(a, b) for i, a in enumerate(NAMES) for b in NAMES[i + 1 :]]
    chosen = draw(st.lists(st.sampled_from(pairs), min_size=3, max_size=14))
    row = st.lists(siemens, min_size=SIZE, max_size=SIZE).map(np.array)
    push = st.lists(st.floats(-10, 10), min_size=SIZE, max_size=SIZE).map(np.array)
    return [Branch(a, b, draw(row), draw(st.one_of(st.just(0.0), push))) for a, b in chosen]


def dense(branches):
    """The nodal matrix and the currents put into each node, by numpy."""
    nodes = [name for name in NAMES if name != REFERENCE]
    matrix = np.tile(np.eye(len(nodes)) * INSULATION_SIEMENS, (SIZE, 1, 1))
    amps = np.zeros((SIZE, len(nodes)))
    for branch in branches:
        for a, b in ((branch.a, branch.b), (branch.b, branch.a)):
            if a != REFERENCE:
                matrix[:, nodes.index(a), nodes.index(a)] += branch.siemens
                amps[:, nodes.index(a)] += branch.amps if a == branch.a else -np.asarray(branch.amps)
                if b != REFERENCE:
                    matrix[:, nodes.index(a), nodes.index(b)] -= branch.siemens
    return nodes, matrix, amps


def grounded(branches):
    """The same with every node held by a resistance, so that the dense matrix is well conditioned too."""
    return [*branches, *(Branch(name, REFERENCE, np.full(SIZE, 1e-3)) for name in NAMES[1:])]


@given(networks())
def test_node_volts_agree_with_dense_elimination(branches):
    branches = grounded(branches)
    nodes, matrix, amps = dense(branches)
    expected = np.linalg.solve(matrix, amps[..., None])[..., 0]
    network = Network(branches, SIZE)
    for k, name in enumerate(nodes):
        np.testing.assert_allclose(network.volts(name), expected[:, k], rtol=1e-7, atol=1e-7)


@given(networks())
def test_transfer_resistances_agree_with_the_dense_inverse(branches):
    branches = grounded(branches)
    nodes, matrix, _ = dense(branches)
    inverse = np.linalg.inv(matrix)
    network = Network(branches, SIZE)
    for i, a in enumerate(nodes):
        for j, b in enumerate(nodes):
            np.testing.assert_allclose(
                np.broadcast_to(network.transfer(a, b), SIZE), inverse[:, i, j], rtol=1e-6, atol=1e-7
            )


@given(networks(), networks())
def test_sources_add_up(first, second):
    """Superposition: volts of both sets of sources are the sum of the volts of each."""
    wiring = [Branch(x.a, x.b, x.siemens) for x in grounded(first + second)]

    def volts(sources):
        quiet = [Branch(x.a, x.b, np.zeros(SIZE) + 1e-12, x.amps) for x in sources]
        return Network([*wiring, *quiet], SIZE).volts("a")

    np.testing.assert_allclose(volts(first + second), volts(first) + volts(second), rtol=1e-6, atol=1e-6)


@given(networks(), st.sampled_from(NAMES), st.sampled_from(NAMES), siemens)
def test_one_more_resistor_never_raises_a_resistance(branches, a, b, added):
    """Rayleigh's law of monotony."""
    before = Network(branches, SIZE).between("a", "b")
    if a == b:
        return
    after = Network([*branches, Branch(a, b, np.full(SIZE, added))], SIZE).between("a", "b")
    assert (after <= before * (1 + 1e-9) + 1e-6).all()


def test_conductances_eighteen_decades_apart_do_not_cancel():
    # A microhm joint between two nodes that only their insulation holds: by hand.
    network = Network([Branch("a", "b", np.full(1, 1e6))], 1)
    assert network.between("a", "b")[0] == pytest.approx(1e-6, rel=1e-6)
    assert network.between("a", REFERENCE)[0] == pytest.approx(0.5 / INSULATION_SIEMENS, rel=1e-6)


def test_a_node_nobody_touches_floats_on_its_insulation():
    network = Network([Branch("a", REFERENCE, np.ones(1))], 1)
    assert network.volts("nowhere")[0] == 0.0
    assert network.between("nowhere", REFERENCE)[0] == pytest.approx(1 / INSULATION_SIEMENS)
