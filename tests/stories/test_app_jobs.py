"""Whole jobs in the app, by keyboard alone, on a simulated truck whose circuit gives the figures."""

import json

import pytest
from screens.look import opened, press, still, text_of

from linkcheck.jobs.events import Note, Repaired
from linkcheck.jobs.store import open_store
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.messages import Answer

WORDS = {"no_power": "1", "silent": "2", "errors": "3", "frames": "4"}
MOST_CHECKS = 25


def keys_for(truck, app):
    """What a technician presses for the check on the screen: the truck is asked, and the answer typed."""
    check = CHECKS[app.screen._sheet.check.id]
    if check.quantity in ("heard", "look"):
        return ["s"]  # nobody knows how many modules a stranger's truck has
    if check.quantity == "listen":
        rate = app.desk.session.walk.bit_rate(check)
        return [WORDS[truck.probe(Probe("listen", bit_rate=rate), check.state).typed]]
    typed = truck.probe(Probe(check.quantity, check.red, check.black), check.state).typed
    return ["o", "enter"] if typed == "OL" else [*typed, "enter"]


async def read_cautions(app, pilot):
    """Enter, as long as there is something to read first."""
    while type(app.screen).__name__ == "Read":
        await press(app, pilot, "enter")
        await still(app, pilot)


async def answer(app, pilot, *keys):
    """Press keys, and read what has to be read after them."""
    await press(app, pilot, *keys)
    await read_cautions(app, pilot)


async def walk(truck, app, pilot):
    """Check by check to the finding; the keys pressed for each."""
    pressed = []
    await read_cautions(app, pilot)
    for _ in range(MOST_CHECKS):
        if app.screen._sheet.card is None:
            return pressed
        keys = keys_for(truck, app)
        pressed.append(keys)
        await answer(app, pilot, *(["".join(keys[:-1]), "enter"] if keys[-1] == "enter" else keys))
    return pressed


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "files"


async def begin(app, pilot, unit, complaint):
    await press(app, pilot, "n")
    await still(app, pilot)
    await press(app, pilot, unit, "enter", complaint, "enter", "enter")
    for _ in range(40):
        await pilot.pause(0.1)
        await still(app, pilot)
        if app.current_mode == "walk" and (type(app.screen).__name__ == "Read" or app.screen._sheet is not None):
            return


async def test_a_blown_feed_fuse_from_complaint_to_report(tmp_path, folder):
    truck = HiddenTruck(["feed_fuse_open"], seed=3)
    store = tmp_path / "jobs.db"
    async with opened("jobs", store, folder=str(folder), meter="hand-held") as (app, pilot):
        await begin(app, pilot, "Truck 7", "adapter dead")
        await walk(truck, app, pilot)
        assert "FINDING" in text_of(app)
        assert app.screen._sheet.repairable == ("feed_fuse_open",)
        await press(app, pilot, "n")
        await press(app, pilot, "rub mark at the bulkhead", "enter")
        truck.without("feed_fuse_open")
        await press(app, pilot, "d")
        await still(app, pilot)
        await walk(truck, app, pilot)
        assert "AFTER THE REPAIR" in text_of(app)
        await press(app, pilot, "r")
        await still(app, pilot)
        assert "Fuse of the connector's feed" in text_of(app)
        await press(app, pilot, "o", "1")
        await written(pilot, folder / "job-1-Truck-7.html")
        await press(app, pilot, "o", "4")
        await written(pilot, folder / "job-1-Truck-7.json")
    report = json.loads((folder / "job-1-Truck-7.json").read_text())
    assert report["intake"]["unit"] == "Truck 7"
    assert report["meter"] == "hand-held"
    assert len(report["rounds"]) == 2
    assert "<html" in (folder / "job-1-Truck-7.html").read_text()
    with open_store(store) as kept:
        record = kept.record(1)
    assert any(isinstance(entry.event, Repaired) for entry in record.entries)
    assert [entry.event for entry in record.entries if isinstance(entry.event, Note)] == [
        Note("rub mark at the bulkhead")
    ]


async def written(pilot, path):
    for _ in range(100):
        if path.exists() and path.stat().st_size:
            return
        await pilot.pause(0.1)
    raise AssertionError(path)


async def test_a_typical_reading_takes_its_digits_and_enter_only(tmp_path):
    """One key for a word; for a reading the figure as the meter shows it, and enter."""
    truck = HiddenTruck(["terminator_missing"], seed=5)
    async with opened("jobs", tmp_path / "jobs.db") as (app, pilot):
        await begin(app, pilot, "Truck 8", "no communication")
        pressed = await walk(truck, app, pilot)
        assert "FINDING" in text_of(app)
    for keys in pressed:
        if keys[-1] == "enter" and keys[0] != "o":
            figure = "".join(keys[:-1]).rstrip("kM")
            assert set(figure) <= set("-.0123456789")
            assert len(keys) <= len(figure) + 2  # a prefix, and enter
        else:
            assert len(keys) <= 2


async def test_a_reading_is_on_the_disk_before_it_is_shown_as_taken(tmp_path):
    store = tmp_path / "jobs.db"
    async with opened("jobs", store) as (app, pilot):
        await begin(app, pilot, "Truck 9", "no communication")
        await read_cautions(app, pilot)
        shown_with = []
        board = app.screen._board
        show = board.show

        def note(sheet, pinout):
            with open_store(store) as other:
                walked = other.record(1).walk
            shown_with.append((len(sheet.readings), len(walked.answers)))
            show(sheet, pinout)

        board.show = note
        await answer(app, pilot, "1")
        await answer(app, pilot, "0.02", "enter")
    assert shown_with == [(1, 1), (2, 2)]


async def test_undo_skip_and_correct_stay_in_the_job(tmp_path):
    store = tmp_path / "jobs.db"
    async with opened("jobs", store) as (app, pilot):
        await begin(app, pilot, "Truck 9", "no communication")
        await read_cautions(app, pilot)
        await answer(app, pilot, "4")
        await answer(app, pilot, "u")
        assert "CHECK 1" in text_of(app)
        await answer(app, pilot, "1")
        await answer(app, pilot, "s")
        await answer(app, pilot, "c", "enter", "silent", "enter")
        assert app.screen._sheet.readings[0].shown == "silent"
    with open_store(store) as kept:
        record = kept.record(1)
    assert [entry.event.text for entry in record.walk.answers] == ["silent"]
    typed = [entry.event.text for entry in record.entries if isinstance(entry.event, Answer)]
    assert typed == ["frames", "no_power"]


async def test_a_job_goes_on_where_it_was_left(tmp_path):
    store = tmp_path / "jobs.db"
    async with opened("jobs", store) as (app, pilot):
        await begin(app, pilot, "Truck 9", "no communication")
        await read_cautions(app, pilot)
        await answer(app, pilot, "1")
        before = app.screen._sheet.card
    async with opened("jobs", store) as (app, pilot):
        await answer(app, pilot, "enter")
        assert app.screen._sheet.card == before
        assert "Truck 9" in text_of(app)
