"""Laws of the walk: undo, replay, skips, safety, probabilities."""

import math

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkcheck.errors import DataError, UsageError
from linkcheck.walk.messages import Answer, Back, Repaired, Skip, read_event

SLOW = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
WORDS = ("no_power", "silent", "errors", "frames")


def text_for(check, choice):
    """Some answer that fits the check."""
    if check.quantity == "listen":
        return WORDS[choice % 4]
    if check.quantity == "ohms":
        return ("0.4", "60.2", "120.5", "OL", "4.7k")[choice % 5]
    return ("0.01", "2.61", "2.38", "12.4", "-0.2")[choice % 5]


def play(walk, choices):
    """Answer, skip or go back at random; yields the cards."""
    for choice in choices:
        if walk.check is None:
            return
        yield walk.card
        if choice % 7 == 6:
            walk.take(Skip(walk.check.id))
        elif choice % 11 == 10 and walk.asked:
            walk.take(Back())
        else:
            walk.take(Answer(walk.check.id, text_for(walk.check, choice)))


@given(st.lists(st.integers(0, 1000), max_size=9))
@SLOW
def test_whatever_is_answered_no_unsafe_check_is_asked_and_probabilities_add_up(new_walk, choices):
    walk = new_walk(max_checks=9)
    for card in play(walk, choices):
        if card.quantity == "ohms":
            assert card.state["battery"] == "disconnected"
            assert card.state["adapter"] == "unplugged"
            assert any("DC volts first" in step for step in card.do)
        belief = walk.opinion.belief
        assert math.isclose(belief.probabilities.sum() + belief.none_of_these, 1.0, abs_tol=1e-9)
        assert card.minutes > 0
        assert msgspec.json.decode(msgspec.json.encode(card))["type"] == "check"
    assert msgspec.json.decode(msgspec.json.encode(walk.finding))["type"] == "finding"


@given(st.lists(st.integers(0, 1000), max_size=7))
@SLOW
def test_a_record_that_is_replayed_gives_the_same_walk(new_walk, choices):
    walk = new_walk()
    for _ in play(walk, choices):
        pass
    lines = [msgspec.json.encode(event).decode() for event in walk.events]
    again = new_walk([read_event(line) for line in lines])
    assert again.card == walk.card
    assert again.suspects == walk.suspects
    assert again.finding == walk.finding


def test_back_takes_the_last_answer_back(new_walk):
    walk = new_walk()
    walk.take(Answer(walk.check.id, "frames"))
    before = walk.card, walk.suspects
    walk.take(Answer(walk.check.id, "60.1"))
    walk.take(Back())
    assert (walk.card, walk.suspects) == before


def test_back_and_back_again_goes_to_the_start(new_walk):
    walk, fresh = new_walk(), new_walk()
    for text in ("frames", "60.1"):
        walk.take(Answer(walk.check.id, text))
    walk.take(Back())
    walk.take(Back())
    assert walk.card == fresh.card
    with pytest.raises(UsageError, match="nothing to take back"):
        walk.take(Back())


def test_a_skipped_check_changes_no_belief_and_is_not_asked_again(new_walk):
    walk = new_walk()
    before = walk.opinion.belief.of_fault
    skipped = set()
    for _ in range(4):
        assert walk.check.id not in skipped
        skipped.add(walk.check.id)
        walk.take(Skip(walk.check.id))
    assert walk.opinion.belief.of_fault == before


def test_an_answer_that_cannot_be_read_changes_nothing(new_walk):
    walk = new_walk()
    before = walk.card, list(walk.events)
    with pytest.raises(DataError, match="is no answer here"):
        walk.take(Answer("listen:own", "twelve"))
    with pytest.raises(UsageError, match="no such check"):
        walk.take(Answer("volts:X-Y:key_on", "1"))
    assert (walk.card, walk.events) == before


def test_over_range_on_volts_is_refused(new_walk):
    with pytest.raises(DataError, match="no answer on DC volts"):
        new_walk().take(Answer("volts:B-A:key_off", "OL"))


def test_the_walk_ends_at_the_number_of_checks_it_was_given(new_walk):
    walk = new_walk(max_checks=2)
    walk.take(Answer(walk.check.id, "frames"))
    walk.take(Answer(walk.check.id, "60.0"))
    assert walk.card is None
    assert not walk.finding.confirmed
    assert walk.finding.readings == 2


BLOWN = {
    "listen:own": "no_power", "listen:known_good": "no_power", "ohms:fuse_in-fuse_out:dead": "OL",
    "volts:fuse_in-chassis:key_off": "12.4", "volts:battery_positive-battery_negative:key_off": "12.5",
    "volts:battery_positive-battery_negative:key_on": "12.3", "ohms:C-D:dead": "60.1",
    "ohms:fuse_out-chassis:fuse_out": "1.2", "ohms:B-A:fuse_out": "1.3", "ohms:A-chassis:dead": "0.1",
    "ohms:B-fuse_out:dead": "0.1", "volts:F-A:key_on": "3.9", "volts:G-A:key_on": "0.3", "volts:F-G:key_on": "3.6",
    "volts:C-A:key_on": "2.6", "volts:D-A:key_on": "2.4",
}  # fmt: skip


def finish(walk, answers):
    """Answer from a table; skip what is not in it."""
    while walk.check is not None:
        name = walk.check.id
        walk.take(Answer(name, answers[name]) if name in answers else Skip(name))


def test_a_blown_fuse_leads_on_to_why_it_blew(new_walk):
    walk = new_walk()
    finish(walk, BLOWN)
    found = walk.finding
    assert found.faults[0]["fault"] == "feed_short_to_ground"
    assert "chafed" in found.root_cause
    assert any("larger fuse" in step for step in found.then)


def test_after_a_repair_the_same_readings_are_taken_again_and_compared(new_walk):
    walk = new_walk()
    finish(walk, BLOWN)
    walk.take(Repaired(list(walk.opinion.belief.leader)))
    assert walk.check.id in BLOWN
    repaired = BLOWN | {"listen:own": "frames", "ohms:fuse_out-chassis:fuse_out": "OL", "ohms:B-A:fuse_out": "OL",
                        "ohms:fuse_in-fuse_out:dead": "0.1", "volts:B-A:key_off": "12.5",
                        "volts:B.wire-A.wire:plugged": "12.3", "volts:battery_positive-B.wire:plugged": "0.05",
                        "volts:A.wire-battery_negative:plugged": "0.03"}  # fmt: skip
    finish(walk, repaired)
    assert walk.repair_holds
    assert len(walk.now.readings) <= len(walk.before.readings) + 6  # and then it is over: no new search begins
    assert walk.finding.faults[0]["fault"] == "feed_short_to_ground"
    assert "ohms fuse in to fuse out: OL before, 0.1 ohm now." in walk.finding.confirmation
