"""The traffic page: a capture from its path to its verdict, what it rests on, and out of here again."""

import asyncio
import json

import pytest
from screens.look import SIZES, compare, job_at, lines_of, opened, press, still, text_of
from textual import events
from textual.widgets import Input

from linkcheck.app.screens.traffic.paths import cleaned, completed, keep_recent, matches, recent
from linkcheck.app.screens.traffic.result_table import ResultTable
from linkcheck.jobs.events import FindingTaken, TrafficAttached
from linkcheck.pinout.load import shipped_folder

CAPTURES = shipped_folder("captures")
BUMPS, TERMINATOR = CAPTURES / "drops-over-bumps.log", CAPTURES / "terminator-lost.log.gz"


@pytest.fixture
def store(tmp_path):
    return tmp_path / "jobs.db"


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, monkeypatch):
    for name in ("STATE", "DATA"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(tmp_path / name.lower()))


async def done(app, pilot):
    """Wait for a capture that is being read."""
    for _ in range(400):
        await pilot.pause(0.02)
        if app.screen._reading is None:
            break
    await still(app, pilot)


async def read(app, pilot, path):
    app.screen.open_path(str(path))
    await done(app, pilot)


# Looks ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_choosing_a_capture(store, size):
    async with opened("traffic", store, size) as (app, _):
        compare(app, f"traffic-open-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_verdict_and_its_findings(store, size):
    async with opened("traffic", store, size) as (app, pilot):
        await read(app, pilot, BUMPS)
        compare(app, f"traffic-findings-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("section", ["load", "who", "addresses", "errors", "sensors"])
async def test_a_section(store, size, section):
    async with opened("traffic", store, size) as (app, pilot):
        await read(app, pilot, TERMINATOR)
        app.screen.action_section(section)
        await still(app, pilot)
        compare(app, f"traffic-{section}-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_trouble_codes(store, size):
    async with opened("traffic", store, size) as (app, pilot):
        await read(app, pilot, CAPTURES / "module-mute.log.gz")
        await press(app, pilot, "6")
        compare(app, f"traffic-codes-{size[0]}x{size[1]}")


async def test_the_footer_fits_80_columns_in_every_section(store):
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, BUMPS)
        for number in range(1, 8):
            await press(app, pilot, str(number))
            shown = {each.binding.description for each in app.screen.active_bindings.values() if each.binding.show}
            assert all(name in lines_of(app)[-1] for name in shown)


async def test_without_colour_the_cursor_and_every_state_can_be_told(store, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, BUMPS)
        assert "✗ FAULT" in text_of(app)
        await press(app, pilot, "3")
        assert any("━·" in line for line in lines_of(app))


# Opening -------------------------------------------------------------------------------------------------------------


async def test_a_path_is_typed_completed_and_opened(store, tmp_path):
    capture = tmp_path / "monday morning.log"
    capture.write_bytes(BUMPS.read_bytes())
    async with opened("traffic", store) as (app, pilot):
        field = app.screen.query_one("#path", Input)
        field.value = str(tmp_path / "mond")
        await press(app, pilot, "tab")
        assert field.value == str(capture)
        await press(app, pilot, "enter")
        await done(app, pilot)
        assert "4 faults" in text_of(app)
        await press(app, pilot, "o")
        assert "monday morning.log" in text_of(app)  # among those opened of late


@pytest.mark.parametrize("form", ["{}", "'{}'", "file://{}"])
async def test_a_file_dragged_into_the_window_is_opened(store, form):
    async with opened("traffic", store) as (app, pilot):
        app.screen.query_one("#path").post_message(events.Paste(form.format(BUMPS)))
        await done(app, pilot)
        await done(app, pilot)
        assert "VERDICT" not in text_of(app)
        assert "4 faults" in text_of(app)
        # and over a result, wherever the focus is
        app.screen.focused.post_message(events.Paste(form.format(TERMINATOR)))
        await done(app, pilot)
        await done(app, pilot)
        assert "terminator-lost" in text_of(app)


async def test_an_example_is_chosen_with_arrows(store):
    async with opened("traffic", store) as (app, pilot):
        await press(app, pilot, "down", "down", "enter")
        await done(app, pilot)
        assert "battery-low" in text_of(app)


async def test_what_cannot_be_read_says_why_and_what_was_shown_stays(store, tmp_path):
    broken = tmp_path / "photo.jpg"
    broken.write_bytes(bytes(range(256)) * 40)
    async with opened("traffic", store, (120, 40)) as (app, pilot):
        await read(app, pilot, BUMPS)
        await read(app, pilot, broken)
        await read(app, pilot, tmp_path / "nowhere.log")
        said = [each.message for each in app._notifications]
        assert str(broken) in said[0]
        assert "nowhere.log" in said[1]
        assert "drops-over-bumps" in text_of(app)


async def test_reading_can_be_stopped_and_what_is_known_is_shown(store, tmp_path):
    long = tmp_path / "long.log"
    long.write_bytes(BUMPS.read_bytes() * 300)
    async with opened("traffic", store) as (app, pilot):
        app.screen.open_path(str(long))
        for _ in range(500):
            await pilot.pause(0.01)
            if "%" in text_of(app).splitlines()[1]:
                break
        await pilot.press("escape")
        await done(app, pilot)
        assert app.screen.result.partial
        assert "partial" in text_of(app)


@pytest.mark.parametrize(
    ("pasted", "path"),
    [
        ("/a/b.log\n", "/a/b.log"),
        ("'/a/my file.log'", "/a/my file.log"),
        (r"/a/my\ file.log", "/a/my file.log"),
        ("file:///a/my%20file.log", "/a/my file.log"),
        ("file:///C:/logs/a.log", "C:/logs/a.log"),
        ('"C:/logs/my file.log"', "C:/logs/my file.log"),
        ("/a/b.log\n/c/d.log", "/a/b.log"),
        ("'/a/never closed", "/a/never closed"),
        ("  \n", ""),
    ],
)
def test_dragged_paths_come_in_many_dresses(pasted, path):
    assert cleaned(pasted) == path


def test_completion_goes_as_far_as_it_is_clear(tmp_path):
    for name in ("truck-a.log", "truck-b.log", ".hidden.log"):
        (tmp_path / name).touch()
    (tmp_path / "folder").mkdir()
    assert completed(f"{tmp_path}/t") == f"{tmp_path}/truck-"
    assert completed(f"{tmp_path}/f") == f"{tmp_path}/folder/"
    assert completed(f"{tmp_path}/x") == f"{tmp_path}/x"
    assert [path.name for path in matches(f"{tmp_path}/")] == ["truck-a.log", "truck-b.log", "folder"]
    assert [path.name for path in matches(f"{tmp_path}/.h")] == [".hidden.log"]
    assert matches(f"{tmp_path}/nowhere/x") == []


def test_recent_captures_last_first_without_those_that_went(tmp_path):
    names = [tmp_path / f"{n}.log" for n in range(14)]
    for path in names:
        path.touch()
        keep_recent(path)
    keep_recent(names[3])
    assert recent()[:2] == [names[3], names[13]]
    assert len(recent()) == 12
    names[3].unlink()
    assert recent()[0] == names[13]


# What it rests on ----------------------------------------------------------------------------------------------------


async def test_every_finding_opens_its_evidence_and_leads_to_it(store):
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, BUMPS)
        for row, (_, finding) in enumerate(app.screen.query_one("#findings").findings):
            await press(app, pilot, "1")
            app.screen.query_one("#findings").highlighted = row
            await press(app, pilot, "enter")
            shown = " ".join(text_of(app).split())
            assert "Check next" in shown
            assert finding.check_next[:30] in shown
            await press(app, pilot, "enter")
            assert app.screen._section not in ("findings", "evidence")


async def test_an_address_has_its_pgns_one_level_down(store):
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, BUMPS)
        await press(app, pilot, "4")
        assert "61444" not in text_of(app)
        await press(app, pilot, "enter")
        assert "61444" in text_of(app)  # EEC1 of the engine: SAE J1939-71
        await press(app, pilot, "enter")
        assert "61444" not in text_of(app)


async def test_a_strip_leads_to_its_address(store):
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, BUMPS)
        await press(app, pilot, "3", "down", "down", "enter")
        assert "▾0B" in text_of(app)
        assert "61441" in text_of(app)


async def test_tables_sort_and_filter(store):
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, BUMPS)
        await press(app, pilot, "4")
        table = app.screen.query_one("#addresses", ResultTable)
        for _ in range(3):
            await press(app, pilot, "s")
        frames = [int(str(table.get_row(row.key)[3]).replace(",", "")) for row in table.ordered_rows]
        assert frames == sorted(frames, reverse=True)
        await press(app, pilot, "/", "wheel")
        assert [row.key.value for row in table.ordered_rows] == ["11"]  # who sends wheel speeds: the brakes
        await press(app, pilot, "enter", "enter")
        assert "wheel speeds" in text_of(app)
        await press(app, pilot, "escape")
        assert table.row_count > 5


async def test_another_interface(store):
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, CAPTURES / "two-channels.log.gz")
        assert "can0, 1 of 2" in text_of(app)
        await press(app, pilot, "c")
        assert "can1, 2 of 2" in text_of(app)
        assert "500 kbit/s" in text_of(app)


async def test_a_newer_result_leaves_section_cursor_and_filter_alone(store):
    async with opened("traffic", store) as (app, pilot):
        await read(app, pilot, BUMPS)
        await press(app, pilot, "4", "down", "down", "/", "controller", "enter")
        before = app.screen.query_one("#addresses", ResultTable).cursor_name, lines_of(app)
        app.screen.show(app.screen.result)
        await still(app, pilot)
        assert (app.screen.query_one("#addresses", ResultTable).cursor_name, lines_of(app)) == before


# Out of here ---------------------------------------------------------------------------------------------------------


async def test_without_a_job_nothing_is_taken(store):
    async with opened("traffic", store, (120, 40)) as (app, pilot):
        await read(app, pilot, BUMPS)
        await press(app, pilot, "i")
        await still(app, pilot)
        assert any("No job is open" in each.message for each in app._notifications)


async def test_a_finding_and_all_faults_go_into_the_job(store):
    job = job_at(store)
    async with opened("traffic", store) as (app, pilot):
        await asyncio.to_thread(app.desk.open_job, job)
        await read(app, pilot, BUMPS)
        await press(app, pilot, "down", "i", "3")
        await taken(app, pilot, 1)
        await press(app, pilot, "i", "4")
        await taken(app, pilot, 5)
        found = [each for each in app.desk.opened.events if isinstance(each, FindingTaken)]
        assert found[0].text == app.screen.query_one("#findings").findings[1][1].text
        assert found[0].check_next


async def test_copy_out_says_where_and_keeps_a_file(store, tmp_path):
    async with opened("traffic", store, (120, 40), folder=str(tmp_path / "out")) as (app, pilot):
        await read(app, pilot, BUMPS)
        for number, row in enumerate(("1", "3", "2"), 1):
            await press(app, pilot, "y", row)
            for _ in range(100):
                await pilot.pause(0.02)
                if len(list((tmp_path / "out").glob("*"))) == number:
                    break
        page = (tmp_path / "out" / "drops-over-bumps-traffic.txt").read_text()
        assert "VERDICT" in page
        assert "Check next" in (tmp_path / "out" / "drops-over-bumps-finding.txt").read_text()
        whole = json.loads((tmp_path / "out" / "drops-over-bumps-traffic.json").read_text())
        assert whole["schema"] == "linkcheck.traffic/1"
        assert "saved to" in " ".join(each.message for each in app._notifications)
        assert app.clipboard == (tmp_path / "out" / "drops-over-bumps-finding.txt").read_text()


async def taken(app, pilot, count):
    """Wait until so many findings or captures are in the job."""
    for _ in range(200):
        await pilot.pause(0.02)
        if sum(isinstance(each, FindingTaken | TrafficAttached) for each in app.desk.opened.events) == count:
            return
    raise AssertionError(app.desk.opened.events)
