"""The last byte of a J1708 message: the two's complement of the sum of all others.

SAE J1708 as restated in open decoders (drewhutchison/pyJ1587).
"""

from __future__ import annotations

__all__ = ["checksum", "is_sound"]


def checksum(message: bytes) -> int:
    """The byte that makes the sum of the whole message zero, modulo 256."""
    return -sum(message) & 0xFF


def is_sound(message: bytes) -> bool:
    """Whether a message with its checksum at the end sums to zero; an empty one is not a message."""
    return len(message) > 1 and sum(message) & 0xFF == 0
