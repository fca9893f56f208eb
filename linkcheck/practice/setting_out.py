"""Setting out on a lesson: which truck, by difficulty, seed or fault, at which connector. One request for all faces."""

from __future__ import annotations

import random
from dataclasses import dataclass

from linkcheck.errors import UsageError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.practice.hidden_faults import DIFFICULTIES, Difficulty, choose_faults
from linkcheck.practice.hidden_truck import HiddenTruck
from linkcheck.walk.layout import Layout, layout_of
from linkcheck.walk.messages import Setup

__all__ = ["LARGEST_SEED", "Request", "any_seed", "practice_truck"]

NINE_PIN = "9-pin-type-1"
LARGEST_SEED = 9999  # short enough to be told over the bench: "try truck 4711"


@dataclass(frozen=True, slots=True)
class Request:
    """What the learner asked for.

    Attributes:
        difficulty: how hard.
        seed: which truck; see `any_seed`.
        faults: ids, where a teacher wants certain ones; chosen by difficulty and seed where empty.
        pinout: name or path of the connector's pinout.
        system_volts: 12 or 24.

    Raises:
        UsageError: a difficulty or a seed that there is not.

    """

    difficulty: Difficulty = "easy"
    seed: int = 1
    faults: tuple[str, ...] = ()
    pinout: str = NINE_PIN
    system_volts: float = 12.0

    def __post_init__(self) -> None:
        if self.difficulty not in DIFFICULTIES:
            raise UsageError(f"Practice can be {', '.join(DIFFICULTIES)}.", where=self.difficulty)
        if self.seed < 0:
            raise UsageError("A seed is 0 or more.", where=str(self.seed))

    @property
    def setup(self) -> Setup:
        """The tool's own walk on such a truck."""
        return Setup(pinout=self.pinout, system_volts=self.system_volts, by_eye=True, looks=False, max_checks=25)

    @property
    def command(self) -> str:
        """The command that brings the same truck again."""
        chosen = "".join(f" --fault {fault}" for fault in self.faults) or f" --difficulty {self.difficulty}"
        pinout = "" if self.pinout == NINE_PIN else f" --pinout {self.pinout}"
        system = "" if self.system_volts == 12.0 else f" --system {self.system_volts:g}"
        return f"linkcheck practice --seed {self.seed}{chosen}{pinout}{system}"

    def layout(self) -> Layout:
        """The connector's layout, from its pinout.

        Raises:
            DataError, UsageError: there is no such pinout, or no walk on it.

        """
        return layout_of(load_pinout(find_pinout(self.pinout)), system_volts=self.system_volts)


def any_seed() -> int:
    """A seed that nobody knows yet."""
    return random.SystemRandom().randrange(1, LARGEST_SEED + 1)


def practice_truck(request: Request, layout: Layout) -> HiddenTruck:
    """The truck that was asked for; the same request gives the same one.

    Args:
        request: what was asked for.
        layout: of its connector.

    Raises:
        UsageError: a fault that such a truck cannot have.

    """
    possible = layout.faults()
    for fault in request.faults:
        if fault in FAULTS and fault not in possible:
            raise UsageError("a truck with this connector cannot have this fault.", where=fault)
    faults = request.faults or choose_faults(request.difficulty, request.seed, possible=possible)
    return HiddenTruck(
        faults,
        request.seed,
        system_volts=request.system_volts,
        bit_rate=layout.equipment.bit_rate,
        j1708=layout.equipment.j1708 is not False,
    )
