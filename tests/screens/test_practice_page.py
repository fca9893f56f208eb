"""The practice page: choosing a truck, turning, probing, advice, repair, the end; looks from sheets made by hand."""

import asyncio

import pytest
from screens.look import SIZES, compare, lines_of, opened, press, still, text_of
from textual import events

from linkcheck.jobs.events import Intake, TrafficAttached
from linkcheck.jobs.sheet import Suspect
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.practice.lesson_sheet import AdviceSheet, LessonLine, LessonSheet
from linkcheck.practice.setting_out import Request

NINE_PIN = load_pinout(find_pinout("9-pin-type-1"))
QUIET = {"key": "off", "battery": "connected", "adapter": "not plugged in", "fuse": "in", "plugs": "all in"}
BEWARE = "On a real truck: the meter is on ohms across 12.4 V. Its fuse may blow. Battery off first."
LINES = (
    LessonLine("volts B to A", "12.41 V", "key off", ()),
    LessonLine("ohms B to A", "OL", "key off", (BEWARE,)),
    LessonLine("battery off", "", "", ()),
    LessonLine("ohms C to D", "120.4 ohm", "battery off", ()),
)
ADVICE = AdviceSheet(
    words="ohms terminator 1 a to b",
    do=("Unplug terminator 1.", "Ohms: red lead to terminator 1's own pin a, black lead to its own pin b."),
    expect="114.0 to 126.0 ohm",
    why='Proves or clears "One terminator missing or not connected".',
    suspects=(
        Suspect("One terminator missing or not connected", 0.62),
        Suspect("Both wires of the backbone broken or a backbone connector apart", 0.21),
        Suspect("A terminator has the wrong value", 0.04),
    ),
    none_of_these=0.02,
    can_do=True,
)


@pytest.fixture
def store(tmp_path):
    return tmp_path / "jobs.db"


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, monkeypatch):
    for name in ("STATE", "DATA"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(tmp_path / name.lower()))


def sheet(count=4, advice=None, **turned):
    lines = LINES[:count]
    last = lines[-1] if lines and lines[-1].shown else None
    return LessonSheet(
        title="Truck 4711, easy, 12 V",
        state={**QUIET, **turned},
        lines=lines,
        reading=last,
        leads={"C": "RED", "D": "BLK"} if count == 4 else {"B": "RED", "A": "BLK"} if count else {},
        back=False,
        readings=sum(bool(line.shown) for line in lines),
        minutes=7.2,
        advice=advice,
    )


async def done(app, pilot):
    """Wait until the room has nothing to do any more."""
    for _ in range(1000):
        await pilot.pause(0.02)
        busy = [each for each in app.workers if each.name in ROOM_WORK and not each.is_finished]
        if not busy:
            break
    await still(app, pilot)


ROOM_WORK = {"_run", "action_end", "action_record", "_read"}


async def begun(app, pilot, *faults, seed=5):
    app.screen.begin(Request(seed=seed, faults=faults))
    await done(app, pilot)


# Looks ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_choosing_a_truck(store, size):
    async with opened("practice", store, size) as (app, _):
        compare(app, f"practice-begin-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_reading_that_would_have_hurt(store, size):
    async with opened("practice", store, size) as (app, pilot):
        app.screen.show(sheet(2), NINE_PIN)
        await still(app, pilot)
        compare(app, f"practice-beware-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_lesson_with_advice(store, size):
    async with opened("practice", store, size) as (app, pilot):
        app.screen.show(sheet(4, ADVICE, battery="disconnected"), NINE_PIN)
        await still(app, pilot)
        compare(app, f"practice-advice-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_end_of_a_lesson(store, size):
    async with opened("practice", store, size) as (app, pilot):
        app.screen.show(sheet(), NINE_PIN)
        lines = ["It was: One terminator missing or not connected: terminator 2.", "You found it.", "You: 3 readings."]
        rows = [("volts B to A: 12.41 V", "own adapter listening: frames"), ("ohms C to D: 120.4 ohm", ""), ("", "x")]
        app.screen.query_one("#verdict").show(lines, rows, size[0] - 4)
        app.screen._show_part("end")
        await still(app, pilot)
        compare(app, f"practice-end-{size[0]}x{size[1]}")


async def test_the_footer_fits_80_columns_all_along(store):
    async with opened("practice", store) as (app, pilot):
        for part in ("begin", "lesson", "end"):
            if part == "lesson":
                app.screen.show(sheet(), NINE_PIN)
            app.screen._show_part(part)
            await still(app, pilot)
            shown = {each.binding.description for each in app.screen.active_bindings.values() if each.binding.show}
            assert all(name in lines_of(app)[-1] for name in shown)


# A lesson ------------------------------------------------------------------------------------------------------------


async def test_a_number_begins_a_lesson_and_nothing_else_has_to_be_there(store):
    async with opened("practice", store) as (app, pilot):
        await press(app, pilot, "1")
        await done(app, pilot)
        assert "easy, 12 V" in text_of(app)
        assert "0 readings" in text_of(app)


async def test_a_truck_by_its_number_is_the_same_truck(store):
    seen = []
    for _ in range(2):
        async with opened("practice", store) as (app, pilot):
            await press(app, pilot, "4", "4711 medium", "enter")
            await done(app, pilot)
            await press(app, pilot, "v", "b a", "enter")
            await done(app, pilot)
            seen.append(text_of(app))
    assert "Truck 4711, medium" in seen[0]
    assert seen[0] == seen[1]


async def test_two_letters_and_enter_take_a_reading(store):
    async with opened("practice", store) as (app, pilot):
        await begun(app, pilot, "battery_low")
        await press(app, pilot, "v", "b a", "enter")
        await done(app, pilot)
        assert "volts B to A, key off" in text_of(app)
        assert "1 reading, 0.6 min" in text_of(app)
        assert "RED" in text_of(app)
        assert "BLK" in text_of(app)


async def test_points_can_be_taken_from_the_list(store):
    async with opened("practice", store) as (app, pilot):
        await begun(app, pilot, "battery_low")
        await press(app, pilot, "o", "down", "enter", "down", "down", "down", "enter")
        await done(app, pilot)
        assert "ohms A to" in text_of(app)


async def test_numbers_turn_the_truck_and_marks_say_so(store):
    async with opened("practice", store) as (app, pilot):
        await begun(app, pilot, "none")
        for number, words in (
            ("1", "▸Key      on"),
            ("3", "▸Adapter  yours"),
            ("3", "▸Adapter  known-good"),
            ("4", "▸Fuse     pulled"),
            ("2", "▸Battery  disconnected"),
        ):
            await press(app, pilot, number)
            await done(app, pilot)
            assert words in text_of(app)
        assert "cable moved with the key on" in str(app.screen.query_one("#beware").render())
        await press(app, pilot, "5", "1")
        await done(app, pilot)
        assert "off: terminator 1" in text_of(app)


async def test_advice_is_hidden_until_asked_for_and_d_does_it(store):
    async with opened("practice", store, (120, 40)) as (app, pilot):
        await begun(app, pilot, "feed_fuse_open")
        assert "The tool:" not in text_of(app)
        await press(app, pilot, "a")
        await done(app, pilot)
        assert "The tool: own adapter listening" in text_of(app)
        await press(app, pilot, "d")
        await done(app, pilot)
        assert "no power" in text_of(app)
        await press(app, pilot, "a")
        await done(app, pilot)
        assert "The tool:" not in text_of(app)


async def test_a_repair_and_the_end(store):
    async with opened("practice", store, (120, 40)) as (app, pilot):
        await begun(app, pilot, "terminator_missing")
        await press(app, pilot, "2", "o", "c d", "enter")
        await done(app, pilot)
        await press(app, pilot, "m", "terminator missing", "enter")
        await done(app, pilot)
        await press(app, pilot, "e")
        await done(app, pilot)
        shown = text_of(app)
        assert "It was: One terminator missing" in shown
        assert "You found it." in shown
        assert "The tool's path" in shown
        await press(app, pilot, "e")
        assert "Truck 5" in text_of(app)
        await press(app, pilot, "e")
        await done(app, pilot)
        await press(app, pilot, "n")
        assert "An easy truck" in text_of(app)


async def test_what_is_not_understood_says_so_and_nothing_has_happened(store):
    async with opened("practice", store) as (app, pilot):
        await begun(app, pilot, "none")
        await press(app, pilot, "v", "b zz", "enter")
        await done(app, pilot)
        await press(app, pilot, "l")
        await done(app, pilot)
        said = [each.message for each in app._notifications]
        assert 'no point "zz"' in said[0]
        assert "no adapter" in said[1]
        assert "0 readings" in text_of(app)


# A story -------------------------------------------------------------------------------------------------------------


async def test_a_missing_terminator_with_captures_before_and_after_in_the_job(store):
    async with opened("practice", store, (120, 40)) as (app, pilot):
        job = await asyncio.to_thread(app.desk.store.create, Intake(unit="Practice truck 5", complaint="drops out"))
        await asyncio.to_thread(app.desk.open_job, job)
        await begun(app, pilot, "terminator_missing")
        for when, row in (("before", "1"), ("after", "2")):
            if when == "after":
                await press(app, pilot, "p", "m", "terminator missing", "enter")
                await done(app, pilot)
            await press(app, pilot, "c")
            await done(app, pilot)
            assert app.current_mode == "traffic"
            await press(app, pilot, "i", row)
            await attached(app, pilot, when)
        found = {each.when: each.summary for each in app.desk.opened.events if isinstance(each, TrafficAttached)}
        channels = {when: summary.channels["can0"] for when, summary in found.items()}
        assert channels["before"].error_frames.total > 0
        assert any(each.severity == "fault" for each in channels["before"].findings)
        assert channels["after"].error_frames.total == 0
        assert not any(each.severity == "fault" for each in channels["after"].findings)
        assert len(channels["after"].source_addresses) == 6


async def attached(app, pilot, when):
    for _ in range(300):
        await pilot.pause(0.02)
        if any(isinstance(each, TrafficAttached) and each.when == when for each in app.desk.opened.events):
            return
    raise AssertionError(when)


async def test_a_fast_hand_loses_no_letter(store):
    async with opened("practice", store) as (app, pilot):
        await begun(app, pilot, "none")
        for letter in ("v", "b", "space", "a", "enter"):  # all before the window is there
            app.post_message(events.Key(letter, " " if letter == "space" else letter if len(letter) == 1 else "\r"))
        await pilot.pause(0.2)
        await done(app, pilot)
        assert "volts B to A, key off" in text_of(app)
