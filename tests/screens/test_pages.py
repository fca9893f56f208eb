"""Every page at 80x24 and at 120x40, as stored; what must hold at any size."""

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from msgspec import structs
from screens.invented import READINGS, reading_rows, sheet
from screens.look import SIZES, compare, job_at, lines_of, opened, press, still, text_of
from screens.pictures import FOLDER, PICTURES, SNAPSHOTS

from linkcheck.app import screens as app_screens
from linkcheck.app.keys import FOOTER_MOST
from linkcheck.app.page import help_parts
from linkcheck.app.screens import PLACES
from linkcheck.app.widgets.walk_board import WalkBoard
from linkcheck.jobs.events import Intake
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.report.content import Text

BLOWN = ("no power", "0.01", "OL")  # adapter, volts at the connector, ohms over the fuse


@pytest.fixture
def store(tmp_path):
    return tmp_path / "jobs.db"


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_no_jobs_yet(store, size):
    async with opened("jobs", store, size) as (app, _):
        compare(app, f"jobs-empty-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_list_of_jobs(store, size):
    job_at(store, None, *BLOWN)
    async with opened("jobs", store, size) as (app, pilot):
        for n in range(3):
            app.desk.store.create(
                Intake(unit=f"Tractor {n + 1}", complaint="drops out over bumps, comes back by itself")
            )
        app.screen._list()
        await still(app, pilot)
        compare(app, f"jobs-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_form_of_a_new_job(store, size):
    async with opened("jobs", store, size) as (app, pilot):
        await press(app, pilot, "n", "Truck 12", "enter")
        compare(app, f"jobs-new-{size[0]}x{size[1]}")


SHEETS = {
    "listen": sheet(
        "listen:own",
        do=["Plug your adapter in.", "Turn the key on.", "Let it listen only, at 250 kbit/s. What does it show?"],
        expect={"shows": "frames"},
        words=("no_power", "silent", "errors", "frames"),
    ),
    "volts": sheet("volts:C-A:key_on"),
    "ohms": sheet(
        "ohms:B-B.wire:dead",
        do=[
            "Turn the key off.",
            "Unplug the adapter.",
            "Take the battery's negative cable off. Wait a minute; leave doors, switches and the key alone.",
            "Ohms: red lead to cavity B, black lead to the back of cavity B (wire side).",
            "On DC volts first, the same two points: under 0.05 V. If not, find what feeds them. Then ohms.",
        ],
        expect={"low": 1000.0, "high": None, "unit": "ohm"},
    ),
    "found": sheet(),
    "repaired": sheet(
        before=READINGS, readings=READINGS[1:2], compared=("ohms C to D: 120.4 ohm before, 60.2 ohm now.",)
    ),
}
TYPED = {"volts": ["2.31"], "ohms": ["o"]}


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", SHEETS)
async def test_the_walk(store, size, name):
    """Figures are invented, so that only a change of the drawing changes it."""
    async with opened("walk", store, size, job=job_at(store, walked=False)) as (app, pilot):
        board = app.screen.query_one(WalkBoard)
        board.show(SHEETS[name], load_pinout(find_pinout("9-pin-type-2")))
        app.screen.refresh_bindings()
        await press(app, pilot, *TYPED.get(name, []))
        await still(app, pilot)
        compare(app, f"walk-{name}-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_record(store, size):
    job = job_at(store, walked=False)
    words = {
        "complaint": "No communication after work on the frame.",
        "cause": "One terminator missing. Proven by ohms C to D, battery off: 120.4 ohm.",
        "correction": "Terminator fitted at the rear end of the backbone; its lock was broken and is new.",
        "confirmation": "Ohms C to D 60.2 ohm; the adapter hears all six modules again.",
    }
    async with opened("record", store, size, job=job) as (app, pilot):
        report = app.screen._shown
        texts = {part: Text(text, "technician") for part, text in words.items()}
        drawn = structs.replace(
            report,
            **texts,
            rounds=["before the repair", "after the repair"],
            readings=reading_rows(),
            meter="hand-held",
        )
        app.screen._show(drawn)
        await still(app, pilot)
        compare(app, f"record-{size[0]}x{size[1]}")


@pytest.mark.parametrize("connector", ["9-pin-type-1", "9-pin-type-2", "6-pin", "16-pin-j1962"])
async def test_the_walk_fits_every_connector_at_80_columns(store, connector):
    job = job_at(store, Intake(unit="Truck 12", connector=connector))
    async with opened("walk", store, job=job) as (app, _):
        shown = text_of(app)
        assert "CHECK 1" in shown
        assert "MATING SIDE" in shown or "WIRE SIDE" in shown


@pytest.mark.parametrize("place", [place.name for place in PLACES])
async def test_the_footer_fits_80_columns_with_help_in_it(store, place):
    async with opened(place, store, job=job_at(store, None, *BLOWN)) as (app, _):
        shown = [each.binding for each in app.screen.active_bindings.values() if each.binding.show]
        assert len({binding.action for binding in shown}) <= FOOTER_MOST
        footer = lines_of(app)[-1]
        for binding in shown:
            assert binding.description in footer


@pytest.mark.parametrize("place", [place.name for place in PLACES])
async def test_help_speaks_of_what_is_there_and_of_every_key(store, place):
    async with opened(place, store, job=job_at(store, walked=False)) as (app, pilot):
        lead, parts = help_parts(app.screen.help_text())
        assert lead
        sources = "".join(path.read_text() for path in (Path(app_screens.__file__).parent / place).glob("*.py"))
        of_windows = [name for name in parts if f'id="{name}"' in sources]
        assert [name for name in parts if not app.screen.query(f"#{name}") and name not in of_windows] == []
        shown = app.screen.help_about() + app._keys()
        for each in app.screen.active_bindings.values():
            if each.binding.id:
                assert each.binding.tooltip in shown
        await press(app, pilot, "f9")
        assert type(app.screen).__name__ == "Read"


async def test_a_picture_asks_nobody_for_anything(store):
    """The only address in it is the name of its own format (W3C, Namespaces in XML)."""
    async with opened("jobs", store) as (app, _):
        picture = app.export_screenshot()
    assert set(re.findall(r"https?://[^\"' )]+", picture)) == {"http://www.w3.org/2000/svg"}
    assert ET.fromstring(picture).tag == "{http://www.w3.org/2000/svg}svg"  # noqa: S314  our own


def test_the_pictures_of_the_readme_are_the_snapshots():
    for page, snapshot in PICTURES.items():
        shown = (FOLDER / f"{page}.svg").read_bytes()
        assert shown == (SNAPSHOTS / f"{snapshot}.svg").read_bytes(), "run tests/screens/pictures.py"
