"""A trace of volts as text: dots of braille, levels to look for, an axis of time. Pure: values in, lines out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["trace_plot"]

Array = npt.NDArray[Any]

BLANK = 0x2800
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))  # bits of a braille cell by row and column
MARGIN = 8


def trace_plot(
    volts: Array, step_s: float, width: int, height: int, levels: Sequence[float], *, mark_s: float | None = None
) -> list[str]:
    """Lines of a plot `width` columns wide and `height` + 2 lines high.

    Args:
        volts: one value a step.
        step_s: seconds between them.
        width: characters of a line.
        height: lines of the plot itself.
        levels: volts to draw lines at, with their figures beside them.
        mark_s: a moment to mark on the axis.

    """
    cells = width - MARGIN - 1
    top, bottom = max(float(volts.max()), *levels) + 0.1, min(float(volts.min()), *levels, 0.0) - 0.1
    grid = np.full((height, cells), BLANK)
    edges = np.linspace(0, len(volts), 2 * cells + 1).astype(int)
    for column in range(2 * cells):
        part = volts[edges[column] : max(edges[column] + 1, edges[column + 1])]
        low, high = _row(float(part.max()), top, bottom, height), _row(float(part.min()), top, bottom, height)
        for row in range(low, high + 1):
            grid[row // 4, column // 2] |= DOTS[row % 4][column % 2]
    labels = {_row(level, top, bottom, height) // 4: f"{level:g} V" for level in (*levels, 0.0)}
    lines = []
    for row in range(height):
        label = labels.get(row, "")
        empty = "┈" if label else " "
        body = "".join(empty if cell == BLANK else chr(cell) for cell in grid[row])
        lines.append(f"{label:>{MARGIN - 1}} ┤{body}" if label else f"{'':{MARGIN}}│{body}")
    axis = ["─"] * cells
    span = len(volts) * step_s
    if mark_s is not None and 0.0 <= mark_s < span:
        axis[int(mark_s / span * cells)] = "▲"
    lines.append(f"{'':{MARGIN}}└{''.join(axis)}")
    lines.append(f"{'':{MARGIN}} 0{f'{span * 1e6:.3g} µs':>{cells - 1}}")
    return lines


def _row(level: float, top: float, bottom: float, height: int) -> int:
    """Row of dots of a level, from the top."""
    return int(np.clip((top - level) / (top - bottom) * (4 * height - 1), 0, 4 * height - 1))
