"""The wiggle watch on traffic whose faults are known: who is late, alone or together, and where that points."""

import pytest

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.practice import simulate
from linkcheck.traffic import Analysis
from linkcheck.traffic.wiggle import WiggleWatch
from linkcheck.traffic.wiggle_page import wiggle_page
from linkcheck.traffic.wiggle_sheet import MeterMinMax, wiggle_sheet

MS, SECOND = 1_000_000, 1_000_000_000
ENGINE, GEARBOX, BRAKES = 0, 3, 11


def truck(until_s, silent=(), extra=()):
    """Three addresses, every 20, 50 and 100 ms; `silent` are (address, from s, to s)."""
    rows = list(extra)
    for address, period in ((ENGINE, 20), (GEARBOX, 50), (BRAKES, 100)):
        for k in range(int(until_s * 1000 / period)):
            now = k * period * MS + address * MS
            if not any(who == address and begin * SECOND <= now < end * SECOND for who, begin, end in silent):
                rows.append((SECOND + now, 0, 0x0CF00400 | address, EXTENDED, 8, bytes(8)))
    return FrameBatch.from_rows(sorted(rows), ("can0",))


def battery(at_s, volts):
    raw = round(volts / 0.05)
    payload = b"\xff\xff\xff\xff" + raw.to_bytes(2, "little") + b"\xff\xff"
    return (SECOND + int(at_s * SECOND), 0, 0x18FEF700, EXTENDED, 8, payload)


def claim(at_s, address):
    return (SECOND + int(at_s * SECOND), 0, 0x18EEFF00 | address, EXTENDED, 8, bytes.fromhex("0603BF0100000010"))


def error(at_s):
    return (SECOND + int(at_s * SECOND), 0, 0x88, ERROR, 8, bytes([0, 0, 4, 0, 0, 0, 0, 0]))


def watched(batch, step_ns=50 * MS):
    """Feed as a live bus does, 50 ms at a time with the time told in between; returns the bell's moments too."""
    watch, analysis, bells = WiggleWatch(), Analysis(), []
    now, end, at = int(batch.time_ns[0]), int(batch.time_ns[-1]), 0
    while now <= end:
        now += step_ns
        stop = int((batch.time_ns <= now).sum())
        for part in analysis.mark(batch.take(slice(at, stop))):
            bells += [(now, event) for event in watch.eat(part)]
        bells += [(now, event) for event in watch.advance("can0", now)]
        at = stop
    return watch, bells


def sheet_of(watch, batch, **more):
    return wiggle_sheet(watch, int(batch.time_ns[0]), int(batch.time_ns[-1]), **more)


def test_a_quiet_harness_rings_no_bell():
    _, bells = watched(truck(20))
    assert bells == []


def test_a_late_address_rings_within_a_few_of_its_periods():
    watch, bells = watched(truck(12, [(ENGINE, 8.0, 8.5)]))
    ((now, event),) = bells
    assert event.address == ENGINE
    assert now - event.start_ns <= 3 * 20 * MS + 50 * MS
    assert event.end_ns - event.start_ns == pytest.approx(500 * MS, abs=20 * MS)
    assert watch.events == [event]


def test_a_recording_gives_the_events_the_live_bus_gave():
    batch = truck(12, [(ENGINE, 8.0, 8.5), (BRAKES, 9.0, 10.0)])
    live, _ = watched(batch)
    recorded = WiggleWatch()
    for part in Analysis().mark(batch):
        recorded.eat(part)
    told = [sorted((e.address, e.start_ns, e.end_ns) for e in watch.events) for watch in (live, recorded)]
    assert told[0] == told[1]
    assert len(told[0]) == 2


def test_one_error_frame_rings_and_a_burst_rings_once():
    _, bells = watched(truck(12, extra=[error(7), error(9), error(9.1), error(9.2)]))
    assert [event.count for _, event in bells] == [1, 3]
    assert bells[0][0] - bells[0][1].start_ns <= 50 * MS


def test_a_burst_that_goes_on_rings_every_second():
    batch = truck(14, extra=[error(7 + k / 4) for k in range(20)])
    watch, bells = watched(batch)
    assert len(watch.events) == 1
    assert watch.events[0].count == 20
    assert len(bells) == 4


def test_a_dip_of_the_battery_rings():
    readings = [battery(s, 13.8) for s in range(8)] + [battery(8, 12.9)] + [battery(s, 13.8) for s in range(9, 12)]
    _, bells = watched(truck(12, extra=readings))
    ((_, event),) = bells
    assert event.kind == "dip"
    assert event.volts == pytest.approx(12.9)
    assert event.end_ns - event.start_ns == SECOND


def test_who_falls_together_shares_a_branch_and_who_restarts_shares_a_feed():
    branch = [(a, s, s + 0.6) for s in (7.0, 12.0, 18.0) for a in (ENGINE, GEARBOX)]
    batch = truck(25, branch)
    rows = sheet_of(watched(batch)[0], batch).falls
    assert [(row.addresses, row.times, row.shares) for row in rows] == [([ENGINE, GEARBOX], 3, "shared branch")]
    restarts = [claim(s + 0.6, a) for _, s in ((0, 7.0), (0, 12.0), (0, 18.0)) for a in (ENGINE, GEARBOX)]
    batch = truck(25, branch, restarts)
    rows = sheet_of(watched(batch)[0], batch).falls
    assert [(row.addresses, row.shares) for row in rows] == [([ENGINE, GEARBOX], "shared feed")]


def test_everybody_gone_is_the_whole_bus_and_one_alone_its_own_stub():
    batch = truck(20, [(a, 8.0, 9.0) for a in (ENGINE, GEARBOX, BRAKES)] + [(BRAKES, 14.0, 16.0)])
    rows = {row.shares: row.addresses for row in sheet_of(watched(batch)[0], batch).falls}
    assert rows == {"whole bus": [ENGINE, GEARBOX, BRAKES], "own stub": [BRAKES]}


def test_what_happens_with_a_mark_is_told_with_it():
    batch = truck(12, [(BRAKES, 8.0, 9.0)], [error(8.2)])
    watch, _ = watched(batch)
    watch.mark(SECOND + int(8.3 * SECOND), "mark 1")
    moments = sheet_of(watch, batch).moments
    silent = next(m for m in moments if m.kind == "late")
    assert silent.at_s == pytest.approx(7.9, abs=0.2)
    assert "mark 1" in silent.together
    assert any("error frame" in text for text in silent.together)


def test_frames_held_up_on_their_way_are_no_fault_of_the_harness():
    batch = truck(12, [(a, 8.0, 8.3) for a in (ENGINE, GEARBOX)])
    watch, _ = watched(batch)
    watch.held_up("can0", SECOND + int(8.35 * SECOND))
    sheet = sheet_of(watch, batch)
    assert sheet.falls == []
    assert all("doubtful" in m.text for m in sheet.moments)


def test_our_own_port_being_away_is_no_fault_of_the_harness():
    whole = truck(20, [(a, 8.0, 12.0) for a in (ENGINE, GEARBOX, BRAKES)])
    watch, analysis = WiggleWatch(), Analysis()
    cut = int((whole.time_ns < SECOND + 8 * SECOND).sum())
    for part in analysis.mark(whole.take(slice(0, cut))):
        watch.eat(part)
    watch.interrupted("can0")
    assert watch.advance("can0", SECOND + 12 * SECOND) == []
    for at in range(cut, len(whole), 20):
        for part in analysis.mark(whole.take(slice(at, at + 20))):
            assert watch.eat(part) == []


def test_learning_again_takes_the_new_habits():
    watch, _ = watched(truck(10))
    assert set(watch.learned()["can0"]) == {ENGINE, GEARBOX, BRAKES}
    watch.learn_again()
    assert watch.learned()["can0"] == {}


def test_an_invented_truck_with_a_loose_plug():
    """The scenario hides dropouts of known addresses and says where; everything found must be one of those."""
    recording = simulate("drops-over-bumps", seconds=60)
    watch, analysis = WiggleWatch(), Analysis()
    for part in analysis.mark(recording.batch):
        watch.eat(part)
    (truth,) = recording.truths.values()
    begin = int(recording.batch.time_ns[0])
    hidden = [(s.from_s, s.to_s, set(s.addresses)) for s in truth.silences]
    late = [event for event in watch.events if event.kind == "late" and event.start_ns - begin > 8 * SECOND]
    assert len(late) >= 3
    for event in late:
        at = (event.start_ns - begin) / SECOND
        assert any(low - 0.3 <= at <= high + 0.3 and event.address in who for low, high, who in hidden), event


def test_the_page_says_it_in_eighty_columns():
    batch = truck(20, [(a, 8.0, 9.0) for a in (ENGINE, GEARBOX, BRAKES)])
    watch, _ = watched(batch)
    text = wiggle_page(sheet_of(watch, batch, meter=MeterMinMax(11.9, 12.6, "V")), 80)
    assert max(map(len, text.splitlines())) <= 80
    assert "the whole bus" in text
    assert "11.9 to 12.6 V" in text


@pytest.mark.parametrize("size", [1, 7, 500])
def test_where_a_batch_ends_does_not_matter(size):
    extra = [claim(8.5, ENGINE), error(9), error(9.2), *[battery(s, 13.8 - (s == 9)) for s in range(12)]]
    batch = truck(12, [(ENGINE, 8.0, 8.5), (GEARBOX, 8.0, 8.7), (BRAKES, 9.0, 10.0)], extra)
    told = []
    for step in (size, len(batch)):
        watch, analysis = WiggleWatch(), Analysis()
        for at in range(0, len(batch), step):
            for part in analysis.mark(batch.take(slice(at, at + step))):
                watch.eat(part)
        told.append(sorted((e.start_ns, e.kind, str(e.address), e.end_ns, e.text, e.restarted) for e in watch.events))
    assert told[0] == told[1]
    assert len(told[0]) == 5
