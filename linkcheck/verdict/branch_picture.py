"""A network as a one-line picture in text, with the ranked places marked on it. Pure: values in, lines out."""

from __future__ import annotations

from collections.abc import Sequence

from linkcheck.verdict.backbone import Backbone
from linkcheck.verdict.branch import Ranking

__all__ = ["picture"]

MARKED = 5  # places; more would bury the first
LEAST = 0.02


def picture(net: Backbone, ranking: Ranking, width: int = 80) -> list[str]:
    """The backbone from top to bottom; the likeliest places carry their rank and probability."""
    marks = {
        (each.place, each.index, each.name): f"◄ {rank}  {each.probability:.0%} {each.wrong}"
        for rank, each in enumerate(ranking.places[:MARKED], 1)
        if each.probability >= LEAST
    }

    def mark(place: str, index: int = 0, name: str = "") -> str:
        return marks.get((place, index, name), "")

    lines = [_row("■", _end(net, 0), mark("terminator", 0), width)]
    for k in range(len(net.modules) + 1):
        lines += _segment(net, k, mark("segment", k), mark("connector"), width)
        if k < len(net.modules):
            module = net.modules[k]
            text = f"{module.address} {module.name}"
            lines.append(_row("├── stub ──□", text, _both(mark("stub", k), mark("module", k)), width))
            lines += [
                _row("│", f'      on {kind} "{name}"', mark(kind, 0, name), width)
                for kind, name in (("branch", module.branch), ("feed", module.feed))
                if name and mark(kind, 0, name)
            ]
    lines.append(_row("■", _end(net, 1), mark("terminator", 1), width))
    return [line.rstrip() for line in lines]


def _segment(net: Backbone, k: int, mark: str, connector: str, width: int) -> Sequence[str]:
    line = _row("╳" if mark else "│", "", mark, width)
    if net.connector != k:
        return [line]
    return [line, _row("├── stub ──◇", "diagnostic connector", connector, width)]


def _both(stub: str, module: str) -> str:
    if stub and module:
        return f"stub {stub}; module {module}"
    return f"stub {stub}" if stub else f"module {module}" if module else ""


def _end(net: Backbone, k: int) -> str:
    ohms = net.terminators[k]
    place = f", {net.places[k]}" if net.places[k] else ""
    return f"terminator {k + 1}: " + ("none in the vehicle's file" if ohms is None else f"{ohms:g} ohm{place}")


def _row(line: str, text: str, mark: str, width: int) -> str:
    body = f" {line:<13}{text}" if len(line) > 1 else f" {line} {text}"
    room = width - len(mark) - 1
    shown = body if len(body) <= room else body[: room - 1] + "…"
    return f"{shown:<{min(room, max(len(body), 44))}} {mark}"[:width]
