"""The traffic page on a live bus: asked for, listened to, recorded, watched, unplugged, ended. Adapters are emulated.

What is on the emulated bus comes from `simulate`, and what was recorded is read back by python-can, which is not ours.
"""

import os
from types import SimpleNamespace

import can
import pytest
from screens.look import SIZES, compare, job_at, lines_of, opened, press, still, text_of
from textual.screen import ModalScreen
from textual.widgets import Input

from linkcheck.app.screens.traffic.bus_listening import News, Snapshot
from linkcheck.jobs.events import TrafficAttached
from linkcheck.live.emulated_adapter import Faults
from linkcheck.live.emulated_bus import traffic_of
from linkcheck.live.emulation import Emulation
from linkcheck.pinout.load import shipped_folder
from linkcheck.practice import simulate
from linkcheck.survey import CaptureFile
from linkcheck.traffic import Options

needs_pty = pytest.mark.skipif(not hasattr(os, "openpty"), reason="adapters are emulated on pseudo-terminals")


@pytest.fixture
def store(tmp_path):
    return tmp_path / "jobs.db"


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, monkeypatch):
    for name in ("STATE", "DATA"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(tmp_path / name.lower()))


@pytest.fixture(scope="module")
def recording():
    return simulate("healthy", seconds=20).batch


@pytest.fixture
def adapter(recording):
    """One emulated adapter; its faults may be changed."""
    with Emulation(Faults(), traffic=traffic_of(recording)) as emulation:
        yield emulation


async def until(pilot, true, waits=1500):
    for _ in range(waits):
        if true():
            return
        await pilot.pause(0.02)
    raise AssertionError(f"never came:\n{text_of(pilot.app)}")


def asked(pilot, words):
    return lambda: isinstance(pilot.app.screen, ModalScreen) and words in text_of(pilot.app)


async def type_port(pilot, port):
    """From the key to what the interface can do."""
    await pilot.press("ctrl+l")
    await until(pilot, asked(pilot, "Listen on which interface?"))
    await pilot.press("end", "enter")
    await until(pilot, asked(pilot, "INTERFACE:CHANNEL"))
    pilot.app.screen.query_one(Input).value = port
    await pilot.press("enter")


async def listen(pilot, port):
    await type_port(pilot, port)
    await until(pilot, asked(pilot, "Can it be silent"))
    said = text_of(pilot.app)
    await pilot.press("1")
    await until(pilot, lambda: not asked(pilot, "Can it be silent")())
    return said


async def stop(pilot):
    page = pilot.app.screen
    await pilot.press("x")
    await until(pilot, lambda: page.listening is None)


def frames_of(page):
    return page.result.source["frames"] if page.result else 0


@needs_pty
async def test_from_the_key_to_a_job(store, adapter):
    job = job_at(store)
    async with opened("traffic", store, job=job) as (app, pilot):
        page = app.screen
        said = await listen(pilot, f"serial:{adapter.paths[0]}")
        assert "yes, proven by its answer" in said
        await until(pilot, lambda: frames_of(page) > 300)
        assert "LISTENING" in text_of(app)
        await press(app, pilot, "4")
        assert "engine 1" in text_of(app)
        before = frames_of(page)
        await until(pilot, lambda: frames_of(page) > before)
        assert not page.check_action("into_job", ())
        await stop(pilot)
        assert "LISTENING" not in text_of(app)
        await pilot.press("i")
        await until(pilot, asked(pilot, "Take what into"))
        await pilot.press("1")
        await until(pilot, lambda: any(isinstance(each, TrafficAttached) for each in app.desk.opened.events))


@needs_pty
@pytest.mark.long
async def test_where_silence_cannot_be_had_it_asks_and_no_is_no(store, adapter):
    adapter.adapters[0].faults.refuse_listen_only = True
    async with opened("traffic", store) as (app, pilot):
        page = app.screen
        await listen(pilot, f"serial:{adapter.paths[0]}")
        await until(pilot, asked(pilot, "Listen all the same"))
        assert not adapter.adapters[0].active
        await pilot.press("1")
        await still(app, pilot)
        assert page.listening is None
        assert not adapter.adapters[0].active
        await listen(pilot, f"serial:{adapter.paths[0]}")
        await until(pilot, asked(pilot, "Listen all the same"))
        await pilot.press("2")
        await until(pilot, lambda: frames_of(page) > 50)
        assert adapter.adapters[0].active
        await stop(pilot)


@needs_pty
@pytest.mark.long
async def test_marks_record_and_unplugging(store, adapter, tmp_path):
    log = tmp_path / "drive.log"
    async with opened("traffic", store) as (app, pilot):
        page = app.screen
        await listen(pilot, f"serial:{adapter.paths[0]}")
        await until(pilot, lambda: frames_of(page) > 50)
        await pilot.press("f")
        await until(pilot, asked(pilot, "Record to which file?"))
        app.screen.query_one(Input).value = str(log)
        await pilot.press("enter")
        await until(pilot, lambda: "recorded" in text_of(app))
        await pilot.press("m")
        await until(pilot, lambda: "mark 1" in text_of(app))
        adapter.unplug(0)
        await until(pilot, lambda: "n tries now" in text_of(app))
        assert "LOST" in text_of(app)
        adapter.replug(0)
        await pilot.press("n")
        await until(pilot, lambda: "REOPENED" in text_of(app))
        before = frames_of(page)
        await until(pilot, lambda: frames_of(page) > before + 50)
        await pilot.press("f")
        await until(pilot, lambda: "Recorded " in text_of(app))
        await stop(pilot)
    kept = list(can.CanutilsLogReader(str(log)))
    assert len(kept) > 50
    assert "mark 1" in log.with_name("drive.events.jsonl").read_text()


@needs_pty
@pytest.mark.long
async def test_a_wiggle_watch_rings_and_ends_with_its_list(store, adapter, monkeypatch):
    async with opened("traffic", store) as (app, pilot):
        page, rung = app.screen, []
        monkeypatch.setattr(app, "bell", lambda: rung.append(1))
        await listen(pilot, f"serial:{adapter.paths[0]}")
        await until(pilot, lambda: frames_of(page) > 50)
        await pilot.press("g")
        await until(pilot, lambda: "WIGGLE WATCH" in text_of(app))
        heard = frames_of(page)
        await until(pilot, lambda: frames_of(page) > heard + 400)
        adapter.call(lambda bus: bus.break_frames(3))
        await until(pilot, lambda: "ERRORS" in text_of(app))
        assert rung
        await pilot.press("x")
        await until(pilot, asked(pilot, "min/max meter"))
        app.screen.query_one(Input).value = "12.6 11.8"
        await pilot.press("enter")
        await until(pilot, asked(pilot, "11.8 to 12.6 V"))
        assert "ERRORS" in text_of(app)
        await press(app, pilot, "escape")
        assert page.listening is None


async def test_a_bus_without_wires_and_without_frames(store):
    sender = can.Bus(interface="virtual", channel="traffic-page", ignore_config=True)
    async with opened("traffic", store) as (app, pilot):
        page = app.screen
        said = await listen(pilot, "virtual:traffic-page")
        assert "no bus behind it" in said
        await until(pilot, lambda: "nothing heard yet" in text_of(app))
        sender.send(can.Message(arbitration_id=0x18F00403, data=bytes(8), is_extended_id=True))
        await until(pilot, lambda: frames_of(page) == 1)
        await stop(pilot)
    sender.shutdown()


async def test_what_is_no_port_is_said_and_nothing_is_opened(store):
    async with opened("traffic", store) as (app, pilot):
        page = app.screen
        await type_port(pilot, "nonsense")
        await until(pilot, lambda: any("is no port" in each.message for each in app._notifications))
        assert page.listening is None
        await listen(pilot, "serial:/no/such/device")
        await until(pilot, lambda: any("/no/such/device" in each.message for each in app._notifications))
        assert page.listening is None


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_bus_while_it_is_listened_to(store, size):
    path = shipped_folder("captures") / "drops-over-bumps.log"
    result = CaptureFile(str(path), Options()).run()
    async with opened("traffic", store, size) as (app, pilot):
        page = app.screen
        page.listening = SimpleNamespace(taken=lambda: None, stop=lambda: None)
        page.add_class("-live")
        page.begin_bus()
        now = "60 s  can0  23% 411/s 6 addresses"
        page._tell(News(("   41.20 s         MARK      mark 1",)))
        page._tell(News(("   42.75 s  can0   SILENT    11 (brake system controller) silent",), alarm=True))
        page._tell(Snapshot(result, now, ("can0",), "24,660 recorded", watching=True))
        await still(app, pilot)
        shown = {each.binding.description for each in app.screen.active_bindings.values() if each.binding.show}
        assert shown >= {"Stop", "Mark", "File", "Wiggle"}
        assert all(name in lines_of(app)[-1] for name in shown)
        compare(app, f"traffic-bus-{size[0]}x{size[1]}")
