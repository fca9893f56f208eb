"""The bench page: simulated benches tested as a user would, the typed word, pause, stop, the sheet; its looks."""

import pytest
from screens.look import SIZES, compare, lines_of, opened, press, still, text_of

from linkcheck.app.screens import PLACES, page_class
from linkcheck.bench.control import WatchedRun, live_run, simulated_run
from linkcheck.bench.result import BenchResult, Conditions, Row
from linkcheck.errors import UsageError

LIMIT = "nothing lost, at least 95% of the bit rate, no gap over 1 s"
ROWS = [  # invented
    Row("opens_250k", "Opens", "pass", "opens, rate confirmed", "opens", "", conditions="250 kbit/s"),
    Row("load_receives_250k", "Receives at full load", "fail", "1,700 of 1,724 arrived; 24 lost", LIMIT, "",
        conditions="250 kbit/s, frames of 8 bytes back to back"),
    Row("replug", "Unplugged from the host and put back", "not measured", "", "goes on", "", note="nobody did it"),
]  # fmt: skip
CONDITIONS = Conditions("shop-3", "V1001", "shop-1", "V1002", "a host", "2026-03-02T07:30:00+00:00", 1, "quick")


@pytest.fixture
def store(tmp_path):
    return tmp_path / "jobs.db"


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("LINKCHECK_DATA", str(tmp_path / "data"))


async def ended(app, pilot):
    for _ in range(3000):
        await pilot.pause(0.02)
        if app.screen.result is not None:
            break
    await still(app, pilot)


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_choosing_what_is_tested(store, size):
    async with opened("bench", store, size) as (app, _):
        compare(app, f"bench-begin-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_rows_of_a_test(store, size):
    async with opened("bench", store, size) as (app, pilot):
        app.screen.show(BenchResult(conditions=CONDITIONS, rows=ROWS), ["Receives at full load: pass before, now fail"])
        await still(app, pilot)
        compare(app, f"bench-rows-{size[0]}x{size[1]}")


async def test_all_places_are_on_the_top_line_and_the_keys_on_the_footer_at_80_columns(store):
    async with opened("bench", store) as (app, pilot):
        assert all(place.title in lines_of(app)[0] for place in PLACES)
        app.screen.show(BenchResult(conditions=CONDITIONS, rows=ROWS))
        await still(app, pilot)
        assert all(word in lines_of(app)[-1] for word in ("New", "Sheet", "Changes", "Help"))


async def test_no_page_wants_the_keys_of_this_place_for_itself(store):
    taken = {each for place in PLACES for binding in page_class(place).BINDINGS for each in binding.key.split(",")}
    assert not taken & {"h", "f7"}
    async with opened("jobs", store) as (app, pilot):
        for pressed in ("h", "j", "f7"):
            await press(app, pilot, pressed)
        assert app.current_mode == "bench"


async def test_a_sound_adapter_passes_every_row(store):
    async with opened("bench", store) as (app, pilot):
        await press(app, pilot, "3")
        await ended(app, pilot)
        assert "Passed all" in text_of(app)
        assert "FAIL" not in text_of(app)
        assert {row.verdict for row in app.screen.result.rows} == {"pass"}
        await press(app, pilot, "c")
        assert "not put on record" in text_of(app)


async def test_a_fault_is_shown_as_failed_and_the_sheet_says_so(store, tmp_path):
    async with opened("bench", store) as (app, pilot):
        app.screen.begin(simulated_run("refuses-rate"))
        await ended(app, pilot)
        assert "✗ FAIL" in text_of(app)
        for ending, sign in (("html", "<html"), ("json", "linkcheck.bench/1"), ("txt", "VERDICT  FAILED")):
            await press(app, pilot, "o")
            app.screen.query_one("Input").value = str(tmp_path / f"sheet.{ending}")
            await press(app, pilot, "enter")
            for _ in range(200):
                await pilot.pause(0.02)
                if (tmp_path / f"sheet.{ending}").exists():
                    break
            sheet = (tmp_path / f"sheet.{ending}").read_text()
            assert sign in sheet
            assert "conformant" not in sheet.lower()
        await still(app, pilot)
        assert str(tmp_path / "sheet.txt") in [*app._notifications][-1].message


async def test_a_fault_is_chosen_from_the_list(store):
    async with opened("bench", store) as (app, pilot):
        await press(app, pilot, "4")
        assert "answers no command" in text_of(app)
        await press(app, pilot, "1")
        await ended(app, pilot)
        assert app.screen.result.failed


async def test_a_pause_holds_between_tests_and_stop_keeps_what_is_there(store):
    async with opened("bench", store) as (app, pilot):
        run = simulated_run("none")
        run.pause()
        app.screen.begin(run)
        for _ in range(30):
            await pilot.pause(0.02)
        assert app.screen.result is None
        assert run.rows == []
        assert "Paused after" in text_of(app)
        await press(app, pilot, "space")
        for _ in range(500):
            await pilot.pause(0.02)
            if run.rows:
                break
        await press(app, pilot, "s")
        await ended(app, pilot)
        assert app.screen.result.partial
        assert 0 < len(app.screen.result.rows) < 25
        assert "Stopped early" in text_of(app)


@pytest.mark.parametrize("word", ["yes", ""])
async def test_without_the_typed_word_nothing_is_opened(store, monkeypatch, word):
    opens = []
    monkeypatch.setattr("linkcheck.bench.live_bench.LiveBench.open", lambda *args, **_kw: opens.append(args))
    async with opened("bench", store) as (app, pilot):
        await press(app, pilot, "1", "virtual:one", "enter", "virtual:two", "enter", "enter", word or "enter")
        if word:
            await press(app, pilot, "enter")
        for _ in range(100):
            await pilot.pause(0.02)
            if app._notifications:
                break
        assert "no vehicle is connected" in [*app._notifications][-1].message
    assert opens == []


def test_the_word_itself_is_taken_and_a_harness_that_talks_is_refused():
    assert live_run("virtual:one", "virtual:two", "quick", adapter="", word=" Bench ").bench.hands.no_vehicle()
    with pytest.raises(UsageError, match="not silent"):
        simulated_run("truck-connected").run()


async def test_a_second_test_of_an_adapter_says_what_changed(store, tmp_path):
    async with opened("bench", store, (120, 40)) as (app, pilot):
        for fault in ("none", "refuses-rate"):
            as_real = WatchedRun(simulated_run(fault).bench, "shop-3")
            app.screen.begin(as_real)
            await pilot.pause()
            await ended(app, pilot)
        assert app.screen.changed
        await press(app, pilot, "c")
        assert "Opens (250 kbit/s): pass before" in text_of(app)
        assert "Its record" in text_of(app)
    assert len((tmp_path / "data" / "bench" / "shop-3.jsonl").read_bytes().splitlines()) == 2
