"""Scenarios of one seed, simulated once for all tests."""

from functools import cache

from linkcheck.frames import ERROR, EXTENDED
from linkcheck.practice.scenarios import SCENARIOS, simulate

NAMES = tuple(SCENARIOS)
START_NS = 1_700_000_000 * 10**9


def recording(name, seed=1):
    return _recorded(name, seed)


@cache
def _recorded(name, seed):
    return simulate(name, seed=seed)


class Rows:
    """The frames of one channel as plain Python values; times in seconds from the recorder's start."""

    def __init__(self, name, channel="can0", seed=1):
        batch = recording(name, seed).batch
        index = batch.channels.index(channel)
        everything = [
            (int(batch.time_ns[n]) - START_NS, int(batch.identifier[n]), int(batch.flags[n]), batch.payload(n))
            for n in range(len(batch))
            if batch.channel[n] == index
        ]
        self.all = everything
        self.errors = [(t / 1e9, ident, data) for t, ident, flags, data in everything if flags & ERROR]
        self.frames = [
            (t / 1e9, ident, bool(flags & EXTENDED), data) for t, ident, flags, data in everything if not flags & ERROR
        ]

    def times(self, *addresses):
        return [t for t, ident, extended, _ in self.frames if extended and ident & 0xFF in addresses]

    def of(self, pgn, address):
        """(time, payload) of one broadcast group (PDU2) from one address."""
        return [
            (t, data)
            for t, ident, extended, data in self.frames
            if extended and ident >> 8 & 0x3FFFF == pgn and ident & 0xFF == address
        ]


def rows(name, channel="can0", seed=1):
    return _rows(name, channel, seed)


@cache
def _rows(name, channel, seed):
    return Rows(name, channel, seed)
