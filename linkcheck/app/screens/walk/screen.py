"""The walk page."""

from __future__ import annotations

from typing import ClassVar

from linkcheck.app.page import Page


class WalkPage(Page):
    """The page."""

    PLACE = "walk"
    CSS_PATH: ClassVar[str] = "walk.tcss"
