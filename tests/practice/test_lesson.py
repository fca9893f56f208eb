"""A lesson from the first probe to the verdict: what things cost, what would have hurt, repairs, the comparison."""

import pytest

from linkcheck.circuit import State
from linkcheck.errors import UsageError
from linkcheck.practice.account import verdict_lines
from linkcheck.practice.adviser import Adviser
from linkcheck.practice.best_path import best_path
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.practice.judgement import judge
from linkcheck.practice.lesson import Lesson
from linkcheck.practice.setting_out import Request, practice_truck
from linkcheck.walk.checks import CHECKS

DEAD, KEY_ON = State(battery="disconnected"), State(key="on")


def lesson_with(*faults, seed=5):
    return Lesson(HiddenTruck(faults, seed))


def best_of(*faults, seed=5):
    return best_path(HiddenTruck(faults, seed), Request().setup)


def follow(lesson, adviser):
    """Do what the tool advises until it has nothing more to ask."""
    asked = []
    while (advice := adviser.advice(lesson.state)).check is not None:
        asked.append(advice.check.id)
        if advice.check.state != lesson.state:
            adviser.follow(lesson.change(advice.check.state))
        adviser.follow(lesson.probe(advice.probe))
    return asked


@pytest.mark.parametrize("fault", ["feed_fuse_open", "key_supply_dead", "short:can_high-battery"])
def test_a_learner_who_follows_all_advice_walks_the_best_path(fault):
    lesson, adviser = lesson_with(fault), Adviser(Request().setup)
    follow(lesson, adviser)
    lesson.repair(fault)
    verdict = judge(lesson, best_of(fault))
    assert verdict.found
    assert verdict.readings == verdict.best.readings
    assert verdict.minutes == pytest.approx(verdict.best.minutes)
    mine = [step.seen.shown for step in lesson.readings]
    assert mine == [step.shown for step in verdict.best.steps]


def test_the_best_path_costs_what_the_walk_itself_says():
    best = best_of("terminator_missing")
    assert best.named == ("terminator_missing",)
    assert best.finding.confirmed
    assert best.readings == best.finding.readings
    assert best.minutes == pytest.approx(best.finding.minutes, abs=0.06)  # the walk rounds to a tenth


def test_the_best_path_is_walked_on_the_truck_as_it_was_found():
    request = Request(seed=5, faults=("feed_fuse_open",))
    lesson = Lesson(practice_truck(request, request.layout()))
    lesson.repair("feed_fuse_open")
    verdict = judge(lesson, best_path(practice_truck(request, request.layout()), request.setup))
    assert verdict.best.named == ("feed_fuse_open",)


def test_advice_stays_sound_when_the_learner_goes_another_way():
    lesson, adviser = lesson_with("terminator_missing"), Adviser(Request().setup)
    for state, probe in ((KEY_ON, Probe("dc_volts", "C", "A")), (DEAD, Probe("ohms", "D", "C"))):
        adviser.follow(lesson.change(state))
        adviser.follow(lesson.probe(probe))
    advice = adviser.advice(lesson.state)
    assert advice.check.state.battery == "disconnected"  # putting the battery back on would be dear
    assert not any("battery's negative cable" in step for step in advice.do)
    follow(lesson, adviser)
    assert adviser.session.walk.opinion.belief.leader == ("terminator_missing",)


def test_leads_turned_round_are_the_same_check():
    straight, turned = Adviser(Request().setup), Adviser(Request().setup)
    lesson = lesson_with("battery_low")
    assert straight.follow(lesson.probe(Probe("dc_volts", "B", "A"))) is CHECKS["volts:B-A:key_off"]
    assert turned.follow(lesson.probe(Probe("dc_volts", "A", "B"))) is CHECKS["volts:B-A:key_off"]
    values = [each.session.walk.now.readings[0].value for each in (straight, turned)]
    assert values[0] == pytest.approx(values[1], abs=0.03)


def test_a_reading_that_no_check_asks_for_is_kept_but_not_weighed():
    lesson, adviser = lesson_with("battery_low"), Adviser(Request().setup)
    assert adviser.follow(lesson.probe(Probe("dc_volts", "H", "B"))) is None
    assert len(lesson.readings) == 1
    assert adviser.session.walk.readings == 0


# What would have happened -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "points", "words"),
    [
        (State(), ("B", "A"), "may blow"),
        (KEY_ON, ("C", "A"), "an ohmmeter lies"),
        (State(), ("E", "A"), "connected"),
        (DEAD, ("battery_positive", "battery_negative"), "may blow"),  # the posts are never dead
        (State(battery="disconnected", adapter="own"), ("C", "D"), "measured along"),
        (DEAD, ("C", "C"), "same point"),
    ],
)
def test_ohms_taken_badly_say_what_would_have_happened(state, points, words):
    lesson = lesson_with()
    lesson.change(state)
    assert words in " ".join(lesson.probe(Probe("ohms", *points)).notes)


def test_ohms_taken_well_say_nothing():
    lesson = lesson_with()
    assert lesson.change(DEAD).notes == ()
    assert lesson.probe(Probe("ohms", "C", "D")).notes == ()
    assert lesson.probe(Probe("dc_volts", "B", "A")).notes == ()


def test_the_battery_cable_with_the_key_on_is_warned_of():
    lesson = lesson_with()
    lesson.change(KEY_ON)
    assert "cable moved with the key on" in lesson.change(State(key="on", battery="disconnected")).notes[0]


def test_a_plug_moved_on_a_live_truck_is_warned_of():
    lesson = lesson_with()
    lesson.change(KEY_ON)
    assert "plug on the data link" in lesson.change(State(key="on", unplugged=frozenset({"terminator_1"}))).notes[0]


def test_warnings_are_counted():
    lesson = lesson_with("battery_low")
    lesson.probe(Probe("ohms", "B", "A"))
    lesson.probe(Probe("dc_volts", "B", "A"))
    assert judge(lesson, best_of("battery_low")).warnings == 1


# Repairs -----------------------------------------------------------------------------------------------------------


def test_a_new_fuse_over_a_short_fails_at_once():
    lesson = lesson_with("feed_short_to_ground")
    assert "fails again at once" in lesson.repair("feed_fuse_open").outcome
    assert lesson.probe(Probe("dc_volts", "B", "A")).seen.figure < 1.0
    assert "Measure again" in lesson.repair("feed_short_to_ground").outcome
    assert lesson.probe(Probe("dc_volts", "B", "A")).seen.figure > 11.0
    verdict = judge(lesson, best_of("feed_short_to_ground"))
    assert verdict.repaired == ("feed_short_to_ground",)
    assert verdict.needless == ("feed_fuse_open",)
    assert not verdict.found


def test_a_repair_does_not_say_whether_it_was_that():
    right, wrong = lesson_with("cavity_open:C"), lesson_with("cavity_open:D")
    assert right.repair("cavity_open:C").outcome == wrong.repair("cavity_open:C").outcome


def test_of_two_faults_both_have_to_be_found():
    lesson = lesson_with("feed_open", "terminator_missing")
    lesson.repair("feed_open")
    best = best_of("feed_open", "terminator_missing")
    half = judge(lesson, best)
    assert (half.repaired, half.found) == (("feed_open",), False)
    lesson.repair("terminator_missing")
    assert judge(lesson, best).found


def test_readings_after_the_last_repair_are_not_counted():
    lesson = lesson_with("battery_low")
    lesson.probe(Probe("dc_volts", "B", "A"))
    lesson.repair("battery_low")
    lesson.probe(Probe("dc_volts", "B", "A"))
    verdict = judge(lesson, best_of("battery_low"))
    assert verdict.readings == 1
    assert verdict.minutes == pytest.approx(0.6)  # two leads to the connector


def test_a_sound_truck_is_found_sound_by_leaving_it_alone():
    lesson, best = lesson_with(), best_of()
    assert judge(lesson, best).found
    lesson.repair("feed_fuse_open")
    assert not judge(lesson, best).found


def test_the_verdict_in_words_names_place_and_both_paths():
    request = Request(seed=5, faults=("feed_open",))
    lesson = Lesson(practice_truck(request, request.layout()))
    lesson.probe(Probe("dc_volts", "B", "A"))
    lines = "\n".join(verdict_lines(judge(lesson, best_of("feed_open")), request.layout()))
    assert "It was: Feed wire to cavity B broken" in lines
    assert "Still there" in lines
    assert "You: 1 reading, 0.6 minutes." in lines
    assert "The tool's own walk on this truck" in lines


def test_there_is_nothing_to_repair_that_is_no_fault():
    for name in ("none", "rust"):
        with pytest.raises(UsageError, match="no such fault"):
            lesson_with().repair(name)


def test_listening_without_an_adapter_changes_nothing():
    lesson = lesson_with()
    with pytest.raises(UsageError):
        lesson.probe(Probe("listen"))
    assert lesson.steps == []
