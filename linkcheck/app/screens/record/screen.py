"""The record page."""

from __future__ import annotations

from typing import ClassVar

from linkcheck.app.page import Page


class RecordPage(Page):
    """The page."""

    PLACE = "record"
    CSS_PATH: ClassVar[str] = "record.tcss"
