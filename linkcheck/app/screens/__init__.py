"""The pages, one row each: its key, its name, and where its class is. A page is imported when it is first opened.

To add one: a folder with `screen.py`, `<name>.tcss` and `help.md`, and a row here.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module, util
from typing import cast

from linkcheck.app.page import Page

__all__ = ["PLACES", "Place", "open_page", "page_class"]


@dataclass(frozen=True, slots=True)
class Place:
    """A page that can be gone to.

    Attributes:
        name: of its folder; also its mode and its class of CSS.
        keys: that lead there; the first is shown. Letters do not act while a text is being typed, function keys do.
        title: on the top line.
        page: name of its class in `screen.py`.
        what: it is for, in a line, for the command palette.

    """

    name: str
    keys: str
    title: str
    page: str
    what: str


_ALL = (
    Place("jobs", "j,f2", "Jobs", "JobsPage", "The list of jobs: begin, go on, search, export"),
    Place("walk", "w,f3", "Walk", "WalkPage", "Find the fault with a meter, check by check"),
    Place("traffic", "t,f4", "Traffic", "TrafficPage", "Open a recorded capture and read its verdict"),
    Place("record", "r,f5", "Record", "RecordPage", "Complaint, cause, correction; write the report"),
    Place("practice", "p,f6", "Practice", "PracticePage", "A simulated truck with a hidden fault"),
    Place("bench", "h,f7", "Bench", "BenchPage", "Test an adapter on a bench harness"),
)


def _there(place: Place) -> bool:
    folder = f"{__name__}.{place.name}"
    return util.find_spec(folder) is not None and util.find_spec(f"{folder}.screen") is not None


PLACES = tuple(place for place in _ALL if _there(place))


def page_class(place: Place) -> type[Page]:
    """The class of a place's page; its module is imported now."""
    module = import_module(f"{__name__}.{place.name}.screen")
    return cast("type[Page]", getattr(module, place.page))


def open_page(place: Place) -> Page:
    """A new page of this place."""
    return page_class(place)()
