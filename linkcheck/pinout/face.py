"""The face of a connector drawn in plain characters, mating side and wire side, each saying which it is.

Pure: a `Pinout` in, text of at most 80 columns out, no colour. The wire side is the mirror image of the mating side,
column by column. Cavities can be marked, so that a check shows where its leads go.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from linkcheck.pinout.schema import Cavity, Pinout, Role

__all__ = ["Side", "draw_face", "draw_faces", "tag"]

Side = Literal["mating", "wire"]

TITLES: dict[Side, str] = {"mating": "MATING SIDE, seen from the front", "wire": "WIRE SIDE, seen from behind"}
ROUND = (37, 17)  # columns and rows of a round face; two stand side by side
LONG = (77, 9)  # of every other shape; the two stand one above the other
MARGIN = 3  # columns between two faces

TAGS = {
    Role.BATTERY_NEGATIVE: "bat-",
    Role.BATTERY_POSITIVE: "bat+",
    Role.SIGNAL_GROUND: "sgnd",
    Role.SHIELD: "shld",
    Role.J1708_PLUS: "1708+",
    Role.J1708_MINUS: "1708-",
    Role.OTHER_LINK: "link",
    Role.MAKER_SPECIFIC: "maker",
    Role.UNUSED: "free",
}


def tag(cavity: Cavity) -> str:
    """A cavity's role in at most five characters: "bat+", "CAN1H", "1708-"."""
    if cavity.role in (Role.CAN_HIGH, Role.CAN_LOW):
        return f"CAN{cavity.network}{'H' if cavity.role == Role.CAN_HIGH else 'L'}"[:5]
    return TAGS[cavity.role]


def draw_face(pinout: Pinout, side: Side, marks: Mapping[str, str] | None = None, *, narrow: bool = False) -> str:
    """One face, its title above it.

    Args:
        pinout: the connector.
        side: "mating", as the plug sees it, or "wire", its mirror image.
        marks: what to write under a cavity in place of its role, by label; a marked cavity stands in brackets.
        narrow: a long face is drawn as narrow as a round one; roles find no room then, marks do.

    """
    tight = narrow and pinout.shape != "circle"
    width, height = ROUND if pinout.shape == "circle" else (ROUND[0], LONG[1]) if tight else LONG
    grid = _outline(pinout.shape, width, height)
    for cavity in sorted(pinout.cavities, key=lambda cavity: cavity.label in (marks or {})):  # marked ones on top
        mark = (marks or {}).get(cavity.label)
        plain, role = (cavity.label, "") if tight else (f"({cavity.label})", tag(cavity))
        row = min(max(0, round((height - 1) / 2 * (1 - cavity.y) - 0.5)), height - 2)
        _write(grid, row, cavity.x, plain if mark is None else f"[{cavity.label}]", side)
        _write(grid, row + 1, cavity.x, role if mark is None else mark[:5], side)
    rows = [TITLES[side].center(width), *("".join(row) for row in grid)]
    return "\n".join(row.rstrip() for row in rows)


def draw_faces(pinout: Pinout, marks: Mapping[str, str] | None = None) -> str:
    """Both faces: round ones side by side, others one above the other. `marks` as in `draw_face`."""
    mating, wire = (draw_face(pinout, side, marks) for side in ("mating", "wire"))
    if pinout.shape != "circle":
        return f"{mating}\n\n{wire}"
    pairs = zip(mating.splitlines(), wire.splitlines(), strict=True)
    return "\n".join(f"{left:<{ROUND[0] + MARGIN}}{right}".rstrip() for left, right in pairs)


def _write(grid: list[list[str]], row: int, x: float, text: str, side: Side) -> None:
    """Put a text on the grid, centred at x; on the wire side at the mirror image of the very same columns."""
    width = len(grid[0])
    start = max(0, min(round((width - 1) / 2 * (1 + x)) - len(text) // 2, width - len(text)))
    if side == "wire":
        start = width - start - len(text)
    grid[row][start : start + len(text)] = text


def _outline(shape: str, width: int, height: int) -> list[list[str]]:
    """An empty face with its shell around it."""
    grid = [[" "] * width for _ in range(height)]
    if shape == "circle":
        for step in range(720):
            angle = step * math.pi / 360
            column = round((width - 1) / 2 * (1 + math.cos(angle)))
            grid[round((height - 1) / 2 * (1 + math.sin(angle)))][column] = "."
        return grid
    for row in range(height):
        slant = row * width // LONG[0] if shape == "trapezoid" else 0
        left, right = slant, width - 1 - slant
        edge = row in (0, height - 1)
        grid[row][left : right + 1] = ("-" if edge else " ") * (right - left + 1)
        grid[row][left], grid[row][right] = ("\\", "/") if shape == "trapezoid" else ("|", "|")
    return grid
