"""Small plots in text: load over time as columns, and who talks when as strips. Pure: values in, lines out."""

from __future__ import annotations

from collections.abc import Sequence

from linkcheck.traffic.result import ChannelResult

__all__ = ["columns", "errors_over_time", "strip"]

_EIGHTHS = " ▁▂▃▄▅▆▇█"
TALKING, SILENT, ABSENT = "━", "·", " "


def columns(values: Sequence[float], cells: int, height: int, top: float) -> list[str]:
    """Bars of the largest value in each of `cells` columns, `height` lines high, `top` being full height."""
    if not values:
        return []
    cells = min(cells, len(values))
    tallest = [
        max(values[i * len(values) // cells : max((i + 1) * len(values) // cells, i * len(values) // cells + 1)])
        for i in range(cells)
    ]
    lines = []
    for row in range(height, 0, -1):
        floor = (row - 1) * top / height
        step = top / height / 8
        lines.append("".join(_EIGHTHS[max(0, min(8, round((v - floor) / step)))] for v in tallest))
    return lines


def strip(
    first: float, last: float, silences: Sequence[tuple[float, float]], span: tuple[float, float], cells: int
) -> str:
    """A line of `cells` marks over a span: talking, silent (spells), or not there yet or any more."""
    start, end = span
    width = max(end - start, 1e-9) / cells
    marks = []
    for cell in range(cells):
        low, high = start + cell * width, start + (cell + 1) * width
        if high < first or low > last:
            marks.append(ABSENT)
        elif any(a < high and b > low for a, b in silences):
            marks.append(SILENT)
        else:
            marks.append(TALKING)
    return "".join(marks)


def errors_over_time(channel: ChannelResult) -> list[int]:
    """Error frames in steps over the whole channel, so that they stand below its load; empty where there are none."""
    errors = channel.error_frames
    step_s, first_s, last_s = errors.series_step_s, channel.first_s, channel.last_s
    if not errors.total or not step_s or errors.first_s is None or first_s is None or last_s is None:
        return []
    before = max(0, int((errors.first_s - first_s) / step_s))
    after = max(0, int((last_s - first_s) / step_s) + 1 - before - len(errors.series))
    return [0] * before + errors.series + [0] * after
