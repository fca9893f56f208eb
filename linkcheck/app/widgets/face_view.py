"""The connector's face with the two leads on it, one side at a time."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

if TYPE_CHECKING:
    from linkcheck.pinout import Pinout
    from linkcheck.pinout.face import Side

__all__ = ["BLACK", "BOTH", "RED", "FaceView"]

RED, BLACK, BOTH = "RED", "BLK", "R+B"
STYLES = {RED: "bold #ffffff on #b01818", BLACK: "bold #ffffff on #000000", BOTH: "bold #ffffff on #b01818"}
WIDE_FACE = 77  # columns of a long connector with its roles
_LEAD = re.compile(rf"\b({RED}|{BLACK}|{re.escape(BOTH)})(?!\w)")


class FaceView(Widget):
    """A connector's face.

    Attributes:
        pinout: the connector; None draws nothing.
        side: "mating" or "wire".
        leads: cavity label to "RED", "BLK", or "R+B" where one lead is in front and one behind.

    """

    DEFAULT_CSS = "FaceView { height: 18; width: 38; }"
    pinout: reactive[Pinout | None] = reactive(None)
    side: reactive[Side] = reactive("mating")
    leads: reactive[dict[str, str]] = reactive(dict)

    def render(self) -> Content:
        """The face; leads by bracket, word and colour."""
        if self.pinout is None:
            return Content("")
        from linkcheck.pinout.face import draw_face  # noqa: PLC0415  pinouts are not needed for the first screen

        text = draw_face(self.pinout, self.side, self.leads, narrow=self.size.width < WIDE_FACE)
        title, _, rest = text.partition("\n")
        return Content("\n").join([Content.styled(title, "bold"), self._with_leads(rest)])

    def _with_leads(self, text: str) -> Content:
        content = Content(text)
        for label, lead in self.leads.items():
            for match in re.finditer(rf"\[{re.escape(label)}\]", text):
                content = content.stylize(STYLES[lead], match.start(), match.end())
        for match in _LEAD.finditer(text):
            content = content.stylize(STYLES[match[1]], match.start(), match.end())
        return content

    def flip(self) -> None:
        """Show the other side."""
        self.side = "wire" if self.side == "mating" else "mating"
