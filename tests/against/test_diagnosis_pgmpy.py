"""The belief of a small case against exact inference by pgmpy (variable elimination), and so the expected answers.

The network: a fault; for each of two subsystems a truck, evenly any of the sampled ones; for each check an answer that
depends on the fault and on its subsystem's truck. Whether the answer is a slip, comes from another truck of the same
fault, or is mistaken for its neighbour is summed into the answer's table here, by plain loops.
"""

import itertools
import warnings

import numpy as np
import pytest

from linkcheck.diagnosis.belief import Weigher
from linkcheck.diagnosis.next_check import Chooser
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import SOUND, Observable, Samples

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    pytest.importorskip("pgmpy", reason="pgmpy is not installed")
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

WORDS = ("dark", "silent", "talking")
MISTAKEN = 0.07
CHECKS = [
    Observable("a", "category", "supply", categories=WORDS, mistaken=MISTAKEN),
    Observable("b", "category", "supply", categories=WORDS, mistaken=MISTAKEN),
    Observable("c", "category", "can", categories=WORDS, mistaken=MISTAKEN),
    Observable("d", "category", "can", categories=WORDS, mistaken=MISTAKEN),
    Observable("e", "category", "can", categories=WORDS, mistaken=MISTAKEN),
]
HYPOTHESES = [SOUND, ("x",), ("y",), ("x", "y")]
PRIOR = np.array([0.4, 0.3, 0.25, 0.05])
TRUCKS = 5
TRUE = np.random.default_rng(17).integers(0, len(WORDS), (len(HYPOTHESES), len(CHECKS), TRUCKS))
ASSUMED = Assumptions(slip=0.03, redraw=0.3)
WEIGHER = Weigher(Samples(HYPOTHESES, CHECKS, TRUE.astype(np.float32)), np.log(PRIOR), ASSUMED)


def understood(true, answer):
    """Chance of an answer where another is true: each step further away is MISTAKEN times as likely."""
    return MISTAKEN ** abs(true - answer) / sum(MISTAKEN ** abs(true - other) for other in range(len(WORDS)))


def chance(fault, check, truck, answer):
    own = understood(TRUE[fault, check, truck], answer)
    any_truck = sum(understood(TRUE[fault, check, other], answer) for other in range(TRUCKS)) / TRUCKS
    meant = (1.0 - ASSUMED.redraw) * own + ASSUMED.redraw * any_truck
    return (1.0 - ASSUMED.slip) * meant + ASSUMED.slip / len(WORDS)


@pytest.fixture(scope="module")
def exact():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        net = DiscreteBayesianNetwork(
            [("fault", check.id) for check in CHECKS] + [(f"truck_{check.subsystem}", check.id) for check in CHECKS]
        )
        net.add_cpds(TabularCPD("fault", len(HYPOTHESES), PRIOR[:, None].tolist()))
        for name in ("truck_supply", "truck_can"):
            net.add_cpds(TabularCPD(name, TRUCKS, [[1.0 / TRUCKS]] * TRUCKS))
        for k, check in enumerate(CHECKS):
            causes = list(itertools.product(range(len(HYPOTHESES)), range(TRUCKS)))
            table = [[chance(fault, k, truck, answer) for fault, truck in causes] for answer in range(len(WORDS))]
            parents = ["fault", f"truck_{check.subsystem}"]
            net.add_cpds(TabularCPD(check.id, len(WORDS), table, parents, [len(HYPOTHESES), TRUCKS]))
        assert net.check_model()
        return VariableElimination(net)


def ask(exact, variable, seen):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        evidence = {check: WORDS.index(word) for check, word in seen.items()}
        return exact.query([variable], evidence=evidence, show_progress=False).values


def cases():
    rng = np.random.default_rng(4)
    yield {}
    for size in (1, 2, 3, 4, 5, 5, 5, 5):
        checks = rng.choice(len(CHECKS), size, replace=False)
        yield {CHECKS[k].id: WORDS[int(rng.integers(len(WORDS)))] for k in checks}


@pytest.mark.parametrize("seen", list(cases()), ids=str)
def test_the_belief_is_that_of_exact_inference(exact, seen):
    belief = WEIGHER.belief([Taken(check, word) for check, word in seen.items()])
    np.testing.assert_allclose(belief.probabilities, ask(exact, "fault", seen), rtol=0.0, atol=1e-9)


@pytest.mark.parametrize("seen", [{}, {"a": "dark"}, {"a": "silent", "c": "talking", "d": "dark"}], ids=str)
def test_expected_answers_are_those_of_exact_inference(exact, seen):
    """The next check is chosen in single precision, hence 1e-6."""
    belief = WEIGHER.belief([Taken(check, word) for check, word in seen.items()])
    for check in ("b", "e"):
        answers = belief.probabilities @ Chooser(WEIGHER).expected(belief, check)
        np.testing.assert_allclose(answers, ask(exact, check, seen), rtol=0.0, atol=1e-6)
