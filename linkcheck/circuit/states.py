"""The state a truck is put in before a reading: what the technician turned, pulled and unplugged.

Only what hands can change is here. Whether modules are awake, whether the bus is idle, busy, erroring or retrying
without acknowledgement follows from the truck in that state, and is computed (`power`, `hearing`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.probes import MODULES, TERMINATORS
from linkcheck.errors import UsageError

__all__ = ["ADAPTERS", "UNPLUGGABLE", "AdapterChoice", "State"]

AdapterChoice = Literal["own", "known_good"]
ADAPTERS: tuple[AdapterChoice, ...] = ("own", "known_good")  # index 0 and 1 of every parameter "per adapter"
# "drain": the shield's drain wire lifted from its ground point.
UNPLUGGABLE = (*TERMINATORS, *MODULES, "drain")


@dataclass(frozen=True, slots=True)
class State:
    """What was turned, pulled and unplugged.

    Attributes:
        key: ignition.
        battery: "disconnected" means that the negative cable is off its post.
        adapter: "unplugged", or which one sits in the connector.
        fuse: the fuse of the connector's feed.
        unplugged: any of `UNPLUGGABLE`.

    """

    key: Literal["on", "off"] = "off"
    battery: Literal["connected", "disconnected"] = "connected"
    adapter: Literal["unplugged", "own", "known_good"] = "unplugged"
    fuse: Literal["in", "pulled"] = "in"
    unplugged: frozenset[str] = field(default_factory=frozenset)

    def __post_init__(self) -> None:
        object.__setattr__(self, "unplugged", frozenset(self.unplugged))
        allowed = {
            "key": ("on", "off"),
            "battery": ("connected", "disconnected"),
            "adapter": ("unplugged", *ADAPTERS),
            "fuse": ("in", "pulled"),
        }
        for name, words in allowed.items():
            if getattr(self, name) not in words:
                raise UsageError(f"the state's {name} must be one of {', '.join(words)}.", where=getattr(self, name))
        unknown = sorted(self.unplugged - set(UNPLUGGABLE))
        if unknown:
            raise UsageError("this cannot be unplugged.", where=unknown[0], todo=f"Use {', '.join(UNPLUGGABLE)}.")

    @property
    def plugged_adapter(self) -> AdapterChoice | None:
        """Which adapter sits in the connector, if any."""
        return None if self.adapter == "unplugged" else self.adapter

    @property
    def modules_plugged(self) -> npt.NDArray[np.bool_]:
        """Which modules are in their connectors, bool[8]."""
        return np.array([name not in self.unplugged for name in MODULES])

    @property
    def dead(self) -> bool:
        """Nothing feeds the truck, so ohms mean something."""
        return self.battery == "disconnected"
