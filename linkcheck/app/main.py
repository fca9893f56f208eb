"""The app: wires pages together, holds the settings and what is on the desk. No logic of the trade lives here."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from datetime import datetime
from functools import partial
from pathlib import Path, PurePath
from typing import Any, ClassVar

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.dom import DOMNode
from textual.reactive import reactive
from textual.screen import Screen

from linkcheck.app.desk import Desk
from linkcheck.app.keys import key, key_words
from linkcheck.app.page import Page
from linkcheck.app.picture import plain_picture
from linkcheck.app.screens import PLACES, open_page, page_class
from linkcheck.app.settings import Settings, files_folder, keep_theme, load_settings, settings_path
from linkcheck.app.themes import load_themes
from linkcheck.app.workarounds import (
    forgive_mouse_bytes,
    in_browser,
    leave_on_signals,
    left_alone,
    no_color_wanted,
)
from linkcheck.errors import LinkcheckError

__all__ = ["LinkcheckApp", "run"]

SERVER_EVERY_S = 2.0  # how often an app in a browser looks whether its server is still there


class LinkcheckApp(App[int]):
    """The app.

    Args:
        settings: the user's.
        ansi_color: only the terminal's own colours, and none with NO_COLOR.
        start: name of the page that is shown first.
        practise: begin with an easy practice truck.
        store: file of the jobs; None for the user's own.
        clock: gives the time in UTC, for tests.

    Attributes:
        job_name: what the top line says of the open job.
        desk: the store and the job that is open.

    """

    TITLE = "linkcheck"
    CSS_PATH: ClassVar[list[str | PurePath]] = ["app.tcss", "widgets/walk_board.tcss"]
    COMMAND_PALETTE_BINDING = "ctrl+p"
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {
        place.name: partial(open_page, place) for place in PLACES
    }
    BINDINGS: ClassVar[list[BindingType]] = [
        *(key(f"go.{each.name}", each.keys, f"go('{each.name}')", each.title, each.what) for each in PLACES),
        key("app.help", "question_mark,f9", "help", "Help", "Help on what has the focus, and all keys", footer=True),
        key("app.picture", "f8", "picture", "Picture", "Save a picture of the screen (SVG) as a file"),
        key("app.quit", "q,ctrl+q", "quit", "Quit", "Leave; everything is kept"),
    ]
    job_name = reactive("")

    def __init__(
        self,
        settings: Settings,
        *,
        ansi_color: bool | None = None,
        start: str = "jobs",
        practise: bool = False,
        store: Path | None = None,
        clock: Callable[[], datetime] | None = None,
    ) -> None:
        super().__init__(ansi_color=ansi_color)
        self.settings = settings
        self.desk = Desk(store, self._name_job, clock)
        self._start = "practice" if practise else start
        self._practise = practise
        for theme in load_themes().values():
            self.register_theme(theme)
        self.theme = "ansi-dark" if ansi_color else settings.theme
        self.set_keymap(dict(settings.keys))

    def on_mount(self) -> None:
        """Show the first page."""
        leave_on_signals(self._leave)
        if in_browser():
            parent = os.getppid()
            self.set_interval(SERVER_EVERY_S, lambda: self.exit() if left_alone(parent) else None)
        self.theme_changed_signal.subscribe(self, lambda theme: self._keep(theme.name))
        self.switch_mode(self._start)
        if self._practise:
            self.call_after_refresh(self._begin_lesson)

    def _begin_lesson(self) -> None:
        from linkcheck.app.screens.practice.screen import PracticePage  # noqa: PLC0415  only where it is wanted

        if isinstance(self.screen, PracticePage):
            self.screen.begin_easily()

    def on_unmount(self) -> None:
        """Close the store."""
        self.desk.close()

    def _name_job(self, name: str) -> None:
        self.call_later(setattr, self, "job_name", name)

    def _leave(self, code: int) -> None:
        self.exit(code, return_code=code)

    def _keep(self, theme: str) -> None:
        try:
            keep_theme(settings_path(), theme)
        except LinkcheckError as error:
            self.notify(error.sentence, severity="error", markup=False)

    def ring(self) -> None:
        """The terminal's bell, where the user wants one."""
        if self.settings.bell:
            self.bell()

    # What keys do ------------------------------------------------------------------------------------------------

    def action_go(self, name: str) -> None:
        """Go to a page."""
        if self.current_mode != name:
            self.switch_mode(name)

    def action_help(self) -> None:
        """Help on what has the focus, the page, and its keys."""
        from linkcheck.app.widgets.dialog import Read  # noqa: PLC0415  Markdown is slow to load

        if isinstance(self.screen, Page):
            self.push_screen(Read(f"{self.screen.help_about()}\n\n{self._keys()}"))

    def _keys(self) -> str:
        """All keys of the page and of the app as a Markdown list."""
        told: dict[str, list[str]] = {}
        for pressed, (_, binding, _, _) in self.screen.active_bindings.items():
            if binding.id and binding.tooltip:
                told.setdefault(binding.tooltip, []).append(key_words(pressed))
        told["Everything that can be done, to be searched by its name"] = ["^p"]
        rows = [f"- **{' or '.join(keys)}**: {what}" for what, keys in told.items()]
        return "\n".join(["## Keys", "", *rows])

    def action_picture(self) -> None:
        """Save a picture of the screen."""
        folder = files_folder(self.settings)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self.notify(f"Picture saved: {self.save_screenshot(path=str(folder))}", markup=False)
        except OSError as error:
            self.notify(f"The picture could not be saved: {error.strerror or error}.", severity="error", markup=False)

    def export_screenshot(self, *, title: str | None = None, simplify: bool = False) -> str:
        """The screen as SVG, without anything from elsewhere."""
        return plain_picture(super().export_screenshot(title=title, simplify=simplify))

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """Whatever the page's keys do, then themes and pictures."""
        for place in PLACES:
            yield SystemCommand(f"Go to {place.title}", place.what, partial(self.action_go, place.name))
        for _, binding, enabled, _ in screen.active_bindings.values():
            if binding.id and enabled and not binding.id.startswith(("go.", "app.")):
                act = partial(screen.run_action, binding.action)
                yield SystemCommand(binding.description, binding.tooltip, act)
        yield SystemCommand("Theme", "Dark, light, high contrast", self.action_change_theme)
        yield SystemCommand("Picture", "Save a picture of the screen (SVG) as a file", self.action_picture)
        yield SystemCommand("Help", "Help on what has the focus, and all keys", self.action_help)
        yield SystemCommand("Quit", "Leave; everything is kept", self.action_quit)


def _bindings() -> dict[str, str]:
    """Id of everything that has a key, and the key it comes with; loads all pages."""
    classes: list[type[DOMNode]] = [LinkcheckApp, *(page_class(place) for place in PLACES)]
    given = [binding for each in classes for binding in each.BINDINGS]
    return {each.id: each.key.split(",")[0] for each in given if isinstance(each, Binding) and each.id}


def run(*, mouse: bool = True, practise: bool = False, settings_file: Path | None = None) -> int:
    """Open the app and stay in it.

    Args:
        mouse: listen to the mouse; the settings may say no as well.
        practise: begin with an easy practice truck.
        settings_file: instead of the user's own.

    Returns:
        The exit code: 0, or 128 + n after signal n.

    Raises:
        DataError: the settings or a theme cannot be used.

    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads would only get in each other's way
    forgive_mouse_bytes()
    settings = load_settings(settings_file or settings_path(), themes=load_themes(), bindings=_bindings)
    app = LinkcheckApp(settings, ansi_color=True if no_color_wanted() else None, practise=practise)
    app.run(mouse=mouse and settings.mouse)
    return app.return_code or 0
