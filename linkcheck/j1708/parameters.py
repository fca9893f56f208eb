"""Parameters inside a J1587 message: how long each is, and how the bytes between MID and checksum are cut.

The rule (SAE J1587, as restated in drewhutchison/pyJ1587, doc/format.rst): the low byte of a PID says its length. 0-127
have one data byte, 128-191 two, 192-253 begin with a count, 254 takes the rest (its first byte names who is meant).
255 in front of the list means page 2, PIDs 256-510, for the whole list; once more, page 3.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ESCAPE", "Parameter", "parameters", "parse_parameters"]

PAGE = 255
ESCAPE = 254
_ONE, _TWO, _COUNTED = 127, 191, 253


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter: its number, page included (page 2 adds 256), and its data without the count."""

    pid: int
    data: bytes


def parameters(body: bytes) -> list[Parameter] | None:
    """The parameters of a message's body (MID and checksum taken off); None where the lengths do not come out even."""
    found, rest = parse_parameters(body)
    return found if found and not rest else None


def parse_parameters(body: bytes) -> tuple[list[Parameter], bytes]:
    """The parameters from the front, and what is left where the next one is not whole."""
    place = 0
    while place < len(body) and body[place] == PAGE:
        place += 1
    page = 256 * place
    found: list[Parameter] = []
    while place < len(body):
        low, after = body[place], place + 1
        if low <= _ONE:
            end = after + 1
        elif low <= _TWO:
            end = after + 2
        elif low <= _COUNTED:
            if after == len(body):
                break
            end, after = after + 1 + body[after], after + 1
        elif low == ESCAPE:
            end = len(body)
        else:
            break
        if end > len(body):
            break
        found.append(Parameter(page + low, body[after:end]))
        place = end
    return found, body[place:]
