"""What goes into a walk and what comes out of it, as values that are JSON lines at the edge.

Events (what the technician did) are kept; messages (what the walk says) follow from them. A walk's record is its
setup and its events, one a line.
"""

from __future__ import annotations

from typing import Any

import msgspec

__all__ = [
    "Answer",
    "Back",
    "Card",
    "Event",
    "Finding",
    "Repaired",
    "Setup",
    "Skip",
    "Suspects",
    "read_event",
]


class Setup(msgspec.Struct, frozen=True, tag="setup", omit_defaults=True):
    """What the walk was started with.

    Attributes:
        pinout: name or path of the connector's pinout.
        system_volts: 12 or 24.
        bit_rate: of the CAN pair, in bit/s; the pinout's own where not given.
        j1708, shield: whether the truck has them; None for a shield nobody knows of.
        max_checks: readings after which the walk ends with what it has.
        by_eye: also ask what only a person can answer.
        looks: among that, what eyes see at the truck.
        seed: of the sampled trucks.

    """

    pinout: str
    system_volts: float = 12.0
    bit_rate: int | None = None
    j1708: bool = True
    shield: bool | None = None
    max_checks: int = 20
    by_eye: bool = False
    looks: bool = True
    seed: int = 1


class Answer(msgspec.Struct, frozen=True, tag="answer", omit_defaults=True):
    """A reading, as typed.

    Attributes:
        check: id.
        text: "12.41", "OL", "frames".
        span: volts that the display bounced over.

    """

    check: str
    text: str
    span: float = 0.0


class Skip(msgspec.Struct, frozen=True, tag="skip"):
    """A check that the technician does not want to make."""

    check: str


class Back(msgspec.Struct, frozen=True, tag="back"):
    """The last answer, skip or repair is taken back."""


class Repaired(msgspec.Struct, frozen=True, tag="repaired"):
    """These faults were repaired; the same readings are taken again."""

    faults: list[str]


Event = Setup | Answer | Skip | Back | Repaired
_DECODER: msgspec.json.Decoder[Event] = msgspec.json.Decoder(Event)


def read_event(line: str) -> Event:
    """An event from its line.

    Raises:
        msgspec.MsgspecError: the line is none.

    """
    return _DECODER.decode(line)


class Card(msgspec.Struct, frozen=True, tag="check", omit_defaults=False):
    """One check to make.

    Attributes:
        n: number of the check, from 1; skipped ones count.
        id: of the check.
        quantity: "dc_volts", "ohms", "listen", or by eye "heard" and "look".
        red, black: points, with the connector's own labels; empty with an adapter.
        state: what has to be turned, pulled and unplugged, as in the contract.
        do: steps since the last check.
        expect: what a sound truck shows: low, high (None: OL) and unit, or "shows".
        minutes: about how long.
        why: what it splits.
        adapter: "own" or "known_good" where one is plugged in.
        bit_rate: what a listening adapter is set to, in bit/s.

    """

    n: int
    id: str
    quantity: str
    red: str
    black: str
    state: dict[str, Any]
    do: list[str]
    expect: dict[str, Any]
    minutes: float
    why: str
    adapter: str | msgspec.UnsetType = msgspec.UNSET
    bit_rate: int | msgspec.UnsetType = msgspec.UNSET


class Suspects(msgspec.Struct, frozen=True, tag="belief"):
    """The belief after check n: suspects with their probability, most certain first."""

    n: int
    suspects: list[dict[str, Any]]
    none_of_these: float


class Finding(msgspec.Struct, frozen=True, tag="finding"):
    """How a walk ended.

    Attributes:
        faults: what was found, most certain first: fault, probability, parameters. Confirmed: exactly these;
            otherwise the short list that remains.
        confirmed: the evidence carries it.
        readings, minutes: what it took.
        repair: what to do.
        root_cause: what may lie behind it, or was shown to.
        then: further steps: what would split what remains, what to read after the repair.
        none_of_these: probability that it is a fault outside the catalogue.
        complaint, cause, correction, confirmation: the same as a report says it.

    """

    faults: list[dict[str, Any]]
    confirmed: bool
    readings: int
    minutes: float
    repair: str
    root_cause: str
    then: list[str]
    none_of_these: float
    complaint: str
    cause: str
    correction: str
    confirmation: str
