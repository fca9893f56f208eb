"""Where a meter's leads can go, by name.

Cavity letters are the nine-pin connector's, mating side; `B.wire` is the back of that cavity (the harness side of its
terminal). For a connector with other labels ask `cavity_of_role`: the circuit is the same, the letters are only names.

A point is also the name of a node of the network, so any node (see `network`) can be probed in a test; a technician is
offered only `POINTS`.
"""

from __future__ import annotations

from linkcheck.errors import UsageError

__all__ = ["CAVITIES", "MODULES", "NODES", "POINTS", "TERMINATORS", "cavity_of_role", "check_points"]

CAVITIES = ("A", "B", "C", "D", "E", "F", "G", "H", "J")  # no I: a nine-pin connector skips the letter
MODULES = tuple(f"module_{k}" for k in range(1, 9))
TERMINATORS = ("terminator_1", "terminator_2")

POINTS = (
    *CAVITIES,
    *(f"{cavity}.wire" for cavity in CAVITIES),
    "chassis",
    "battery_positive",
    "battery_negative",
    "fuse_in",
    "fuse_out",
    *(f"{name}.{end}" for name in TERMINATORS for end in ("high", "low", "a", "b")),
    *(f"{name}.{line}" for name in MODULES for line in ("high", "low")),
)

# Every node of the network: the points, and what no lead reaches.
NODES = frozenset(
    {*POINTS, "distribution", "feed_splice", "ground_splice", "shield", "j1708.plus", "j1708.minus"}
    | {f"{place}.{line}" for place in ("stub", "can2") for line in ("high", "low")}
    | {f"backbone_{k}.{line}" for k in range(1, len(MODULES) + 1) for line in ("high", "low")}
)

# Role of a cavity and number of its CAN network to the nine-pin letter; SAE J1939-13 gives the letters. The network
# counts the pairs on the connector: 1 is the one under diagnosis.
_ROLES = {
    ("battery_negative", None): "A",
    ("signal_ground", None): "A",
    ("battery_positive", None): "B",
    ("can_high", 1): "C",
    ("can_low", 1): "D",
    ("shield", None): "E",
    ("j1708_plus", None): "F",
    ("j1708_minus", None): "G",
    ("can_high", 2): "H",
    ("can_low", 2): "J",
}


def cavity_of_role(role: str, network: int | None = None) -> str | None:
    """The nine-pin letter that stands for a cavity of this role; None where the circuit has no such cavity."""
    return _ROLES.get((role, network)) or _ROLES.get((role, None))


def check_points(*points: str) -> None:
    """Refuse a point that the circuit does not have.

    Raises:
        UsageError: no such point.

    """
    for point in points:
        if point not in POINTS:
            todo = "Use a cavity letter, B.wire, chassis, or the like."
            raise UsageError("there is no such point to probe.", where=point, todo=todo)
