"""The jobs page."""

from __future__ import annotations

from typing import ClassVar

from linkcheck.app.page import Page


class JobsPage(Page):
    """The page."""

    PLACE = "jobs"
    CSS_PATH: ClassVar[str] = "jobs.tcss"
