"""`linkcheck listen --interfaces`: what each interface can do, and the ports found here, as text."""

from __future__ import annotations

import dataclasses
import textwrap

from linkcheck.live.capabilities import Capability, capabilities, found_ports

__all__ = ["interface_table"]

_HEADS = {
    "interface": "interface",
    "silent": "silent",
    "errors": "errors",
    "counters": "counters",
    "stamps": "time stamps",
    "echoes": "echoes",
    "losses": "losses",
    "usable": "driver",
}


def interface_table(width: int) -> str:
    """The table where it fits, otherwise one paragraph an interface."""
    rows = capabilities()
    known = [row for row in rows if not _blank(row)]
    lines = _table(known, width)
    blank = [row for row in rows if _blank(row)]
    for usable in dict.fromkeys(row.usable for row in blank):
        names = ", ".join(row.interface for row in blank if row.usable == usable)
        text = f"Nothing known, through python-can ({usable}): {names}."
        lines += ["", *textwrap.wrap(text, width)]
    lines += ["", "Ports on this machine"]
    lines += [f"  {port.port:<28} {port.text}" for port in found_ports()] or ["  none found"]
    text = (
        "Silent: sends nothing, not even acknowledgements. Errors: reports error frames. Counters: reports its error "
        "counters. Echoes: confirms that a sent frame was on the bus. Losses: says what it dropped."
    )
    return "\n".join([*lines, "", *textwrap.wrap(text, width)])


def _blank(row: Capability) -> bool:
    return all(value == "unknown" for value in dataclasses.astuple(row)[1:-1])


def _table(rows: list[Capability], width: int) -> list[str]:
    cells = [list(_HEADS.values()), *[list(dataclasses.astuple(row)) for row in rows]]
    wide = [max(len(line[i]) for line in cells) for i in range(len(_HEADS))]
    if sum(wide) + 2 * len(wide) <= width:
        return ["  ".join(f"{cell:<{w}}" for cell, w in zip(line, wide, strict=True)).rstrip() for line in cells]
    lines = []
    for row in rows:
        words = [f"{_HEADS[name]}: {getattr(row, name)}" for name in list(_HEADS)[1:]]
        lines += textwrap.wrap(
            "; ".join(words), width, initial_indent=f"{row.interface:<15}", subsequent_indent=" " * 15
        )
    return lines
