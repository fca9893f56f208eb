"""Chance with a memory: random numbers that are the same for the same words, on every machine and Python version.

Callers use `random()` and `uniform()` only, whose results Python promises not to change for a given seed.
"""

from __future__ import annotations

import random

__all__ = ["seeded"]


def seeded(*words: object) -> random.Random:
    """A generator of its own for each purpose, so that one more draw here changes nothing there."""
    return random.Random("/".join(str(word) for word in words))  # noqa: S311  no secret depends on it
