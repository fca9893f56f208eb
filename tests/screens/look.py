"""Looks at the app: opens it without a terminal, waits until it is still, and compares it with what is stored.

A snapshot is the screen's text and its picture, `snapshots/<name>.txt` and `.svg`. `LINKCHECK_SNAPSHOTS=write` stores
them anew; the diff in version control is then what has to be looked at. Clock, time zone, settings and cursor stand
still.
"""

import os
import time
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

from textual.screen import ModalScreen
from textual.widgets import Input, TextArea

from linkcheck.app.desk import Desk
from linkcheck.app.main import LinkcheckApp
from linkcheck.app.settings import Settings
from linkcheck.jobs.events import CautionsRead, Intake
from linkcheck.pinout import CAUTIONS, find_pinout, load_pinout

FOLDER = Path(__file__).parent / "snapshots"
START = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
SIZES = [(80, 24), (120, 40)]


def clock():
    """A clock that goes on by a minute each time it is asked."""
    minutes = count()
    return lambda: START + timedelta(minutes=next(minutes))


@asynccontextmanager
async def opened(page, store, size=(80, 24), job=None, **settings):
    """The app on a page, over a store that may have jobs in it already, with one of them open."""
    os.environ["TZ"] = "UTC"
    time.tzset()
    app = LinkcheckApp(Settings(**settings), start=page, store=store, clock=clock())
    if job is not None:
        app.desk.open_job(job)
    async with app.run_test(size=size) as pilot:
        await still(app, pilot)
        yield app, pilot


async def still(app, pilot):
    """Wait until all that was asked for is done and drawn, or a window waits for an answer."""
    await pilot.pause()
    for _ in range(MOST_WAITS):
        if isinstance(app.screen, ModalScreen) or not any(worker.name in QUICK for worker in app.workers):
            break
        await pilot.pause(0.02)
    await pilot.pause()


QUICK = {"_look", "_list", "_open", "_keep", "_run"}  # workers that end by themselves
MOST_WAITS = 1500


async def press(app, pilot, *keys):
    """Press keys, waiting after each; a text of several letters is typed in one go."""
    for key in keys:
        typed = [key] if len(key) == 1 or key in NAMED or key.startswith("f") else list(key)
        await pilot.press(*(LETTERS.get(each, each) for each in typed))
        await still(app, pilot)


NAMED = {"enter", "escape", "tab", "up", "down", "delete", "backspace", "pagedown", "home", "end", "space"}
LETTERS = {" ": "space", "?": "question_mark", "/": "slash", ".": "full_stop", "-": "minus", ",": "comma"}


def lines_of(app):
    """The screen as lines of text."""
    width, height = app.size
    strips = app.screen._compositor.render_strips()
    rows = ["".join(segment.text for segment in strip).rstrip() for strip in strips]
    assert len(rows) == height
    assert all(len(row) <= width for row in rows)
    return rows


def text_of(app):
    """The screen as one text."""
    return "\n".join(lines_of(app))


def compare(app, name):
    """Compare the screen with the stored one, or store it."""
    for widget in [*app.screen.query(Input), *app.screen.query(TextArea)]:
        widget.cursor_blink = False
        widget._cursor_visible = True
    text, picture = text_of(app) + "\n", app.export_screenshot(title="linkcheck")
    texts, pictures = FOLDER / f"{name}.txt", FOLDER / f"{name}.svg"
    if os.environ.get("LINKCHECK_SNAPSHOTS") == "write":
        FOLDER.mkdir(exist_ok=True)
        texts.write_text(text, encoding="utf-8")
        pictures.write_text(picture, encoding="utf-8")
    hint = "has changed; look, then LINKCHECK_SNAPSHOTS=write stores it"
    assert text == texts.read_text(encoding="utf-8"), f"{texts.name} {hint}"
    assert picture == pictures.read_text(encoding="utf-8"), f"{pictures.name} {hint} (only colours or marks of style)"


def job_at(store, intake=None, *answers, walked=True):
    """A job in a store's file, cautions read, walked by these answers (None skips); its number."""
    intake = intake or Intake(unit="Truck 12", complaint="no communication", connector="9-pin-type-2")
    desk = Desk(store, clock=clock())
    number = desk.store.create(intake)
    desk.open_job(number)
    own = load_pinout(find_pinout(intake.connector)).cautions
    desk.add(CautionsRead([each.text for each in (*CAUTIONS, *own)]))
    if walked:
        desk.sheet()
        desk.settle()
    for answer in answers:
        desk.skip() if answer is None else desk.answer(answer)
    desk.close()
    return number
