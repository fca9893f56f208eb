"""Large letters, three rows high, for what has to be read from the step of a truck. The shapes are our own."""

from __future__ import annotations

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

__all__ = ["LargeWords", "enlarge"]

ROWS = 3
_SHAPES = {
    "A": "┏━┓┣━┫╹ ╹",
    "B": "┳━┓┣━┫┻━┛",
    "C": "┏━╸┃  ┗━╸",
    "D": "┳━┓┃ ┃┻━┛",
    "E": "┏━╸┣━ ┗━╸",
    "F": "┏━╸┣━ ╹  ",
    "G": "┏━╸┃╺┓┗━┛",
    "H": "╻ ╻┣━┫╹ ╹",
    "I": "╺┳╸ ┃ ╺┻╸",
    "J": "  ╻  ┃┗━┛",
    "K": "╻┏╸┣┻┓╹ ╹",
    "L": "╻  ┃  ┗━╸",
    "M": "┏┳┓┃╹┃╹ ╹",
    "N": "┏┓╻┃┃┃╹┗┛",
    "O": "┏━┓┃ ┃┗━┛",
    "P": "┏━┓┣━┛╹  ",
    "Q": "┏━┓┃ ┃┗━╋",
    "R": "┏━┓┣┳┛╹┗╸",
    "S": "┏━╸┗━┓╺━┛",
    "T": "╺┳╸ ┃  ╹ ",
    "U": "╻ ╻┃ ┃┗━┛",
    "V": "╻ ╻┃ ┃┗┳┛",
    "W": "╻ ╻┃╻┃┗┻┛",
    "X": "╲ ╱ ╳ ╱ ╲",
    "Y": "╻ ╻┗┳┛ ╹ ",
    "Z": "╺━┓┏━┛┗━╸",
    "0": "┏━┓┃╱┃┗━┛",
    "1": " ┓  ┃ ╺┻╸",
    "2": "╺━┓┏━┛┗━╸",
    "3": "╺━┓╺━┫╺━┛",
    "4": "╻ ╻┗━┫  ╹",
    "5": "┏━╸┗━┓╺━┛",
    "6": "┏━╸┣━┓┗━┛",
    "7": "╺━┓  ┃  ╹",
    "8": "┏━┓┣━┫┗━┛",
    "9": "┏━┓┗━┫╺━┛",
    "-": "   ╺━╸   ",
    ".": "      ▪  ",
    " ": "         ",
}


def enlarge(text: str) -> list[str]:
    """A short text in three rows; letters that have no large shape are left out."""
    shapes = [_SHAPES[letter] for letter in text.upper() if letter in _SHAPES]
    return [" ".join(shape[row * 3 : row * 3 + 3] for shape in shapes) for row in range(ROWS)]


class LargeWords(Widget):
    """A few large words, each with a style; words that find no room are left out from the end."""

    DEFAULT_CSS = "LargeWords { height: 3; width: 1fr; }"
    words: reactive[tuple[tuple[str, str], ...]] = reactive(())

    def render(self) -> Content:
        """The words side by side."""
        shown: list[tuple[list[str], str]] = []
        room = self.size.width
        for word, style in self.words:
            rows = enlarge(word)
            if len(rows[0]) > room:
                break
            room -= len(rows[0]) + 2
            shown.append((rows, style))
        lines = [
            Content("  ").join([Content.styled(rows[row], f"bold {style}".strip()) for rows, style in shown])
            for row in range(ROWS)
        ]
        return Content("\n").join(lines)
