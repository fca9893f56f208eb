"""Which faults practice trucks hide: every fault of the catalogue, each with its place in words; the seed decides."""

from collections import Counter

import pytest

from linkcheck.circuit import KNOBS
from linkcheck.errors import UsageError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.practice.hidden_faults import DIFFICULTIES, choose_faults, difficulty_of, whereabouts
from linkcheck.practice.hidden_truck import HiddenTruck
from linkcheck.practice.setting_out import Request, practice_truck

POSSIBLE = [name for name in FAULTS if name != "none"]


@pytest.mark.parametrize("fault", POSSIBLE)
def test_every_way_of_every_fault_says_where_it_sits(fault):
    words = {whereabouts(KNOBS[fault], way, 0) for way in range(len(KNOBS[fault].ways))}
    assert "" not in words


@pytest.mark.parametrize(
    ("fault", "level"),
    [("feed_fuse_open", "easy"), ("battery_low", "easy"), ("terminator_missing", "medium"), ("cavity_open:C", "medium"),
     ("module_swapped", "hard"), ("leakage:C-D", "hard")],
)  # fmt: skip
def test_what_is_near_the_connector_is_easy_and_single_modules_are_hard(fault, level):
    assert difficulty_of(FAULTS[fault]) == level


@pytest.mark.parametrize("level", DIFFICULTIES)
def test_trucks_are_as_hard_as_asked_for(level):
    chosen = [choose_faults(level, seed, possible=POSSIBLE) for seed in range(200)]
    singles = [faults[0] for faults in chosen if len(faults) == 1]
    assert {difficulty_of(FAULTS[name]) for name in singles} == {level}
    counts = Counter(map(len, chosen))
    assert (counts[0] > 0) == (level != "easy")  # sound trucks come to every shop, but not to the first lessons
    assert (counts[2] > 0) == (level == "hard")


def test_two_faults_are_of_different_parts():
    pairs = [faults for seed in range(200) if len(faults := choose_faults("hard", seed, possible=POSSIBLE)) == 2]
    assert all(FAULTS[first].subsystem != FAULTS[second].subsystem for first, second in pairs)


def test_only_possible_faults_are_chosen():
    for level in DIFFICULTIES:
        possible = [name for name in POSSIBLE if FAULTS[name].subsystem != "j1708"]
        assert all(set(choose_faults(level, seed, possible=possible)) <= set(possible) for seed in range(50))


def test_the_module_with_the_fault_is_the_one_that_is_named():
    for seed in range(12):
        truck = HiddenTruck(["module_unpowered"], seed)
        number = int(truck.hidden[0].where.split("module ")[1].split(" ")[0])
        assert truck._trucks["module_unpowered"][:, 0].nonzero()[0].tolist() == [number - 1]


def test_what_a_knob_turns_without_words_is_refused():
    with pytest.raises(UsageError, match="no words"):
        whereabouts(type(KNOBS["none"])("x", ((_change("sample_point"),),)), 0, -1)


def _change(parameter):
    return type(KNOBS["module_dominant"].ways[0][0])(parameter)


def test_a_fault_that_the_connector_cannot_have_is_refused():
    request = Request(faults=("cavity_open:C",), pinout="6-pin")
    with pytest.raises(UsageError, match="cannot have this fault"):
        practice_truck(request, request.layout())


@pytest.mark.parametrize("words", [{"difficulty": "cruel"}, {"seed": -1}])
def test_a_request_that_makes_no_sense_is_refused(words):
    with pytest.raises(UsageError):
        Request(**words)
